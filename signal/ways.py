"""Which way a suspect is lined up: by shape, by frame, by cycle, or as its signal kind wants it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from loomlight.signal.align import line_up
from loomlight.signal.bus_frames import BusFrame
from loomlight.signal.capture import Channel
from loomlight.signal.cycle_pairs import line_up_by_cycle
from loomlight.signal.errors import CannotUse
from loomlight.signal.frame_pairs import FEWEST_PAIRS, line_up_by_frame
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.places import all_places
from loomlight.signal.progress import Progress, part, unwatched

CLEAR_FIT, UNSURE_FIT = 0.9, 0.8
"""A known-good laid whole into a longer suspect that fits like this in several places is found there, not mistaken; the
sureness counts from the second figure (common practice, no source)."""
SHORTER = 0.75
"""Of the suspect's length: a longer known-good leaves no room for a second place."""
SAME_CLOCK = 1e-3


@dataclass(frozen=True)
class Sides:
    """What both channels are known to carry.

    Attributes
    ----------
    title : str
        Of the signal kind, for the reasons.
    usual : {"shape", "frame", "cycle"}
        The way that the kind wants.
    frames, good_frames : sequence of BusFrame
        For kinds that carry frames.
    """

    title: str
    usual: WantedBy
    frames: Sequence[BusFrame] = ()
    good_frames: Sequence[BusFrame] = ()


def line_up_by(
    suspect: Channel,
    good: Channel,
    sides: Sides,
    *,
    by: WantedBy = "auto",
    same_moment: bool = False,
    progress: Progress = unwatched,
) -> LineUp:
    """Line two channels up in the way that was asked for, or that suits their signal kind.

    Parameters
    ----------
    suspect, good : Channel
        In the same unit.
    sides : Sides
        What they carry.
    by : {"auto", "shape", "frame", "cycle"}
        ``auto`` goes by the common clock where both were recorded together, else as the kind wants, and says why.
    same_moment : bool
        Recorded together on one time axis.
    progress : Progress
        0 to 1.

    Raises
    ------
    CannotUse
        If the channels cannot be lined up in that way at all, with the reason.
    """
    if by == "frame":
        if not sides.frames and not sides.good_frames and sides.usual != "frame":
            raise CannotUse(f"{sides.title} carries no frames to go by. Choose shape or auto.")
        return line_up_by_frame(suspect, good, sides.frames, sides.good_frames, progress)
    if by == "cycle":
        return line_up_by_cycle(suspect, good, progress)
    if by == "shape" or same_moment:
        return _by_shape(suspect, good, same_moment=same_moment, progress=progress)
    return _as_the_kind_wants(suspect, good, sides, progress)


def _by_shape(suspect: Channel, good: Channel, *, same_moment: bool = False, progress: Progress) -> LineUp:
    """One shift for the whole; a known-good that fits the suspect in several places equally well is no doubt, but told."""
    found = line_up(suspect, good, same_moment=same_moment, progress=part(progress, 0.0, 0.9))
    if found.accepted or same_moment or found.fit < CLEAR_FIT:
        return found
    places = places_of(suspect, good, found, part(progress, 0.9, 1.0))
    if len(places) < 2 or max(one.fit for one in places) < CLEAR_FIT:
        return found
    told = f"Fit {found.fit:.2f}; the known-good fits at {len(places)} places about as well, and the best was taken."
    return replace(found, accepted=True, sureness=(found.fit - UNSURE_FIT) / (1.0 - UNSURE_FIT), reason=told)


def places_of(suspect: Channel, good: Channel, lineup: LineUp, progress: Progress = unwatched) -> tuple[LineUp, ...]:
    """Every place of a longer suspect where the known-good fits, in order of time; empty where it was not looked for.

    Only by shape, with clocks that agree, and where the suspect has room for more than one place.

    Parameters
    ----------
    suspect, good : Channel
        In the same unit.
    lineup : LineUp
        How they were lined up.
    progress : Progress
        0 to 1.
    """
    shorter = (good.stop_s - good.start_s) <= SHORTER * (suspect.stop_s - suspect.start_s)
    if lineup.by != "shape" or lineup.fit <= 0 or not shorter or abs(lineup.stretch - 1.0) > SAME_CLOCK:
        return ()
    return all_places(suspect, good, progress=progress)


def _as_the_kind_wants(suspect: Channel, good: Channel, sides: Sides, progress: Progress) -> LineUp:
    if sides.usual == "cycle":
        found = line_up_by_cycle(suspect, good, progress)
        return replace(found, why=f"By cycle, because {sides.title} repeats and its speed drifts.")
    if sides.usual != "frame":
        return _by_shape_else_by_cycle(suspect, good, sides, progress)
    counts = [sum(one.identifier is not None for one in frames) for frames in (sides.frames, sides.good_frames)]
    if min(counts) >= FEWEST_PAIRS:
        found = line_up_by_frame(suspect, good, sides.frames, sides.good_frames, progress)
        return replace(found, why=f"By frame, because a {sides.title} says something else each time.")
    few = suspect.name if counts[0] < FEWEST_PAIRS else good.name
    why = f"By shape, because {few!r} has too few readable frames to go by frame."
    return replace(_by_shape(suspect, good, progress=progress), why=why)


def _by_shape_else_by_cycle(suspect: Channel, good: Channel, sides: Sides, progress: Progress) -> LineUp:
    """What the wire carries is not known: one shift for the whole, unless only cycles can be laid on each other."""
    found = _by_shape(suspect, good, progress=part(progress, 0.0, 0.6))
    if found.accepted or sides.usual == "shape":
        return replace(found, why=f"By shape, the usual way for {sides.title}.")
    cycles = line_up_by_cycle(suspect, good, part(progress, 0.6, 1.0))
    if cycles.accepted:
        why = "By cycle, because both repeat and no one shift lays the whole: their speeds differ or drift."
        return replace(cycles, why=why)
    return replace(found, why=f"By shape, the usual way for {sides.title}; by cycle it is refused too.")
