"""One verdict in letters that are read from across the workshop."""

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from loomlight.viewer.theme import Theme
from loomlight.viewer.wiggle_record import SIGNS, WORDS, Answer

LEAST_LETTER_MM = 16.0
"""Height of a capital: 22 minutes of arc at 2 m are 12.8 mm (ISO 9241-303 prefers 20 to 22 minutes; from memory)."""
MM_PER_INCH = 25.4
FRAME_PIXELS = 22.0
SMALLER_LINE = 0.36


def letter_pixels(dots_per_inch: float) -> float:
    """Least height of a capital in pixels of a screen with so many dots an inch."""
    return LEAST_LETTER_MM / MM_PER_INCH * dots_per_inch


class LargeVerdict(QWidget):
    """A sign, a word and a line under them, as large as the room allows. The frame tells the state once more, without colour.

    Faulty stands on a hatched frame, clean in a plain one, what cannot be told in a dashed one.
    """

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._answer: Answer | None = None
        self._line = ""
        self.setAccessibleName("Verdict on the newest capture")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumHeight(170)

    def show_answer(self, answer: Answer | None, line: str) -> None:
        """Show an answer, or only a line where there is none yet."""
        self._answer, self._line = answer, line
        self.setAccessibleDescription(f"{WORDS[answer]}. {line}" if answer is not None else line)
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    @property
    def text(self) -> str:
        """What stands there in large letters."""
        return f"{SIGNS[self._answer]} {WORDS[self._answer]}" if self._answer is not None else ""

    def font_of_text(self) -> QFont:
        """The largest font in which the text fits."""
        room = self._room()
        return _fitting(self.font(), self.text or "–", room.width(), room.height() * (1.0 - SMALLER_LINE))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_frame(painter)
        room = self._room()
        painter.setPen(QColor(self._theme.text))
        middle = int(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignVCenter)
        if self._answer is None:
            painter.setFont(_fitting(self.font(), self._line, room.width(), room.height() / 4))
            painter.drawText(room, middle | int(Qt.TextFlag.TextWordWrap), self._line)
            return
        split = room.top() + room.height() * (1.0 - SMALLER_LINE)
        painter.setFont(self.font_of_text())
        painter.drawText(QRectF(room.left(), room.top(), room.width(), split - room.top()), middle, self.text)
        under = QRectF(room.left(), split, room.width(), room.bottom() - split)
        painter.setFont(_fitting(self.font(), self._line, under.width(), under.height() * 0.8))
        painter.drawText(under, middle, self._line)

    def _room(self) -> QRectF:
        inset = FRAME_PIXELS + 8.0
        return QRectF(self.rect()).adjusted(inset, inset, -inset, -inset)

    def _paint_frame(self, painter: QPainter) -> None:
        theme = self._theme
        whole = QRectF(self.rect())
        inner = whole.adjusted(FRAME_PIXELS, FRAME_PIXELS, -FRAME_PIXELS, -FRAME_PIXELS)
        painter.fillRect(whole, QColor(theme.ground))
        if self._answer == "faulty":
            painter.fillRect(whole, QBrush(QColor(theme.finding), Qt.BrushStyle.BDiagPattern))
            painter.fillRect(inner, QColor(theme.ground))
        pen = QPen(QColor(theme.text), 4.0)
        if self._answer in ("cannot tell", "not read"):
            pen.setStyle(Qt.PenStyle.DashLine)
        painter.setPen(pen)
        painter.drawRect(inner)
        if self._answer == "faulty":
            painter.drawRect(whole.adjusted(2.0, 2.0, -2.0, -2.0))


def _fitting(font: QFont, text: str, width: float, height: float) -> QFont:
    """The font in the largest size in which one line of text fits."""
    found = QFont(font)
    found.setPixelSize(100)
    metrics = QFontMetricsF(found)
    wide = metrics.horizontalAdvance(text) or 1.0
    found.setPixelSize(max(int(100 * min(width / wide, height / metrics.height())), 12))
    found.setBold(False)
    return found
