"""The folded view's work, for aside: where the stretches begin, then all of them laid over one another at one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from loomlight.signal.errors import CannotUse
from loomlight.signal.progress import Progress, part
from loomlight.viewer.lanes.specs import LevelLine, Trace

if TYPE_CHECKING:
    from loomlight.signal.fold import Folded
    from loomlight.signal.fold_starts import FoldBy, Starts

    FoldChoice = FoldBy | Literal["automatic"]

ROOM = 0.08


@dataclass(frozen=True, eq=False)
class FoldSource:
    """One trace to fold, with the limits of its lane."""

    trace: Trace
    lines: tuple[LevelLine, ...]
    unit: str


@dataclass(frozen=True, eq=False)
class FoldOf:
    """One trace as it was folded; ``trouble`` says why where it could not be."""

    source: FoldSource
    starts: Starts | None = None
    folded: Folded | None = None
    trouble: str = ""


def find_starts(sources: Sequence[FoldSource], by: FoldChoice, progress: Progress) -> list[FoldOf]:
    """Each trace's own starts, all of the kind that fits the last one (the suspect, where there is one)."""
    from loomlight.signal.fold_starts import fitting_starts, starts_of

    found: list[FoldOf] = []
    for number, source in enumerate(reversed(sources)):
        share = part(progress, number / len(sources), (number + 1) / len(sources))
        try:
            channel = source.trace.channel
            starts = fitting_starts(channel, share) if by == "automatic" else starts_of(channel, by, share)
            by = starts.by
            found.append(FoldOf(source, starts))
        except CannotUse as error:
            found.append(FoldOf(source, trouble=str(error)))
    return found[::-1]


def fold_all(
    found: Sequence[FoldOf],
    view: tuple[float, float] | None,
    size: tuple[int, int],
    progress: Progress,
) -> list[FoldOf]:
    """Lay each trace's stretches over one another, all at one scale of time, and of values where they share a unit.

    Parameters
    ----------
    found : sequence of FoldOf
        With their starts.
    view : tuple of float or None
        Only what begins in this stretch of the picture's time; None: all there is.
    size : tuple of int
        Columns and rows.
    """
    from loomlight.signal.fold import fold

    usable = [one for one in found if one.starts is not None]
    if not usable:
        return list(found)
    begin_s = min(one.starts.begin_s for one in usable if one.starts is not None)
    end_s = max(one.starts.end_s for one in usable if one.starts is not None)
    units = {one.source.unit for one in usable}
    reach = {unit: _reach([one.source.trace for one in usable if one.source.unit == unit]) for unit in units}
    done = []
    for number, one in enumerate(found):
        share = part(progress, number / len(found), (number + 1) / len(found))
        if one.starts is None:
            done.append(one)
            continue
        trace = one.source.trace
        starts = one.starts
        if view is not None:
            own_s = sorted(trace.lag_s + trace.stretch * at_s for at_s in view)
            starts = starts.between(own_s[0], own_s[1])
        low, high = reach[one.source.unit]
        ends = (-high, -low) if trace.upside_down else (low, high)
        folded = fold(
            trace.channel,
            starts.at_s,
            begin_s=begin_s,
            end_s=end_s,
            low=ends[0],
            high=ends[1],
            columns=size[0],
            rows=size[1],
            progress=share,
        )
        if trace.upside_down:
            folded = replace(folded, counts=folded.counts[::-1], low=low, high=high)
        done.append(replace(one, starts=starts, folded=folded))
    return done


def _reach(traces: Sequence[Trace]) -> tuple[float, float]:
    ranges = [reach for trace in traces if (reach := trace.value_range()) is not None] or [(0.0, 1.0)]
    low, high = min(one[0] for one in ranges), max(one[1] for one in ranges)
    room = ROOM * ((high - low) or max(abs(high), 1.0))
    return low - room, high + 2.5 * room  # with room for the head
