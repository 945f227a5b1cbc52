"""The cursors as they are set, dragged, moved by keys and drawn on the lanes."""

from collections.abc import Callable

from PySide6.QtCore import QObject, QPointF, Signal
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QWidget

from loomlight.viewer.lanes.cursors import NONE, Cursors, Pair, Snapping
from loomlight.viewer.lanes.paint_cursors import paint_cursors, paint_level_cursors
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.theme import Theme

GRAB_PIXELS = 22.0
"""Half of the 44 px that a cold finger needs."""
NARROW_GRAB_PIXELS = 8.0
"""Along a level cursor in a lane too low to be moved by hand otherwise; its tab keeps the full size."""


class CursorsOnLanes(QObject):
    """Holds the cursors, and where they snap.

    Parameters
    ----------
    canvas : QWidget
        What the lanes are drawn on.
    laid_out : callable
        Gives the lanes with their scales as they are drawn now.
    """

    changed = Signal()

    def __init__(self, canvas: QWidget, laid_out: Callable[[], list[tuple[Lane, Scale]]]) -> None:
        super().__init__(canvas)
        self._canvas, self._laid_out = canvas, laid_out
        self._cursors, self._snapping = Cursors(), Snapping()

    @property
    def times(self) -> Pair:
        """A and B, seconds; None where not set."""
        return self._cursors.times

    def levels(self, key: str) -> Pair:
        """C and D of a lane; None where not set."""
        return self._cursors.level_pair(key)

    def set_times(self, pair: Pair) -> None:
        """Set A and B."""
        self._cursors.times = pair
        self._told()

    def set_levels(self, key: str, pair: Pair) -> None:
        """Set C and D of a lane."""
        self._cursors.set_levels(key, pair)
        self._told()

    def forget(self) -> None:
        """Take all of them away: they were set on something else."""
        self._cursors.levels.clear()
        self.set_times(NONE)

    def new_samples(self) -> None:
        """Other channels are shown: what was known of their levels is not theirs."""
        self._snapping = Snapping()

    def _told(self) -> None:
        self._canvas.update()
        self.changed.emit()

    # By button and key

    def toggle_times(self) -> None:
        """Set A and B into the view, or take them away."""
        scales = self._laid_out()
        if self.times != NONE or not scales:
            self.set_times(NONE)
            return
        start, stop = scales[0][1].start_s, scales[0][1].stop_s
        self.set_times((start + (stop - start) / 3, start + 2 * (stop - start) / 3))

    def toggle_levels(self, key: str) -> None:
        """Set C and D of a lane to its two states, else into its middle third; or take them away."""
        lane, scale = self._of(key)
        if lane is None or scale is None or self.levels(key) != NONE:
            self.set_levels(key, NONE)
            return
        states = self._snapping.states(lane.traces[-1], scale)
        third = (scale.high - scale.low) / 3
        if states is None or not scale.low < states[0] < states[1] < scale.high:
            states = scale.low + third, scale.low + 2 * third
        self.set_levels(key, states)

    def move_time(self, number: int, share: float) -> None:
        """Move A or B by a share of the view, where it is set."""
        scales, at_s = self._laid_out(), self.times[number]
        if at_s is not None and scales:
            self._put_time(number, at_s + share * (scales[0][1].stop_s - scales[0][1].start_s))

    def move_level(self, key: str, number: int, share: float) -> None:
        """Move C or D of a lane by a share of its height, where it is set."""
        _, scale = self._of(key)
        value = self.levels(key)[number]
        if value is not None and scale is not None:
            self._put_level(key, number, value + share * (scale.high - scale.low))

    def to_edge(self, number: int, key: str, *, forward: bool) -> float | None:
        """Move A or B to a lane's next edge, or to the one before; gives the edge's time, None where there is none near."""
        lane, scale = self._of(key)
        at_s = self.times[number]
        if lane is None or scale is None or at_s is None:
            return None
        found = self._snapping.next_time(lane, scale, at_s, forward=forward)
        if found is not None:
            self._cursors.set_time(number, found)
            self._told()
        return found

    # By hand

    def time_at(self, x: float) -> tuple[int, float] | None:
        """The time cursor within reach of a finger, and how far off it is."""
        scales = self._laid_out()
        if not scales:
            return None
        off = {
            number: abs(float(scales[0][1].x_of(at_s)) - x)
            for number, at_s in enumerate(self.times)
            if at_s is not None and scales[0][1].start_s <= at_s <= scales[0][1].stop_s
        }
        return _nearest(off, GRAB_PIXELS)

    def level_at(self, key: str, place: QPointF) -> tuple[int, float] | None:
        """The level cursor within reach of a finger, and how far off it is."""
        _, scale = self._of(key)
        if scale is None:
            return None
        off = {
            number: abs(float(scale.y_of(value)) - place.y())
            for number, value in enumerate(self.levels(key))
            if value is not None and scale.low <= value <= scale.high
        }
        at_tab = place.x() >= scale.rect.right() - 4 * GRAB_PIXELS
        return _nearest(off, GRAB_PIXELS if at_tab or scale.rect.height() >= 7 * GRAB_PIXELS else NARROW_GRAB_PIXELS)

    def drag_time(self, number: int, at_s: float, key: str, *, snaps: bool) -> None:
        """Put A or B at a time in the view, on the edge beside it where it snaps."""
        lane, scale = self._of(key)
        if snaps and lane is not None and scale is not None:
            at_s = self._snapping.time(lane, scale, at_s)
        self._put_time(number, at_s)

    def drag_level(self, key: str, number: int, value: float, *, snaps: bool) -> None:
        """Put C or D at a value, on the state or limit beside it where it snaps."""
        lane, scale = self._of(key)
        if snaps and lane is not None and scale is not None:
            value = self._snapping.level(lane, scale, value)
        self._put_level(key, number, value)

    def _put_time(self, number: int, at_s: float) -> None:
        scales = self._laid_out()
        if scales:
            self._cursors.set_time(number, min(max(at_s, scales[0][1].start_s), scales[0][1].stop_s))
            self._told()

    def _put_level(self, key: str, number: int, value: float) -> None:
        _, scale = self._of(key)
        if scale is not None:
            self._cursors.set_level(key, number, min(max(value, scale.low), scale.high))
            self._told()

    def _of(self, key: str) -> tuple[Lane, Scale] | tuple[None, None]:
        return next((one for one in self._laid_out() if one[0].key == key), (None, None))

    # Drawing

    def paint(self, painter: QPainter, lane: Lane, scale: Scale, theme: Theme, *, labelled: bool) -> None:
        """Draw what stands in one lane; the letters of A and B in one lane only."""
        paint_level_cursors(painter, scale, theme, self.levels(lane.key), lane.unit)
        paint_cursors(painter, scale, theme, self.times, labelled=labelled)


def _nearest(off: dict[int, float], reach: float) -> tuple[int, float] | None:
    near = min(off, key=lambda number: off[number], default=None)
    return (near, off[near]) if near is not None and off[near] <= reach else None
