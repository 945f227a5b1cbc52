"""Two columns that hold the extremes of one channel, joined into one channel of minimum and maximum pairs."""

import re
from dataclasses import replace

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.samples import FloatSamples


def joined_extremes(channels: list[Channel], notes: list[str]) -> list[Channel]:
    """Two columns that are the extremes of one channel (``CH1``, ``CH1 Peak Detect``; ``CH1(Max)``, ``CH1(Min)``) as one."""
    answer: list[Channel] = []
    for channel in channels:
        before = answer[-1] if answer else None
        if before is None or channel.form != "even" or extremes_name(before.name, channel.name) is None:
            answer.append(channel)
            continue
        both = np.stack([one.samples.block(0, one.samples.size) for one in (before, channel)], axis=1)
        name = extremes_name(before.name, channel.name) or before.name
        doubled = tuple((2 * start, 2 * stop) for start, stop in (*before.gaps, *channel.gaps))
        clipped = tuple((2 * start, 2 * stop) for start, stop in (*before.clipped, *channel.clipped))
        answer[-1] = replace(
            before,
            name=name,
            samples=FloatSamples(np.sort(both, axis=1).reshape(-1)),
            form="pairs",
            gaps=tuple(sorted(set(doubled))),
            clipped=tuple(sorted(set(clipped))),
        )
        notes.append(f"{name}: two columns hold the extremes of each interval.")
    return answer


def extremes_name(first: str, second: str) -> str | None:
    """The channel whose extremes two columns hold, told by their names; None where they are two channels."""
    if second.lower() == f"{first.lower()} peak detect":
        return first
    ends = [re.fullmatch(r"(.+?)\s*\((max|min)\)", name, re.IGNORECASE) for name in (first, second)]
    if ends[0] and ends[1] and ends[0][1] == ends[1][1] and ends[0][2].lower() != ends[1][2].lower():
        return ends[0][1]
    return None
