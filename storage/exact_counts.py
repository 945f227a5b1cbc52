"""Samples that came from a converter, found to be whole counts again: half the size, and not a bit different."""

from dataclasses import replace

import numpy as np

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.channel_setup import SetUpSamples
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.samples import CountSamples, Samples, Wave, blocks, counted_of

MOST_COUNT = 32_767
SAMPLE = 65_536
MOST_LEVELS = 4_096
"""A converter of 12 bits has as many; what has more is kept as it is."""


def with_exact_counts(capture: Capture, progress: Progress = unwatched) -> Capture:
    """The capture, its channels as counts where that changes no sample.

    Parameters
    ----------
    capture : Capture
        Any.
    progress : Progress
        0 to 1 over all samples.
    """
    count = len(capture.channels)
    channels = tuple(
        _as_counts(channel, part(progress, number / count, (number + 1) / count))
        for number, channel in enumerate(capture.channels)
    )
    return replace(capture, channels=channels)


def _as_counts(channel: Channel, progress: Progress) -> Channel:
    if counted_of(channel.samples) is not None or isinstance(channel.samples, SetUpSamples) or channel.gaps:
        return channel
    counted = exact_counts(channel.samples, progress)
    return channel if counted is None else replace(channel, samples=counted)


def exact_counts(samples: Samples, progress: Progress = unwatched) -> CountSamples | None:
    """The same samples as 16-bit counts without offset, or None where one of them would come out different.

    Parameters
    ----------
    samples : Samples
        Any length.
    progress : Progress
        0 to 1 over the samples.
    """
    first = samples.block(0, min(SAMPLE, samples.size))
    for scale in _scales(first):
        counts = np.empty(samples.size, np.int16)
        for start, values in blocks(samples, progress):
            found = np.rint(values.astype(np.float64) / scale)
            if not (np.abs(found) <= MOST_COUNT).all():
                break
            counts[start : start + values.size] = found
            same = CountSamples(counts[start : start + values.size], scale=scale, offset=0.0, is_fine=True)
            # Bit by bit: a minus before a zero is lost too.
            if not np.array_equal(same.block(0, values.size).view(np.int32), values.view(np.int32)):
                break
        else:
            return CountSamples(counts, scale=scale, offset=0.0, is_fine=True) if samples.size else None
    return None


def _scales(values: Wave) -> list[float]:
    """Steps between levels that explain some samples exactly, the likeliest first."""
    if not values.size or not np.isfinite(values).all():
        return []
    levels = np.unique(values).astype(np.float64)
    if not 2 <= levels.size <= MOST_LEVELS:
        return []
    step = float(np.diff(levels).min())
    largest = float(np.abs(levels).max())
    if largest > MOST_COUNT * step:
        return []
    step = largest / round(largest / step)  # the largest level tells the step best
    tried = dict.fromkeys([float(f"{step:.{digits}g}") for digits in range(1, 8)] + [step])
    return [scale for scale in tried if np.array_equal((np.rint(levels / scale) * scale).astype(np.float32), levels)]
