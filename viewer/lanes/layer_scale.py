"""Where the values of a lane's layers stand."""

from dataclasses import replace

from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane


def layer_scale(lane: Lane, layer: Lane, scale: Scale) -> Scale:
    """Where a layer's values stand: as the lane's own in the same unit, fitted to the layer in another one."""
    if lane.shares_scale(layer):
        return scale
    low, high = layer.value_range()
    return replace(scale, low=low, high=high)
