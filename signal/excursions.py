"""Stretches of a channel beyond a level, however short or long, that noise does not explain."""

import math
from collections.abc import Iterator

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.outline import ends
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.runs import runs_above_zero
from loomlight.signal.samples import BLOCK, Wave
from loomlight.signal.spans import Spans, joined, spans_of

SCALES = (1, 8, 64, 512)
"""Instants averaged: what is long shows through more noise than what is short."""
BY_CHANCE = 0.005
"""How likely noise alone makes an excursion anywhere in a whole capture."""
MOST = 2000


def excursions(
    channel: Channel, level: float, sign: float, *, noise: float, join_s: float = 0.0, progress: Progress = unwatched
) -> Spans:
    """Stretches above (``sign`` 1) or below (-1) a level.

    Each scale averages more instants and asks for less beyond the level: as much as noise alone reaches with a chance of
    1 in 200 over the whole capture (the normal distribution's tail).

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    level : float
        In the channel's unit.
    sign : {1.0, -1.0}
        Which side.
    noise : float
        Standard deviation of the samples' scatter (see `noise_of`).
    join_s : float
        Stretches nearer to each other than this are one.
    progress : Progress
        0 to 1.

    Returns
    -------
    ndarray of float64, shape (n, 2)
        Start and stop of each, seconds on the channel's axis.
    """
    from scipy import special

    assert channel.step_s is not None
    found: list[Spans] = []
    scales = [one for one in SCALES if one == 1 or (noise > 0 and one * 4 <= channel.intervals)]
    for place, scale in enumerate(scales):
        tail = -float(special.ndtri(0.5 * BY_CHANCE * scale / (len(scales) * max(channel.intervals, scale))))
        room = tail * noise / math.sqrt(scale)
        walk = part(progress, place / len(scales), (place + 1) / len(scales))
        runs = runs_above_zero(_beyond(channel, level + sign * room, sign, scale, walk), most=MOST)
        step_s = scale * channel.step_s
        places = np.column_stack([runs.first, runs.last]).astype(np.float64)
        found.append(spans_of(channel.start_s + step_s * places))
    return joined(spans_of(np.concatenate(found)), max(join_s, channel.step_s))


def _beyond(channel: Channel, level: float, sign: float, scale: int, progress: Progress) -> Iterator[tuple[int, Wave]]:
    length = BLOCK // scale * scale
    for first in range(0, channel.intervals, length):
        progress(first / channel.intervals)
        low, high = ends(channel, first, min(first + length, channel.intervals))
        values = high if sign > 0 else low
        if scale > 1:
            whole = values.size // scale * scale
            # Where a sample is missing the average is not known, and not-a-number is beyond nothing.
            middle = values if low is high else np.float32(0.5) * (low + high)
            values = middle[:whole].reshape(-1, scale).mean(axis=1)
        yield first // scale, np.float32(sign) * (values - np.float32(level))
