"""Supply voltage measured on a channel of the same capture."""

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.levels import state_levels
from loomlight.signal.progress import Progress, unwatched


def supply_of_channel(channel: Channel, progress: Progress = unwatched) -> float:
    """Level that a supply channel holds most of the time, volts; short dips and spikes do not move it.

    Raises
    ------
    CannotUse
        If it is not in volts, holds no number, or its level is none that a supply has.
    """
    if channel.unit not in ("V", None):
        raise CannotUse(f"{channel.name!r} is in {channel.unit}; the supply has to be a channel in volts.")
    levels = state_levels(channel.samples, progress)
    if levels is None:
        raise CannotUse(f"No sample of {channel.name!r} is a number, so it gives no supply voltage.")
    if not 5.0 <= levels.high <= 40.0:
        raise CannotUse(
            f"{channel.name!r} stands at {levels.high:.3g} V, which is no vehicle's supply. Give the supply in volts instead."
        )
    return levels.high
