"""A LIN line that was recorded upside down: turned over, it carries frames."""

from loomlight.signal.capture import Channel
from loomlight.signal.channel_setup import ChannelSetup, set_up
from loomlight.signal.examination import Doubt
from loomlight.signal.levels import StateLevels
from loomlight.signal.lin_decode import decode


def turned_frames(channel: Channel, levels: StateLevels) -> int:
    """How many frames can be read once the line is turned over.

    Parameters
    ----------
    channel : Channel
        Evenly spaced samples that carry no frame as they are.
    levels : StateLevels
        Of that channel.
    """
    if not levels.two_states:
        return 0
    resting_v = -levels.low
    traffic = decode(
        set_up(channel, ChannelSetup(invert=True)),
        dominant_below=resting_v - 0.5 * levels.amplitude,
        recessive_above=resting_v - 0.4 * levels.amplitude,
    )
    return sum(frame.identifier is not None and frame.state in ("good", "no response") for frame in traffic.frames)


def upside_down(name: str, frames: int) -> Doubt | None:
    """The doubt that follows; None where nothing can be read turned over either."""
    if not frames:
        return None
    return Doubt(
        "upside down",
        f"No frame can be read from {name!r} as it is, but {frames} once it is turned over: it was recorded upside down, with "
        "probe and ground lead swapped or the input inverted.",
        "Choose “upside down” in the channel's set-up and judge again, or put the leads right and repeat the capture.",
    )
