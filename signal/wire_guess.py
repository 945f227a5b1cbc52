"""What is this wire? A ranked guess of the signal kind from samples alone, with the reason for each."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions, Examination
from loomlight.signal.frame_table import FrameRow
from loomlight.signal.kinds.listing import KINDS, ListedKind
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.wire_levels import LEVELS, rate_likely
from loomlight.signal.wire_sight import Sight, sight_of
from loomlight.signal.wire_traits import TRAITS

LEAST = 0.3
"""Below this a kind is not worth naming."""
WHOLE, HALF = 1.0, 0.6


@dataclass(frozen=True)
class Guess:
    """One kind that the wire may carry.

    Attributes
    ----------
    kind : str
        Key of the signal kind.
    likeness : float
        0 to 1: how much of what was seen this kind explains.
    reason : str
        What speaks for it, with numbers, one sentence.
    """

    kind: str
    likeness: float
    reason: str


@dataclass(frozen=True)
class Guesses:
    """The guesses, most alike first; empty for "none of these", and then ``why`` says what was seen instead."""

    ranked: tuple[Guess, ...]
    why: str = ""

    @property
    def first(self) -> Guess | None:
        """The most alike, if there is one."""
        return self.ranked[0] if self.ranked else None


def guess(channel: Channel, progress: Progress = unwatched) -> Guesses:
    """Guess what the wire carries. It is offered to a person, never taken for granted.

    What carries frames is read by its own reader: a frame whose check is right is hardly chance. All else is told by levels,
    spacings of edges, and what repeats.

    Parameters
    ----------
    channel : Channel
        Any unit; of long ones the stretch in which most happens is looked at.
    progress : Progress
        0 to 1.
    """
    sight = sight_of(channel, part(progress, 0.0, 0.2))
    if sight is None:
        return Guesses((), "Too short, or without a step of its own: nothing can be told from it.")
    if sight.levels is None:
        return Guesses((), "No sample is a number.")
    found: list[Guess] = []
    framed = [kind for kind in KINDS if kind.by == "frame" or kind.key in LEVELS]
    for place, kind in enumerate(framed):
        of_frames = _by_frames(kind, sight, part(progress, 0.2 + 0.7 * place / len(framed), 0.9))
        if of_frames is not None:
            found.append(of_frames)
    known = {kind.key for kind in KINDS}
    for key, trait in TRAITS.items():
        told = trait(sight) if key in known else None
        if told is not None:
            found.append(Guess(key, *told))
    best: dict[str, Guess] = {}
    for one in found:
        if one.likeness >= LEAST and (one.kind not in best or one.likeness > best[one.kind].likeness):
            best[one.kind] = one
    ranked = tuple(sorted(best.values(), key=lambda one: -one.likeness))
    return Guesses(ranked, "" if ranked else _nothing(sight))


def _by_frames(kind: ListedKind, sight: Sight, progress: Progress) -> Guess | None:
    """How many of the edges lie in frames that this kind can read, at levels that it may have."""
    levels_fit: Callable[[Sight], float] | None = LEVELS.get(kind.key)
    likely = levels_fit(sight) if levels_fit is not None else 1.0
    if sight.at_s.size < 10 or likely == 0.0:
        return None
    try:
        looked: Examination = kind.load().examine(sight.channel, Conditions(), progress)
    except CannotUse:
        return None
    rows = [(row, _weight(row)) for row in looked.frames]
    checked = sum(weight == WHOLE for _, weight in rows)
    if not any(weight > 0 for _, weight in rows):
        return None
    edges = np.sort(sight.at_s)
    explained = sum(
        weight * int(np.searchsorted(edges, row.stop_s, "right") - np.searchsorted(edges, row.start_s, "left"))
        for row, weight in rows
    )
    share = min(explained / edges.size, 1.0)
    likely *= rate_likely(kind.key, looked.bus.bit_rate if looked.bus is not None else None)
    if not checked:
        return Guess(kind.key, 0.6 * likely * share, "Its frames would fit, but none with a right check is among them.")
    count = f"{checked} frame{'s' if checked > 1 else ''}"
    reason = f"{count} with a right check can be read; frames explain {share:.0%} of all edges."
    return Guess(kind.key, likely * (0.5 + 0.5 * share), reason)


def _weight(row: FrameRow) -> float:
    """How much a frame speaks for its kind: right by its own check, or only laid out as one."""
    if row.state == "good" and row.check:
        return WHOLE
    return HALF if row.identifier else 0.0


def _nothing(sight: Sight) -> str:
    levels = sight.levels
    assert levels is not None
    if levels.greatest - levels.least <= 12.0 * max(sight.noise, 1e-12):
        return "The line is flat: nothing happens on it."
    return "What was seen is like none of the kinds."
