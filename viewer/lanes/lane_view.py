"""Lanes over one common time axis: which stretch of time and which values each of them shows, and where it stands."""

from collections.abc import Sequence

from PySide6.QtCore import QRectF, QSize, Signal
from PySide6.QtWidgets import QWidget

from loomlight.viewer.lanes.arrangement import Arrangement
from loomlight.viewer.lanes.arranging import Arranging
from loomlight.viewer.lanes.layer_scale import layer_scale
from loomlight.viewer.lanes.paint_lane import axis_width, time_axis_height
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.lanes.view_history import ViewHistory

GAP = 6.0
LEAST_LANE_PIXELS = 24.0
DEEPEST_VALUES = 1e-4
"""Of a lane's own range: what the value axis can still write."""


class LaneView(QWidget):
    """Holds the lanes as arranged and the view of them; draws nothing by itself.

    Attributes
    ----------
    arranging : Arranging
        Order, heights, overlay and scale of the lanes.
    """

    view_changed = Signal(float, float)
    arranged = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._own: dict[str, tuple[float, float]] = {}
        self._history = ViewHistory()
        self.arranging = Arranging(self)
        self.arranging.changed.connect(self._arrange)

    # What is shown

    def show_lanes(
        self, lanes: Sequence[Lane], *, keep_view: bool = False, arrangement: Arrangement | None = None
    ) -> None:
        """Show other lanes; the view goes back to all of them unless ``keep_view``."""
        self._own = {}
        if lanes:
            spans = [lane.span() for lane in lanes]
            full = min(one[0] for one in spans), max(one[1] for one in spans)
            view, values = self._history.view, self._history.values
            self._history.reset(full)
            if keep_view:
                self._history.show(*view, values=values)
        self.arranging.begin(lanes, arrangement)
        self._changed_view()

    def _arrange(self) -> None:
        """Take over what the arrangement gives; a lane whose scale was set stands at it."""
        own = {lane.key: lane.value_range() for lane in self.lanes}
        stale = {key for key, reach in self._own.items() if key in own and own[key] != reach}
        self._own = own
        if stale & set(self._history.values):
            self._history.show_values({key: one for key, one in self._history.values.items() if key not in stale})
        self.update()
        self.arranged.emit()

    @property
    def lanes(self) -> tuple[Lane, ...]:
        """The lanes that are shown, top to bottom."""
        return self.arranging.shown

    # The view

    def view(self) -> tuple[float, float]:
        """Begin and end of what is shown, seconds."""
        return self._history.view

    def full(self) -> tuple[float, float]:
        """Begin and end of all there is, seconds."""
        return self._history.full

    def set_view(self, start_s: float, stop_s: float, *, moving: bool = False) -> None:
        """Show a stretch; ``moving`` for one of many small steps, which are one step back together."""
        self._history.show(start_s, stop_s, moving=moving)
        self._changed_view()

    def go_to(self, start_s: float, stop_s: float) -> None:
        """Show a finding in the middle third, with a five-hundredth of the whole around it at least."""
        low, high = self._history.full
        length = max(3.0 * (stop_s - start_s), 2e-3 * (high - low))
        middle = 0.5 * (start_s + stop_s)
        self.set_view(middle - length / 2, middle + length / 2)

    def fit(self) -> None:
        """Show all, at the lanes' own scales."""
        self._history.fit()
        self._changed_view()

    def back(self) -> None:
        """To the view before."""
        self._history.back()
        self._changed_view()

    def forward(self) -> None:
        """To the view that was left by going back."""
        self._history.forward()
        self._changed_view()

    def zoom(self, factor: float, around_s: float | None = None, *, moving: bool = False) -> None:
        """Make the view ``factor`` times as long."""
        start, stop = self._history.view
        self._history.zoom(factor, 0.5 * (start + stop) if around_s is None else around_s, moving=moving)
        self._changed_view()

    def pan(self, share: float) -> None:
        """Move by a share of the view."""
        self._history.pan(share)
        self._changed_view()

    def _changed_view(self) -> None:
        self.update()
        self.view_changed.emit(*self._history.view)

    def can_step(self) -> tuple[bool, bool]:
        """Whether there is a view to go back to, and one to go forward to."""
        return self._history.can_go_back, self._history.can_go_forward

    def value_range(self, key: str) -> tuple[float, float]:
        """Least and greatest value that a lane shows now."""
        return self._history.values.get(key) or self._own[key]

    def zoom_values(self, factor: float, *, around_y: float | None = None) -> None:
        """Make the values' range ``factor`` times as wide: of the lane at ``around_y`` pixels, or of all."""
        found = dict(self._history.values)
        for lane, scale in zip(self.lanes, self.scales(), strict=True):
            if around_y is not None and not scale.rect.top() <= around_y <= scale.rect.bottom():
                continue
            low, high = scale.low, scale.high
            around = 0.5 * (low + high) if around_y is None else scale.value_at(around_y)
            found[lane.key] = self._held(lane.key, around, (around - low) / (high - low), (high - low) * factor)
        self._history.show_values(found, moving=True)
        self._changed_view()

    def _held(self, key: str, around: float, below: float, span: float) -> tuple[float, float]:
        """A range of values, held between what the axis can write and ten times all there is."""
        own_low, own_high = self._own[key]
        span = min(max(span, DEEPEST_VALUES * (own_high - own_low)), 10.0 * (own_high - own_low))
        return around - below * span, around + (1.0 - below) * span

    def move_values(self, share: float) -> None:
        """Move the values of all lanes by a share of what is shown."""
        found = dict(self._history.values)
        for lane in self.lanes:
            low, high = self.value_range(lane.key)
            found[lane.key] = low + share * (high - low), high + share * (high - low)
        self._history.show_values(found, moving=True)
        self._changed_view()

    def show_values(self, key: str, low: float, high: float, *, moving: bool = False) -> None:
        """Show a range of values in one lane."""
        reach = self._held(key, 0.5 * (low + high), 0.5, high - low)
        self._history.show_values(self._history.values | {key: reach}, moving=moving)
        self._changed_view()

    def show_box(self, start_s: float, stop_s: float, key: str, low: float, high: float) -> None:
        """Show a stretch of time, and a range of values in one lane: one step back together."""
        reach = self._held(key, 0.5 * (low + high), 0.5, high - low)
        self._history.show(start_s, stop_s, values=self._history.values | {key: reach})
        self._changed_view()

    # Geometry

    def scales(self) -> list[Scale]:
        """Scale of each lane, top to bottom."""
        lanes = self.lanes
        if not lanes:
            return []
        left = axis_width(self.font())
        usable = max(self.height() - time_axis_height(self.font()) - GAP * (len(lanes) - 1) - 2, 1.0)
        least = min(LEAST_LANE_PIXELS, usable / len(lanes))
        whole = sum(lane.weight for lane in lanes)
        spare = usable - least * len(lanes)
        found, top = [], 1.0
        for lane in lanes:
            height = least + spare * lane.weight / whole
            rect = QRectF(QRectF(left, top, max(self.width() - left - 2, 10.0), height).toRect())
            found.append(Scale(rect, *self._history.view, *self.value_range(lane.key)))
            top += height + GAP
        return found

    def layers(self) -> list[tuple[Lane, Scale]]:
        """Each lane and what is laid over it, with the scale that it is drawn at."""
        return [
            (layer, layer_scale(lane, layer, scale))
            for lane, scale in zip(self.lanes, self.scales(), strict=True)
            for layer in lane.layers
        ]

    def lane_at(self, y: float) -> int | None:
        """Number of the lane at some height, pixels."""
        for number, scale in enumerate(self.scales()):
            if scale.rect.top() <= y <= scale.rect.bottom():
                return number
        return None

    def sizeHint(self) -> QSize:
        return QSize(900, 420)
