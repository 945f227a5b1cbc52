"""The part of a capture in which a wire is alive: before it goes dead, or after it came back."""

from dataclasses import replace

import numpy as np

from loomlight.signal.samples import PartOf
from loomlight.signal.wire_sight import Sight, look_at

PIECES = 20
STILL = 0.2
"""Of the liveliest pieces' reach: below, nothing happens."""
LEAST_DEAD, LEAST_LIVE = 3, 4
"""Pieces."""
LEAST_NEAR = 400
"""Samples of a piece that is worth looking into."""


def living_part(sight: Sight) -> Sight | None:
    """The stretch in which things happen, looked at by itself; None where the wire lives, or is dead, from end to end.

    Parameters
    ----------
    sight : Sight
        Of the whole.
    """
    channel = sight.channel
    assert channel.step_s is not None
    size = channel.samples.size
    length = size // PIECES
    if length < 32:
        return None
    reach = np.zeros(PIECES)
    for number in range(PIECES):
        values = channel.samples.block(number * length, (number + 1) * length)
        known = values[np.isfinite(values)]
        reach[number] = float(np.ptp(known)) if known.size else 0.0
    # The upper quarter, but not the two pieces that hold the step to another level.
    usual = float(np.sort(reach)[-5])
    lively = reach > max(STILL * usual, 8.0 * sight.noise)
    places = np.flatnonzero(np.diff(np.concatenate([[False], lively, [False]])))
    runs = [(int(first), int(last)) for first, last in zip(places[::2], places[1::2], strict=True)]
    if not runs:
        return None
    first, last = max(runs, key=lambda one: one[1] - one[0])
    dead = PIECES - (last - first)
    if dead < LEAST_DEAD:
        return None
    if last - first < LEAST_LIVE:
        # A short burst in a long rest: nearer by, it has an inside of its own.
        near = _cut(sight, max(first - 1, 0) * length, min(last + 1, PIECES) * length)
        return living_part(near) or near if length >= LEAST_NEAR else None
    # The outer pieces may hold the step.
    begin = (first + (1 if first else 0)) * length
    end = (last - (1 if last < PIECES else 0)) * length
    if end - begin < 3 * length:
        begin, end = first * length, last * length - length // 2
    return _cut(sight, begin, end)


def _cut(sight: Sight, begin: int, end: int) -> Sight:
    channel = sight.channel
    assert channel.step_s is not None
    part = replace(
        channel,
        samples=PartOf(channel.samples, begin, end),
        start_s=channel.start_s + begin * channel.step_s,
        gaps=(),
        clipped=(),
    )
    return look_at(part)
