"""One more capture for an envelope: whether it belongs, and what would change, before a person says yes."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.envelope import Members, envelope_of, laid_rows, with_one_more
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.noise import noise_of
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import BLOCK, evenly
from loomlight.signal.tolerance_band import Envelope

Rows = npt.NDArray[np.float64]

ODD = 3.0
"""Times as far from its nearest as the others are from theirs: such a capture is pointed out (common practice, no source)."""
ABOVE_NOISE = 1.5
"""Times what noise alone puts between two captures: nearer ones are the same."""
FEWEST_TO_TELL = 3


@dataclass(frozen=True)
class Odd:
    """A capture that does not belong to the others.

    Attributes
    ----------
    index : int
        Its place among the captures.
    times : float
        How many times as far it is from its nearest as the others are from theirs; infinite where it cannot be laid.
    reason : str
        One sentence.
    """

    index: int
    times: float
    reason: str


@dataclass(frozen=True, eq=False)
class Widening:
    """What an envelope would become with one more capture, to be confirmed by a person first.

    Attributes
    ----------
    members : Members
        With the capture.
    envelope : Envelope or None
        With the capture; None where it cannot be laid on the first.
    outside_share : float
        Share of the instants at which the capture leaves the envelope as it was, 0 to 1; 0 where there was none.
    wider_share : float
        Median width with it against without it, less 1: 0.1 is a tenth wider, negative narrower.
    odd : Odd or None
        Where some capture, this or another, looks as if it did not belong.
    told : str
        What would change, in a sentence or two.
    """

    members: Members = field(repr=False)
    envelope: Envelope | None = field(repr=False)
    outside_share: float
    wider_share: float
    odd: Odd | None
    told: str


def odd_one(members: Members, progress: Progress = unwatched) -> Odd | None:
    """The capture that belongs least, where one stands out.

    One that cannot be laid on the first stands out; else one that is three times as far from its nearest as the others
    usually are from theirs. Of two captures neither can be called the odd one.

    Parameters
    ----------
    members : Members
        At least one.
    progress : Progress
        0 to 1.
    """
    used = members.usable
    left = members.left_out()
    if left and len(used) >= 2:
        return Odd(left[0].index, float("inf"), f"It cannot be laid on the others. {left[0].reason}")
    if len(used) < FEWEST_TO_TELL:
        return None
    apart = _apart(members, used, progress)
    nearest = apart.min(axis=1)
    worst = int(np.argmax(nearest))
    others = float(np.median(np.delete(nearest, worst)))
    noise = ABOVE_NOISE * float(np.sqrt(2.0)) * max(noise_of(members.channels[place]) for place in used)
    times = float(nearest[worst]) / max(others, 1e-300)
    if times < ODD or nearest[worst] <= noise:
        return None
    unit = members.channels[0].unit or ""
    return Odd(
        used[worst],
        times,
        f"It stands {in_words(float(nearest[worst]), unit)} from its nearest, the others usually "
        f"{in_words(others, unit)} from theirs.",
    )


def _apart(members: Members, used: list[int], progress: Progress) -> Rows:
    """Root mean square between each two captures where both tell; infinite on the diagonal and where they share nothing."""
    squares, counts = np.zeros((len(used), len(used))), np.zeros((len(used), len(used)))
    for _, rows in laid_rows(members, used, max(1, 2 * BLOCK // len(used)), progress):
        known = np.isfinite(rows)
        filled = np.where(known, rows, 0.0)
        with_whom = known.astype(np.float64)
        square = np.square(filled) @ with_whom.T
        squares += square + square.T - 2.0 * filled @ filled.T
        counts += with_whom @ with_whom.T
    apart = np.sqrt(np.maximum(squares, 0.0) / np.maximum(counts, 1.0))
    apart[counts == 0] = np.inf
    np.fill_diagonal(apart, np.inf)
    return apart


def widened_by(
    members: Members, capture: Channel, *, kind: str, conditions: Conditions, progress: Progress = unwatched
) -> Widening:
    """What one more capture would make of an entry's envelope.

    Nothing is changed by asking: the answer is shown, and only what a person then confirms is kept.

    Parameters
    ----------
    members : Members
        The entry's captures so far, at least one.
    capture : Channel
        The new one.
    kind, conditions
        As `laid_on_first`.
    progress : Progress
        0 to 1.

    Raises
    ------
    CannotUse
        As `laid_on_first`.
    """
    new = with_one_more(members, capture, kind=kind, conditions=conditions, progress=part(progress, 0.0, 0.4))
    place = len(members.channels)
    odd = odd_one(new, part(progress, 0.4, 0.6))
    if place not in new.usable:
        why = next(one.reason for one in new.left_out() if one.index == place)
        odd = Odd(place, float("inf"), f"It cannot be laid on the others. {why}")
        return Widening(new, None, 0.0, 0.0, odd, f"The capture would not count: {why}")
    envelope = envelope_of(new, part(progress, 0.6, 0.8))
    try:
        before = envelope_of(members, part(progress, 0.8, 0.9))
    except CannotUse:
        told = f"The first envelope of this entry. {envelope.told}"
        return Widening(new, envelope, 0.0, 0.0, odd, told)
    outside = _outside(before, new, place, part(progress, 0.9, 1.0))
    wider = _width(envelope) / max(_width(before), 1e-300) - 1.0
    return Widening(new, envelope, outside, wider, odd, _told(outside, wider, odd, place, envelope))


def _outside(before: Envelope, members: Members, place: int, progress: Progress) -> float:
    first = members.channels[0]
    assert first.step_s is not None
    beyond = known = 0
    for begin, rows in laid_rows(members, [place], BLOCK, progress):
        times_s = evenly(first.start_s, first.step_s, begin, begin + rows.shape[1])
        low, high = before.ends_at(times_s)
        tells = np.isfinite(rows[0]) & np.isfinite(low)
        beyond += int(((rows[0] < low) | (rows[0] > high))[tells].sum())
        known += int(tells.sum())
    return beyond / known if known else 0.0


def _width(envelope: Envelope) -> float:
    size = envelope.upper.samples.size
    width = envelope.upper.samples.block(0, size) - envelope.lower.samples.block(0, size)
    known = width[np.isfinite(width)]
    return float(np.median(known)) if known.size else 0.0


def _told(outside: float, wider: float, odd: Odd | None, place: int, envelope: Envelope) -> str:
    leaves = (
        "The capture stays inside the envelope" if not outside else f"{outside:.1%} of the capture leave the envelope"
    )
    becomes = "as wide as before" if abs(wider) < 0.005 else f"{abs(wider):.0%} {'wider' if wider > 0 else 'narrower'}"
    doubt = ""
    if odd is not None:
        doubt = f" {'This capture' if odd.index == place else f'Capture {odd.index + 1}'} looks odd: {odd.reason}"
    return f"{leaves}, which would become {becomes}, resting on {envelope.captures} captures.{doubt}"
