"""Every control of every page and sheet: it has a name that is read out, a size for cold fingers, and shows all its words."""

import sys
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QKeySequenceEdit,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QScrollBar,
    QWidget,
)
from pytestqt.qtbot import QtBot

from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.overview import Overview
from loomlight.viewer.window import Window

sys.path.append(str(Path(__file__).parent))
from window_walk import walked

SLOW_MS = 60_000
TARGET = 44
CONTROLS = (
    QAbstractButton,
    QComboBox,
    QLineEdit,
    QPlainTextEdit,
    QAbstractItemView,
    QKeySequenceEdit,
    LaneStack,
    Overview,
)


def controls(root: QWidget) -> list[QWidget]:
    """What can be pressed, typed into or walked to, as far as it is shown; parts of another control belong to that."""
    shown = [one for one in root.findChildren(QWidget) if isinstance(one, CONTROLS) and one.isVisible()]
    return [
        one
        for one in shown
        if not isinstance(one, QHeaderView)
        and not isinstance(one.parent(), QComboBox | QAbstractItemView | QLineEdit | QKeySequenceEdit)
        and one.window() is root.window()
    ]


def name_of(widget: QWidget) -> str:
    return widget.accessibleName() or (widget.text() if isinstance(widget, QAbstractButton) else "")


@pytest.fixture
def sample(window: Window, qtbot: QtBot) -> Window:
    window.open_sample()
    qtbot.waitUntil(lambda: window.desk.drawn is not None and window.desk.proof is not None, timeout=SLOW_MS)
    return window


def cut_words(widget: QWidget) -> bool:
    """Whether a button's or a line's words need more room than there is."""
    if isinstance(widget, QAbstractButton):
        need = widget.fontMetrics().size(Qt.TextFlag.TextShowMnemonic, widget.text())
        return need.width() > widget.width() or need.height() > widget.height()
    if isinstance(widget, QLabel) and widget.text() and not widget.wordWrap():
        return widget.minimumSizeHint().width() > widget.width() + 1
    return False


def test_names_sizes_and_words_at_usual_and_double_text(sample: Window) -> None:
    nameless, small, cut = set(), set(), set()
    for percent in (100, 200):
        sample.settings.text_size = percent
        sample.apply_theme()
        for place, root in walked(sample):
            for one in controls(root):
                told = f"{percent} % {place}: {type(one).__name__} {name_of(one)!r} {one.width()}x{one.height()}"
                if not name_of(one).strip():
                    nameless.add(told)
                if min(one.width(), one.height()) < TARGET and not isinstance(one, QScrollBar):
                    small.add(told)
                if cut_words(one):
                    cut.add(told)
            cut |= {
                f"{percent} % {place}: {one.text()!r}"
                for one in root.findChildren(QLabel)
                if one.isVisible() and cut_words(one)
            }
    assert not nameless, "no name"
    assert not small, "too small"
    assert not cut, "words cut"
