"""What the frames of a bus say, written along the foot of a lane."""

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen

from loomlight.signal.frame_table import FrameRow, FrameWord
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.theme import Theme

STRIP_PIXELS = 18.0
LEAST_PIXELS = 4.0
MOST_BOXES = 300
"""More than this in sight are too narrow to read anyway."""


class Words:
    """Words and frames of one channel, made ready once for drawing them in every frame."""

    def __init__(self, rows: Sequence[FrameRow]) -> None:
        self._words = tuple(word for row in rows for word in row.words)
        self._frames = tuple(
            FrameWord(
                row.start_s, row.stop_s, row.identifier or "?", row.state not in ("good", "no response", "past the end")
            )
            for row in rows
        )
        self._starts = {id(one): np.array([word.start_s for word in one]) for one in (self._words, self._frames)}

    def __bool__(self) -> bool:
        return bool(self._frames)

    def shown(self, scale: Scale, text_pixels: float) -> list[FrameWord]:
        """Words in sight where there is room to read them; else frames by their identifiers; else nothing."""
        for words in (self._words, self._frames):
            found = self._in_sight(words, scale)
            if not found or len(found) > MOST_BOXES:
                continue
            widths = np.diff(scale.x_of(np.array([(word.start_s, word.stop_s) for word in found])), axis=1)
            if float(np.median(widths)) >= text_pixels:
                return found
        return []

    def _in_sight(self, words: tuple[FrameWord, ...], scale: Scale) -> list[FrameWord]:
        starts = self._starts[id(words)]
        first = max(int(np.searchsorted(starts, scale.start_s)) - 1, 0)
        last = int(np.searchsorted(starts, scale.stop_s, side="right"))
        if last - first > 2 * MOST_BOXES:
            return [*words[first:last]]
        return [word for word in words[first:last] if word.stop_s > scale.start_s]


def paint_words(painter: QPainter, words: Words, scale: Scale, theme: Theme) -> None:
    """Draw boxes with what is said along the lane's foot; what is wrong has a heavy frame and a ✗."""
    metrics = QFontMetricsF(painter.font())
    found = words.shown(scale, metrics.horizontalAdvance("00") + LEAST_PIXELS)
    top = scale.rect.bottom() - STRIP_PIXELS
    for word in found:
        left, right = (float(x) for x in scale.x_of([word.start_s, word.stop_s]))
        left, right = max(left, scale.rect.left() - 2), min(right, scale.rect.right() + 2)
        box = QRectF(left, top, max(right - left, LEAST_PIXELS), STRIP_PIXELS - 2)
        painter.fillRect(box, QColor(theme.ground))
        painter.setPen(QPen(QColor(theme.text if word.is_wrong else theme.rule), 2.5 if word.is_wrong else 1.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(box)
        text = f"✗ {word.text}" if word.is_wrong else word.text
        shown = text if metrics.horizontalAdvance(text) <= box.width() - 2 else _short(word, metrics, box.width() - 2)
        if shown:
            painter.setPen(QColor(theme.text))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, shown)


def _short(word: FrameWord, metrics: QFontMetricsF, room: float) -> str:
    """The telling part alone ("break" of "break 13", "22" of "id 22"), or nothing where that does not fit either."""
    first, _, last = word.text.partition(" ")
    last = first if first == "break" else last or first
    return last if metrics.horizontalAdvance(last) <= room else ""
