"""How much a channel's samples scatter by themselves."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.laid_fit import own_values

STRETCHES, STRETCH = 32, 8192
MAD_TO_SIGMA = 1.4826
"""Median absolute deviation to standard deviation of a normal distribution (Rousseeuw and Croux 1993)."""


def noise_of(channel: Channel, *, stretches: int = STRETCHES) -> float:
    """Standard deviation of what changes from sample to sample at random, in the channel's unit.

    The median size of the second differences: a slope has none, and edges are too few to move a median. A signal sampled
    so coarsely that every sample is an edge is taken for noise: the answer is then too large, never too small.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    stretches : int
        How many stretches of it are looked at.

    Returns
    -------
    float
        0 where fewer than three samples are known.
    """
    firsts = np.unique(np.linspace(0, max(channel.intervals - STRETCH, 0), stretches).astype(np.int64))
    bends = [
        np.diff(own_values(channel, first, min(first + STRETCH, channel.intervals)), n=2) for first in firsts.tolist()
    ]
    found = np.concatenate(bends)
    found = np.abs(found[np.isfinite(found)])
    if not found.size:
        return 0.0
    # The second difference of white noise has √6 of its deviation.
    return float(np.median(found)) * MAD_TO_SIGMA / float(np.sqrt(6.0))
