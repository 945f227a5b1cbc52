"""What a channel's samples are not: where nothing was acquired, and where the instrument was at its rail."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel, IndexRange
from loomlight.signal.pyramid import Pyramid
from loomlight.signal.samples import Times
from loomlight.viewer.lanes.scale import Places

MOST_READ = 500
"""So many samples are read one by one where the pyramid cannot tell at which rail they stand."""

FORM_WORDS = {
    "even": "",
    "pairs": "least and greatest of each interval",
    "changes": "level held from change to change",
    "uneven": "unevenly timed samples",
}


def form_words(channel: Channel) -> tuple[str, ...]:
    """What must be known to read the channel's line, beside its name."""
    words = (
        FORM_WORDS[channel.form],
        "clipped in places" if channel.clipped else "",
        "not acquired in places" if channel.gaps else "",
    )
    return tuple(one for one in words if one)


def spans_of(channel: Channel, ranges: Sequence[IndexRange]) -> Places:
    """Begin and end of index ranges on the channel's own axis, shape (n, 2), half a step beyond their samples."""
    ends = np.array(ranges, np.int64).reshape(-1, 2)
    if channel.times_s is not None:
        return np.column_stack([channel.times_s[ends[:, 0]], channel.times_s[ends[:, 1] - 1]])
    assert channel.step_s is not None
    if channel.form == "pairs":
        instants: Times = np.column_stack([ends[:, 0] // 2, -(-ends[:, 1] // 2)]).astype(np.float64)
    else:
        instants = ends - 0.5
    return channel.start_s + instants * channel.step_s


@dataclass(frozen=True, eq=False)
class Rails:
    """At which rail each clipped range stands; both where it cannot be told apart.

    Attributes
    ----------
    low, high : float
        The rails, in the channel's unit.
    at_low, at_high : ndarray of bool, shape (n,)
        One for each of the channel's ``clipped`` ranges.
    """

    low: float
    high: float
    at_low: npt.NDArray[np.bool_]
    at_high: npt.NDArray[np.bool_]


def rails_of(channel: Channel, pyramid: Pyramid, low: float, high: float) -> Rails:
    """Tell the rails apart; a clipped sample is kept as the least or the greatest value of its channel.

    Parameters
    ----------
    channel : Channel
        With ``clipped`` ranges.
    pyramid : Pyramid
        Of its samples.
    low, high : float
        The channel's least and greatest value.
    """
    starts = np.array([start for start, _ in channel.clipped], np.int64)
    near = 1e-6 * (high - low)
    if pyramid.levels:
        finest = pyramid.levels[0]
        least, greatest = finest.low[starts // finest.bucket], finest.high[starts // finest.bucket]
    else:
        least = greatest = channel.samples.block(0, channel.samples.size)[starts]
    at_low, at_high = least <= low + near, greatest >= high - near
    for number in np.flatnonzero(at_low & at_high)[:MOST_READ].tolist():
        start = int(starts[number])
        value = float(channel.samples.block(start, start + 1)[0])
        at_low[number], at_high[number] = value <= low + near, value >= high - near
    return Rails(low, high, at_low, at_high)
