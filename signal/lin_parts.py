"""Headers and responses of a LIN channel, each with the levels that its talker left the line at."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.lin_decode import TOLD_EVERY, LinFrame, LinTraffic
from loomlight.signal.lin_reader import Times
from loomlight.signal.progress import Progress, unwatched

COMMANDER = "commander"
SETTLING_BITS, RELEASE_BITS = 0.4, 0.25
"""Begin and end of a bit that are left out: there an edge and its ringing stand, or the next one begins."""


@dataclass(frozen=True)
class FramePart:
    """Header or response of one frame, with the levels while its talker drove.

    Attributes
    ----------
    talker : str
        ``"commander"`` for headers, ``"response 0x21"`` for responses.
    start_s, stop_s : float
        Seconds on the channel's axis.
    dominant_v : float
        Median of the settled dominant samples, volts.
    recessive_v : float or None
        Median of the settled recessive samples between them, volts; None where no bit settles.
    """

    talker: str
    start_s: float
    stop_s: float
    dominant_v: float
    recessive_v: float | None = None


def frame_parts(channel: Channel, traffic: LinTraffic, progress: Progress = unwatched) -> tuple[FramePart, ...]:
    """Settled levels of each header and response that has a dominant one."""
    talks = [(*talk, frame.bit_s) for frame in traffic.frames for talk in talks_of(frame)]
    starts_s, stops_s, bits_s = (np.array([talk[place] for talk in talks], np.float64) for place in (1, 2, 3))
    found = []
    stretches = _stretches(traffic, starts_s, stops_s, bits_s)
    for number, ((talker, start_s, stop_s, bit_s), (first, last)) in enumerate(zip(talks, stretches, strict=True)):
        if number % TOLD_EVERY == 0:
            progress(number / len(talks))
        dominant_v, recessive_v = _settled(channel, traffic.dominant[first:last], bit_s)
        if dominant_v is not None:
            found.append(FramePart(talker, start_s, stop_s, dominant_v, recessive_v))
    return tuple(found)


def talks_of(frame: LinFrame) -> list[tuple[str, float, float]]:
    """Who drives when in one frame: talker, start, stop."""
    talks = [(COMMANDER, frame.start_s, frame.header_stop_s)]
    if frame.response_start_s is not None and frame.identifier is not None:
        talks.append((f"response {frame.identifier:#04x}", frame.response_start_s, frame.stop_s))
    return talks


def settled_levels(
    channel: Channel, traffic: LinTraffic, start_s: float, stop_s: float, bit_s: float
) -> tuple[float | None, float | None]:
    """Medians over the bits' later parts: edges and their ringing are over, the next edge has not begun.

    Parameters
    ----------
    channel : Channel
        Whose levels are wanted.
    traffic : LinTraffic
        Says when the line is dominant: the channel's own, or that of one recorded at the same moment.
    start_s, stop_s : float
        The stretch, seconds.
    bit_s : float
        Bit time, seconds.

    Returns
    -------
    dominant_v, recessive_v : float or None
        Volts; None where no bit settles in the stretch.
    """
    ((first, last),) = _stretches(traffic, *(np.array([one]) for one in (start_s, stop_s, bit_s)))
    return _settled(channel, traffic.dominant[first:last], bit_s)


def _stretches(traffic: LinTraffic, starts_s: Times, stops_s: Times, bits_s: Times) -> list[list[int]]:
    """First and one past the last dominant stretch of each talk: asked for all at once, a call for each would take longer."""
    first = np.searchsorted(traffic.dominant[:, 0], starts_s - bits_s)
    last = np.searchsorted(traffic.dominant[:, 1], stops_s + bits_s, side="right")
    places: list[list[int]] = np.column_stack([first, last]).tolist()
    return places


def _settled(channel: Channel, inside: Times, bit_s: float) -> tuple[float | None, float | None]:
    assert channel.step_s is not None
    if not len(inside) or inside[0, 0] < channel.start_s or inside[-1, 1] > channel.stop_s:
        return None, None
    first = round((inside[0, 0] - channel.start_s) / channel.step_s)
    last = round((inside[-1, 1] - channel.start_s) / channel.step_s)
    values = channel.samples.block(first, min(last, channel.samples.size))
    between = np.column_stack([inside[:-1, 1], inside[1:, 0]])
    begin_s = channel.start_s + first * channel.step_s
    trimmed = np.array([SETTLING_BITS * bit_s, -RELEASE_BITS * bit_s])
    dominant_v, recessive_v = (
        _median_over(values, (spans + trimmed - begin_s) / channel.step_s) for spans in (inside, between)
    )
    return dominant_v, recessive_v


def _median_over(values: npt.NDArray[np.float32], places: Times) -> float | None:
    """Median of the samples in some stretches of one block; None where there are none."""
    whole = np.rint(places[places[:, 1] > places[:, 0]]).astype(np.int64).tolist()
    return _median(np.concatenate([values[start:stop] for start, stop in whole])) if whole else None


def _median(values: npt.NDArray[np.float32]) -> float | None:
    """As `numpy.nanmedian`, without its checks: this is asked of every frame; None where there is nothing finite."""
    finite = values[values == values]
    if not finite.size:
        return None
    half = finite.size // 2
    ordered = np.partition(finite, [max(half - 1, 0), half])
    return float(ordered[half] if finite.size % 2 else (ordered[half - 1] + ordered[half]) / 2)
