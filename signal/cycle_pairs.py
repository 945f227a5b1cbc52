"""Line-up by cycle: each cycle of the suspect over the average cycle of the known-good, speed drift removed."""

from dataclasses import replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.cycles import FEWEST_CYCLES, Cycles, find_cycles
from loomlight.signal.errors import CannotUse
from loomlight.signal.laid import Laid
from loomlight.signal.laid_fit import laid_fit
from loomlight.signal.lineup import LineUp, refused
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.resample import values_at
from loomlight.signal.samples import BLOCK, FloatSamples
from loomlight.signal.spans import joined, spans_of

Row = npt.NDArray[np.float64]

POINTS_A_PULSE, LEAST_POINTS, MOST_POINTS = 256, 32, 4096
"""Of the average cycle: one pulse a cycle, one of many pulses at least, and the whole at most."""
LEAST_SURENESS = 0.4
CHANCE_FIT, CERTAIN_FIT = 0.7, 0.95
"""Unlike humps that repeat still fit once one is turned to lie best on the other: pulses of 30 % and of 50 % to 0.65, a sine
and pulses of 30 % to 0.80; from the first figure on the sureness counts, at the second it is whole."""
OWN_START = 0.01
"""Of a pulse: a turn smaller than this leaves the edges where they were found."""

UPSIDE_DOWN = 0.9
"""Upside down has to be better by a tenth to be believed: half a cycle on, most humps fit so."""


def line_up_by_cycle(suspect: Channel, good: Channel, progress: Progress = unwatched) -> LineUp:
    """Lay each cycle of the suspect over the known-good's average cycle.

    Time is replaced by the share of the cycle (of the pulse, where a cycle has several), so that any speed can be held
    against any other and a drifting one against itself.

    Parameters
    ----------
    suspect, good : Channel
        Form ``even`` or ``pairs``, the same unit.
    progress : Progress
        0 to 1.

    Returns
    -------
    LineUp
        ``lag_s`` and ``stretch`` lay the first cycles on each other; ``repeats_s`` is the known-good's period. Refused
        where either does not repeat, the pulses a cycle differ, or the cycles are not alike.

    Raises
    ------
    CannotUse
        If a channel has no even step, or the units differ.

    Notes
    -----
    Synchronous averaging in the angle domain (common practice, no source). ``sureness`` is how regular the less regular of
    the two is, times how far the fit stands above 0.7, 1 at 0.95.
    """
    for channel in (suspect, good):
        if channel.step_s is None:
            raise CannotUse(f"{channel.name!r} has no even time step, so no cycles can be found. Export every sample.")
    if suspect.unit != good.unit and None not in (suspect.unit, good.unit):
        raise CannotUse(
            f"{suspect.name!r} is in {suspect.unit} and {good.name!r} in {good.unit}: choose the same unit."
        )
    own = find_cycles(suspect, part(progress, 0.0, 0.3))
    other = find_cycles(good, part(progress, 0.3, 0.6))
    for cycles, channel in ((own, suspect), (other, good)):
        if cycles is None:
            return _refused(f"Nothing on {channel.name!r} repeats at least {FEWEST_CYCLES} times.")
    assert own is not None
    assert other is not None
    if (own.pulses, own.parts) != (other.pulses, other.parts):
        return _refused(f"A cycle has {own.pulses} pulses here and {other.pulses} on the known-good.")
    return _laid_out(suspect, good, own, other, part(progress, 0.6, 1.0))


def average_cycle(channel: Channel, cycles: Cycles, progress: Progress = unwatched) -> tuple[Row, Row]:
    """Mean and standard deviation over all cycles, evenly over each cycle's parts.

    Returns
    -------
    mean, deviation : ndarray of float64, shape (parts · k,)
        In the channel's unit; at the middle of each of the ``k`` shares of a part.
    """
    count = min(max(LEAST_POINTS, POINTS_A_PULSE // cycles.parts), max(MOST_POINTS // cycles.parts, 2))
    share = (np.arange(count) + 0.5) / count
    rows = max(1, BLOCK // (count * cycles.parts))
    sums = np.zeros((3, count * cycles.parts))
    for first in range(0, cycles.count, rows):
        progress(first / cycles.count)
        bounds = cycles.bounds_s[first : first + rows]
        times = bounds[:, :-1, None] + share * np.diff(bounds, axis=1)[:, :, None]
        values = values_at(channel, times.ravel()).astype(np.float64).reshape(len(bounds), -1)
        known = np.isfinite(values)
        values = np.where(known, values, 0.0)
        sums += known.sum(axis=0), values.sum(axis=0), np.square(values).sum(axis=0)
    many = np.maximum(sums[0], 1.0)
    mean = sums[1] / many
    return mean, np.sqrt(np.maximum(sums[2] / many - mean**2, 0.0))


def _laid_out(suspect: Channel, good: Channel, own: Cycles, other: Cycles, progress: Progress) -> LineUp:
    mine, _ = average_cycle(suspect, own, part(progress, 0.0, 0.25))
    theirs, deviation = average_cycle(good, other, part(progress, 0.25, 0.5))
    turn, polarity = _turned(mine, theirs, own.parts)
    stretch = other.period_s / own.period_s
    laid = _laid(own, other, (theirs, deviation), turn, good)
    found = LineUp(
        accepted=False,
        by="cycle",
        lag_s=float(other.bounds_s[0, 0] - stretch * own.bounds_s[0, 0]) + turn / own.parts * other.period_s,
        stretch=stretch,
        fit=0.0,
        sureness=0.0,
        polarity=polarity,
        overlap_s=0.0,
        repeats_s=other.period_s,
        gain=1.0,
        offset=0.0,
        reason="",
        laid=laid,
    )
    fit = laid_fit(suspect, good, found, part(progress, 0.5, 1.0))
    likeness = polarity * fit.likeness
    above = (likeness - CHANCE_FIT) / (CERTAIN_FIT - CHANCE_FIT)
    sureness = min(own.regular, other.regular) * min(max(above, 0.0), 1.0)
    accepted = sureness >= LEAST_SURENESS
    return replace(
        found,
        accepted=accepted,
        fit=max(likeness, 0.0),
        sureness=sureness,
        overlap_s=fit.overlap_s,
        gain=fit.gain,
        offset=fit.offset,
        reason=_reason(accepted, likeness, own, other),
    )


def _reason(accepted: bool, likeness: float, own: Cycles, other: Cycles) -> str:
    pulses = f" of {own.pulses} pulses" if own.pulses > 1 else ""
    told = (
        f"{own.count} cycles{pulses} of {in_words(own.period_s, 's')} over the average of {other.count} cycles of "
        f"{in_words(other.period_s, 's')}; their lengths vary by {own.drift:.1%} and {other.drift:.1%}, which is taken out."
    )
    odd = int(own.odd.sum())
    if odd:
        told += f" {odd} {'cycle lacks' if odd == 1 else 'cycles lack'} a pulse or {'has' if odd == 1 else 'have'} one too many."
    if accepted:
        return f"{told} Any cycle may lie on any other."
    if likeness < CHANCE_FIT + LEAST_SURENESS * (CERTAIN_FIT - CHANCE_FIT):
        return f"The cycles are not alike (fit {max(likeness, 0.0):.2f}). {told}"
    return f"The cycles are too irregular. {told}"


def _turned(mine: Row, theirs: Row, pulses: int) -> tuple[float, Literal[1, -1]]:
    """How many pulses the known-good's average has to be turned, and its sign: 1, or -1 where it is upside down."""
    first, second = mine - mine.mean(), theirs - theirs.mean()
    size = float(np.sqrt(np.square(first).sum() * np.square(second).sum()))
    if size <= 0:
        return 0.0, 1
    likeness = np.fft.irfft(np.conj(np.fft.rfft(first)) * np.fft.rfft(second), first.size) / size
    turns = np.fft.fftfreq(first.size, 1.0 / first.size) / first.size * pulses
    within = np.abs(turns) <= (0.5 if pulses == 1 else 1.0)
    sizes = np.where(within, np.where(likeness > 0, likeness, -UPSIDE_DOWN * likeness), -1.0)
    # What was found to begin a cycle on both is laid on each other, unless another turn is clearly better.
    if likeness[0] >= 0.98 * sizes.max():
        return 0.0, 1
    best = int(np.argmax(sizes))
    turn = float(turns[best])
    return (turn if abs(turn) > OWN_START else 0.0), 1 if likeness[best] > 0 else -1


def _laid(own: Cycles, other: Cycles, average: tuple[Row, Row], turn: float, good: Channel) -> Laid:
    pulse_s = other.period_s / own.parts
    begins, stops = own.bounds_s[:, :-1].ravel(), own.bounds_s[:, 1:].ravel()
    places = np.tile(np.arange(own.parts, dtype=np.float64), own.count)
    pieces = np.column_stack([begins, stops, (places + turn) * pulse_s, pulse_s / (stops - begins)])
    both = np.column_stack([own.bounds_s[:, 0], other.bounds_s[np.arange(own.count) % other.count, 0]])
    spans = spans_of(own.bounds_s[:, [0, -1]])
    mean, deviation = (_as_channel(row, good, other) for row in average)
    return Laid(pieces, joined(spans, 1e-3 * own.period_s), both, False, mean, deviation)


def _as_channel(row: Row, good: Channel, cycles: Cycles) -> Channel:
    """One cycle three times over: what is turned reaches into the cycle before or after."""
    step_s = cycles.period_s / row.size
    return Channel(
        name=good.name,
        unit=good.unit,
        samples=FloatSamples(np.tile(row, 3)),
        start_s=-cycles.period_s + 0.5 * step_s,
        step_s=step_s,
        history=(*good.history, f"over {cycles.count} cycles"),
    )


def _refused(reason: str) -> LineUp:
    return refused("cycle", reason)
