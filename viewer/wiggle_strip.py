"""The last verdicts of a wiggle test side by side: each by its sign, its height and its fill, with the time of each change."""

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from loomlight.viewer.theme import Theme
from loomlight.viewer.wiggle_record import MOST_SHOWN, SIGNS, Answer, Told, WiggleRecord

HEIGHTS: dict[Answer, float] = {"faulty": 1.0, "cannot tell": 0.66, "clean": 0.45, "not read": 0.3}
LINE_GAP = 4.0


class WiggleStrip(QWidget):
    """Shows a record, the newest at the right; one of its verdicts is chosen by mouse or by key."""

    picked = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._record = WiggleRecord()
        self._chosen: Told | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(f"The last {MOST_SHOWN} verdicts")
        self.setToolTip("Left and right: one by one; Page up and Page down: from change to change; End: the newest")

    def sizeHint(self) -> QSize:
        line = round(QFontMetricsF(self.font()).height())
        return QSize(600, 2 * line + 78)

    def minimumSizeHint(self) -> QSize:
        return QSize(300, self.sizeHint().height())

    @property
    def chosen(self) -> Told | None:
        """What is chosen; None: the newest is followed."""
        return self._chosen

    def show_record(self, record: WiggleRecord) -> None:
        """Show another record; what is chosen stays chosen as long as it is shown."""
        self._record = record
        if all(one is not self._chosen for one in record.shown):
            self._chosen = None
        self._tell()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    def pick(self, one: Told | None) -> None:
        """Choose one; None follows the newest."""
        self._chosen = one
        self.picked.emit(one)
        self._tell()

    def step(self, by: int, *, changes: bool = False) -> None:
        """Choose the next one, or the next change, to the right or to the left."""
        shown = self._record.shown
        if not shown:
            return
        at = next((place for place, one in enumerate(shown) if one is self._chosen), len(shown) - 1)
        places = range(at + by, len(shown) if by > 0 else -1, 1 if by > 0 else -1)
        wanted = [place for place in places if not changes or self._record.is_change(shown[place])]
        if wanted:
            self.pick(shown[wanted[0]])

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
        changes = {Qt.Key.Key_PageUp: -1, Qt.Key.Key_PageDown: 1}
        key = Qt.Key(event.key())
        if key in steps:
            self.step(steps[key])
        elif key in changes:
            self.step(changes[key], changes=True)
        elif key == Qt.Key.Key_Home and self._record.shown:
            self.pick(self._record.shown[0])
        elif key == Qt.Key.Key_End:
            self.pick(None)
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        shown = self._record.shown
        place = int(event.position().x() // self._cell()) - (MOST_SHOWN - len(shown))
        if 0 <= place < len(shown):
            self.pick(shown[place])

    def _tell(self) -> None:
        one = self._chosen or (self._record.shown[-1] if self._record.shown else None)
        self.setAccessibleDescription(self._record.sentence(one) if one is not None else "Nothing was told yet.")
        self.update()

    def _cell(self) -> float:
        return self.width() / MOST_SHOWN

    # Painting

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        theme, metrics = self._theme, QFontMetricsF(self.font())
        line = metrics.height()
        painter.fillRect(self.rect(), QColor(theme.ground))
        painter.setPen(QPen(QColor(theme.accent if self.hasFocus() else theme.rule), 3 if self.hasFocus() else 1))
        painter.drawRect(self.rect().adjusted(1, 1, -2, -2))
        top, foot = line + LINE_GAP, self.height() - line - LINE_GAP
        cell, shown = self._cell(), self._record.shown
        first = MOST_SHOWN - len(shown)
        for place, one in enumerate(shown):
            room = QRectF((first + place) * cell + 2, top, cell - 4, foot - top)
            self._paint_cell(painter, one, room)
        self._paint_times(painter, metrics, first)
        self._paint_held(painter, metrics, first)

    def _paint_cell(self, painter: QPainter, one: Told, room: QRectF) -> None:
        theme = self._theme
        box = QRectF(room.left(), 0, room.width(), room.height() * HEIGHTS[one.answer])
        box.moveBottom(room.bottom())
        if one.answer == "faulty":
            painter.fillRect(box, QBrush(QColor(theme.finding), Qt.BrushStyle.BDiagPattern))
        pen = QPen(QColor(theme.text), 1.6)
        pen.setStyle(Qt.PenStyle.DashLine if one.answer in ("cannot tell", "not read") else Qt.PenStyle.SolidLine)
        painter.setPen(pen)
        painter.drawRect(box)
        if one is self._chosen:
            painter.setPen(QPen(QColor(theme.text), 3.0))
            painter.drawRect(room.adjusted(-1, 0, 1, 2))
        sign = QFont(self.font())
        sign.setBold(True)
        painter.setFont(sign)
        painter.setPen(QColor(theme.text))
        height = QFontMetricsF(sign).height()
        under = QRectF(box.left() - 4, box.bottom() - height - 1, box.width() + 8, height)
        if one.answer == "faulty":
            painter.fillRect(QRectF(box.left() + 1, under.top(), box.width() - 2, height), QColor(theme.ground))
        painter.drawText(under, Qt.AlignmentFlag.AlignCenter, SIGNS[one.answer])
        painter.setFont(self.font())

    def _paint_times(self, painter: QPainter, metrics: QFontMetricsF, first: int) -> None:
        """The time of each change that there is room for, and a bar where it begins; else of the oldest and the newest."""
        cell, shown = self._cell(), self._record.shown
        width = metrics.horizontalAdvance("00:00:00") + 8
        free = self.width()
        last = len(shown) - 1
        for place in range(last, -1, -1):
            changed = self._record.is_change(shown[place])
            x = (first + place) * cell
            if changed:
                painter.fillRect(
                    QRectF(x - 1.5, metrics.height(), 3.0, self.height() - 2 * metrics.height()), self._text()
                )
            left = min(max(x, 2.0), self.width() - width)
            if (changed or place == 0) and left + width <= free:
                free = left
                painter.setPen(self._text())
                painter.drawText(
                    QRectF(left, 1, width, metrics.height()), Qt.AlignmentFlag.AlignLeft, shown[place].clock
                )

    def _paint_held(self, painter: QPainter, metrics: QFontMetricsF, first: int) -> None:
        """What was held, under the captures for which it was."""
        cell, shown = self._cell(), self._record.shown
        start = 0
        for place in range(1, len(shown) + 1):
            if place < len(shown) and shown[place].held == shown[start].held:
                continue
            held = shown[start].held
            if held:
                left, right = (first + start) * cell + 2, (first + place) * cell - 2
                row = QRectF(left, self.height() - metrics.height() - 2, right - left, metrics.height())
                painter.setPen(QPen(self._text(), 2.0))
                painter.drawLine(row.topLeft(), row.topRight())
                text = metrics.elidedText(held, Qt.TextElideMode.ElideRight, row.width())
                painter.drawText(row, Qt.AlignmentFlag.AlignLeft, text)
            start = place

    def _text(self) -> QColor:
        return QColor(self._theme.text)
