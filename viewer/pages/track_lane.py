"""A figure over time as a lane under the capture."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loomlight.signal.pyramid import pyramid_of
from loomlight.signal.track import Track
from loomlight.viewer.lanes.specs import Lane, Trace

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison


def track_lane(found: Comparison, track: Track) -> Lane:
    """The suspect's figure, over the known-good's where it has the same one and lines up."""
    traces = []
    other = found.good_looked.tracks if found.good_looked is not None else ()
    lineup = found.lineup
    twin = next((one for one in other if one.name == track.name and one.times_s.size), None)
    if twin is not None and lineup is not None and lineup.accepted:
        channel = twin.as_channel()
        pyramid = pyramid_of(channel.samples)
        traces.append(
            Trace(
                channel, pyramid, "known-good", track.name, lag_s=lineup.lag_s, stretch=lineup.stretch, says_form=False
            )
        )
    channel = track.as_channel()
    traces.append(Trace(channel, pyramid_of(channel.samples), "suspect", track.name, says_form=False))
    return Lane(f"over time: {track.name}", tuple(traces), unit=track.unit)
