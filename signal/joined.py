"""Several one-channel files of one recording, joined into one capture."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import PurePath

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.channel_setup import set_up, stored_of
from loomlight.signal.errors import CannotUse

MOST_APART = 0.01
"""Share of a step that two files' samples may lie apart, anywhere along the recording: text rounds times."""


def are_of_one_recording(first: Channel, second: Channel) -> bool:
    """Whether two channels have the same form, count, step and start, so that they may have been recorded together."""
    if first.form != second.form or first.samples.size != second.samples.size:
        return False
    if first.step_s is None or second.step_s is None:
        return False
    begin, end = second.start_s - first.start_s, second.stop_s - first.stop_s
    return max(abs(begin), abs(end)) <= MOST_APART * first.step_s


def groups_to_join(captures: Sequence[Capture]) -> tuple[tuple[int, ...], ...]:
    """Places of one-channel captures that may be one recording, two or more in each group.

    Parameters
    ----------
    captures : sequence of Capture
        In any order; each is in one group at most.
    """
    groups: list[list[int]] = []
    for place, capture in enumerate(captures):
        if len(capture.channels) != 1:
            continue
        for group in groups:
            if are_of_one_recording(captures[group[0]].channels[0], capture.channels[0]):
                group.append(place)
                break
        else:
            groups.append([place])
    return tuple(tuple(group) for group in groups if len(group) > 1)


def joined(captures: Sequence[Capture], *, source_name: str = "") -> Capture:
    """One capture of several; the samples stay where they are.

    Where names repeat, as in files that all call their column alike, each channel takes the name of its file.

    Parameters
    ----------
    captures : sequence of Capture
        Two or more; all of their channels have the same form, count, step and start.
    source_name : str, optional
        Name of the joined capture; made from the first file's if not given.

    Returns
    -------
    Capture
        The channels in order; each history ends with the file that it came from, each note begins with it.

    Raises
    ------
    CannotUse
        If they are fewer than two, or cannot be of one recording: which, and what differs.
    """
    if len(captures) < 2:
        raise CannotUse("There is nothing to join: give two captures or more.")
    first = captures[0].channels[0]
    for capture in captures:
        for channel in capture.channels:
            if not are_of_one_recording(first, channel):
                raise CannotUse(
                    f"{captures[0].source_name} and {capture.source_name} are not of one recording: "
                    f"{_difference(first, channel)}. Join files with the same count, step and start."
                )
    channels = [channel for capture in captures for channel in capture.channels]
    sources = [capture.source_name for capture in captures for _ in capture.channels]
    names = ", ".join(capture.source_name for capture in captures)
    notes = [f"{capture.source_name}: {note}" for capture in captures for note in capture.notes]
    return Capture(
        source_name=source_name or f"{PurePath(captures[0].source_name).stem} joined",
        layout=f"joined from {len(captures)} files: {names}",
        channels=tuple(
            _taken_over(channel, name, source)
            for channel, name, source in zip(channels, _told_apart(channels, sources), sources, strict=True)
        ),
        notes=tuple(notes),
    )


def _difference(first: Channel, second: Channel) -> str:
    if first.form != second.form:
        return f"samples are {first.form} in one and {second.form} in the other"
    if first.samples.size != second.samples.size:
        return f"{first.intervals} samples and {second.intervals}"
    if first.step_s is None or second.step_s is None:
        return "their samples are not evenly spaced"
    if abs(second.start_s - first.start_s) > MOST_APART * first.step_s:
        return f"they start at {first.start_s:.9g} s and {second.start_s:.9g} s"
    return f"their steps are {first.step_s:.9g} s and {second.step_s:.9g} s"


def _told_apart(channels: Sequence[Channel], sources: Sequence[str]) -> list[str]:
    """Names that all differ; one that repeats gives way to its file's name, with a number where that repeats too."""
    names = [channel.name for channel in channels]
    made: list[str] = []
    for name, source in zip(names, sources, strict=True):
        wanted = name if names.count(name) == 1 else PurePath(source).stem
        if wanted in made:
            wanted = f"{wanted} {name}" if f"{wanted} {name}" not in made else f"{wanted} {len(made) + 1}"
        made.append(wanted)
    return made


def _taken_over(channel: Channel, name: str, source: str) -> Channel:
    """The channel with its place in the joined capture; a set-up stays one that can be changed."""
    stored, setup = stored_of(channel)
    history = (*stored.history, f"joined from {source}")
    if setup.is_plain:
        return replace(stored, name=name, history=history)
    stored_name = stored.name if setup.name else name
    return set_up(replace(stored, name=stored_name, history=history), replace(setup, name=name if setup.name else ""))
