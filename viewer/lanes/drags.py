"""What a hand does with the lanes between pressing and letting go: one class a gesture."""

from typing import Protocol

from PySide6.QtCore import QPointF, QRectF

from loomlight.viewer.lanes.lane_canvas import LaneCanvas
from loomlight.viewer.lanes.lane_view import GAP, LEAST_LANE_PIXELS
from loomlight.viewer.lanes.notes_on_lanes import Hold

MOVE_PIXELS = 4.0
"""A hand that moved less only pressed."""
BOX_PIXELS = 30.0
"""A box lower than this zooms the time alone."""


class Drag(Protocol):
    """A gesture under way."""

    def move(self, place: QPointF, *, exactly: bool) -> None:
        """The hand is at ``place``; ``exactly`` where nothing shall snap."""

    def drop(self, place: QPointF) -> None:
        """The hand let go at ``place``."""


class Pan:
    """Moves the view with the hand."""

    def __init__(self, canvas: LaneCanvas, start: QPointF) -> None:
        self._canvas, self._start, self._view = canvas, start, canvas.view()

    def move(self, place: QPointF, *, exactly: bool) -> None:
        start, stop = self._view
        width = max(self._canvas.scales()[0].rect.width(), 1.0)
        shift = (self._start.x() - place.x()) / width * (stop - start)
        self._canvas.set_view(start + shift, stop + shift, moving=True)

    def drop(self, place: QPointF) -> None:
        if (place - self._start).manhattanLength() <= MOVE_PIXELS:
            self._canvas.press(place)


class MoveValues:
    """Moves one lane's values with the hand."""

    def __init__(self, canvas: LaneCanvas, start: QPointF, lane: int) -> None:
        self._canvas, self._start, self._scale = canvas, start, canvas.scales()[lane]
        self._key = canvas.lanes[lane].key

    def move(self, place: QPointF, *, exactly: bool) -> None:
        low, high = self._scale.low, self._scale.high
        shift = (place.y() - self._start.y()) / max(self._scale.rect.height(), 1.0) * (high - low)
        self._canvas.show_values(self._key, low + shift, high + shift, moving=True)

    def drop(self, place: QPointF) -> None:
        pass


class Box:
    """Draws a box and zooms into it: time alone where it is flat, time and one lane's values where it is tall."""

    def __init__(self, canvas: LaneCanvas, start: QPointF, lane: int | None) -> None:
        self._canvas, self._start, self._lane = canvas, start, lane

    def _is_tall(self, place: QPointF) -> bool:
        return self._lane is not None and abs(place.y() - self._start.y()) >= BOX_PIXELS

    def move(self, place: QPointF, *, exactly: bool) -> None:
        if self._is_tall(place) and self._lane is not None:
            box = QRectF(self._start, place).normalized() & self._canvas.scales()[self._lane].rect
        else:
            box = QRectF(self._start.x(), 0, place.x() - self._start.x(), self._canvas.height() - 1).normalized()
        self._canvas.show_rubber(box)

    def drop(self, place: QPointF) -> None:
        self._canvas.show_rubber(None)
        scale = self._canvas.scales()[self._lane or 0]
        if abs(place.x() - self._start.x()) <= MOVE_PIXELS:
            return
        ends_s = sorted(scale.time_at(one.x()) for one in (self._start, place))
        if self._is_tall(place) and self._lane is not None:
            ends = sorted(min(max(one.y(), scale.rect.top()), scale.rect.bottom()) for one in (self._start, place))
            key = self._canvas.lanes[self._lane].key
            self._canvas.show_box(ends_s[0], ends_s[1], key, scale.value_at(ends[1]), scale.value_at(ends[0]))
        else:
            self._canvas.set_view(ends_s[0], ends_s[1])


class TimeCursor:
    """Drags A or B; it snaps to the edges of the lane under the hand."""

    def __init__(self, canvas: LaneCanvas, number: int) -> None:
        self._canvas, self._number = canvas, number

    def move(self, place: QPointF, *, exactly: bool) -> None:
        scales = self._canvas.scales()
        lane = self._canvas.lane_at(place.y()) or 0
        key = self._canvas.lanes[lane].key
        self._canvas.cursor_marks.drag_time(self._number, scales[lane].time_at(place.x()), key, snaps=not exactly)

    def drop(self, place: QPointF) -> None:
        pass


class LevelCursor:
    """Drags C or D of one layer; it snaps to states and limits."""

    def __init__(self, canvas: LaneCanvas, key: str, number: int) -> None:
        self._canvas, self._key, self._number = canvas, key, number

    def move(self, place: QPointF, *, exactly: bool) -> None:
        scale = next((scale for layer, scale in self._canvas.layers() if layer.key == self._key), None)
        if scale is not None:
            marks = self._canvas.cursor_marks
            marks.drag_level(self._key, self._number, scale.value_at(place.y()), snaps=not exactly)

    def drop(self, place: QPointF) -> None:
        pass


class MoveNote:
    """Moves a note, or one end of a marked stretch."""

    def __init__(self, canvas: LaneCanvas, start: QPointF, hold: Hold) -> None:
        self._canvas, self._start, self._hold = canvas, start, hold

    def move(self, place: QPointF, *, exactly: bool) -> None:
        if (place - self._start).manhattanLength() > MOVE_PIXELS:
            self._canvas.note_marks.drag(place - self._start, self._hold.part)

    def drop(self, place: QPointF) -> None:
        if (place - self._start).manhattanLength() > MOVE_PIXELS:
            self._canvas.note_marks.drag(place - self._start, self._hold.part, drop=True)


class MarkStretch:
    """Marks a stretch of time from where the hand pressed to where it lets go."""

    def __init__(self, canvas: LaneCanvas, start: QPointF, lane: int) -> None:
        self._canvas, self._start, self._lane = canvas, start, lane

    def move(self, place: QPointF, *, exactly: bool) -> None:
        lane, scale = self._canvas.lanes[self._lane], self._canvas.scales()[self._lane]
        self._canvas.note_marks.stretch(lane, scale, self._start, place)

    def drop(self, place: QPointF) -> None:
        lane, scale = self._canvas.lanes[self._lane], self._canvas.scales()[self._lane]
        if abs(place.x() - self._start.x()) <= MOVE_PIXELS:
            return  # still to be marked: a press alone has no length
        ends_s = (scale.time_at(one.x()) for one in (self._start, place))
        self._canvas.note_marks.place_stretch(lane, scale, self._start.y(), *ends_s)


class MoveLane:
    """Drags a lane by its head: between two others to move it there, onto the middle of one to lay it over that."""

    def __init__(self, canvas: LaneCanvas, start: QPointF, lane: int) -> None:
        self._canvas, self._start, self._lane = canvas, start, lane

    def move(self, place: QPointF, *, exactly: bool) -> None:
        moved = (place - self._start).manhattanLength() > MOVE_PIXELS
        target = self._target(place.y()) if moved else None
        self._canvas.show_rubber(self._rubber(*target) if target is not None else None)

    def drop(self, place: QPointF) -> None:
        self._canvas.show_rubber(None)
        if (place - self._start).manhattanLength() <= MOVE_PIXELS:
            self._canvas.press(place)
            return
        target = self._target(place.y())
        if target is None:
            return
        number, onto = target
        arranging, key = self._canvas.arranging, self._canvas.lanes[self._lane].key
        if onto:
            arranging.lay_over(key, self._canvas.lanes[number].key)
        else:
            arranging.place(key, number - (number > self._lane))

    def _target(self, y: float) -> tuple[int, bool] | None:
        """A lane to be laid over, or the number of the lane before which to stand; None where nothing would change."""
        rects = [scale.rect for scale in self._canvas.scales()]
        for number, rect in enumerate(rects):
            if y > rect.bottom() + 3 and number + 1 < len(rects):
                continue
            share = (y - rect.top()) / max(rect.height(), 1.0)
            if number != self._lane and 0.3 <= share <= 0.7:
                return number, True
            before = number + (share > 0.5)
            return None if before in (self._lane, self._lane + 1) else (before, False)
        return None

    def _rubber(self, number: int, onto: bool) -> QRectF:
        rects = [scale.rect for scale in self._canvas.scales()]
        if onto:
            return rects[number].adjusted(4, 4, -4, -4)
        y = rects[number].top() - 4 if number < len(rects) else rects[-1].bottom() + 1
        return QRectF(rects[0].left(), max(y, 0.0), rects[0].width(), 3)


class LaneHeight:
    """Drags the border between two lanes; both together keep their height."""

    def __init__(self, canvas: LaneCanvas, start: QPointF, upper: int) -> None:
        self._canvas, self._start = canvas, start
        self._rects = [one.rect for one in canvas.scales()[upper : upper + 2]]
        self._lanes = canvas.lanes[upper : upper + 2]

    def move(self, place: QPointF, *, exactly: bool) -> None:
        upper = self._rects[0]
        y = self._held(place.y())
        self._canvas.show_rubber(QRectF(upper.left(), y - 1, upper.width(), 3))

    def _held(self, y: float) -> float:
        """Where the border would stand: it goes with the hand, wherever that took it."""
        upper, lower = self._rects
        border = 0.5 * (upper.bottom() + lower.top()) + y - self._start.y()
        return min(max(border, upper.top() + LEAST_LANE_PIXELS + 16), lower.bottom() - LEAST_LANE_PIXELS - 16)

    def drop(self, place: QPointF) -> None:
        self._canvas.show_rubber(None)
        if abs(place.y() - self._start.y()) <= MOVE_PIXELS:
            return
        # Weights share what is left over from the least that each lane has.
        whole = self._rects[0].height() + self._rects[1].height() - 2 * LEAST_LANE_PIXELS
        upper = self._held(place.y()) - 0.5 * GAP - self._rects[0].top() - LEAST_LANE_PIXELS
        share = min(max(upper / max(whole, 1.0), 0.05), 0.95)
        weight = self._lanes[0].weight + self._lanes[1].weight
        self._canvas.arranging.weigh(
            {self._lanes[0].key: round(weight * share, 3), self._lanes[1].key: round(weight * (1.0 - share), 3)}
        )
