"""Every control of every page and sheet: it has a name that is read out, a size for cold fingers, and shows all its words."""

import contextlib
import socket
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
from window_walk import walked, walked_empty

from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.overview import Overview
from loomlight.viewer.window import Window

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


def looked_at(percent: int, place: str, root: QWidget, nameless: set[str], small: set[str], cut: set[str]) -> None:
    """Note what is wrong with what is shown."""
    for one in controls(root):
        told = f"{percent} % {place}: {type(one).__name__} {name_of(one)!r} {one.width()}x{one.height()}"
        if not name_of(one).strip():
            nameless.add(told)
        if min(one.width(), one.height()) < TARGET and not isinstance(one, QScrollBar):
            small.add(told)
        if cut_words(one):
            cut.add(told)
    labels = (one for one in root.findChildren(QLabel) if one.isVisible() and cut_words(one))
    cut |= {f"{percent} % {place}: {one.text()!r}" for one in labels}


@pytest.fixture
def sample(window: Window, qtbot: QtBot) -> Window:
    window.open_sample()
    qtbot.waitUntil(lambda: window.desk.drawn is not None and window.desk.proof is not None, timeout=SLOW_MS)
    return window


@pytest.fixture
def network(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every way of Python's to the network is closed, and what tried to take one is told."""
    tried: list[str] = []

    def closed(*arguments: object, **_named: object) -> None:
        tried.append(repr(arguments))
        raise OSError("the network is closed")

    for name in ("connect", "connect_ex", "sendto", "bind"):
        monkeypatch.setattr(socket.socket, name, closed)
    for name in ("create_connection", "getaddrinfo", "gethostbyname"):
        monkeypatch.setattr(socket, name, closed)
    return tried


def network_sockets() -> set[str]:
    """Sockets of this process that belong to the network, as the kernel lists them: what a library opened, too."""
    own = set()
    for one in Path("/proc/self/fd").iterdir():
        with contextlib.suppress(OSError):
            own.add(str(one.readlink()))
    listed = set()
    for name in ("tcp", "tcp6", "udp", "udp6"):
        table = Path("/proc/self/net") / name
        if table.exists():
            listed |= {f"socket:[{line.split()[9]}]" for line in table.read_text().splitlines()[1:]}
    return own & listed


def cut_words(widget: QWidget) -> bool:
    """Whether a button's or a line's words need more room than there is."""
    if isinstance(widget, QAbstractButton):
        need = widget.fontMetrics().size(Qt.TextFlag.TextShowMnemonic, widget.text())
        return need.width() > widget.width() or need.height() > widget.height()
    if isinstance(widget, QLabel) and widget.text() and not widget.wordWrap():
        return widget.minimumSizeHint().width() > widget.width() + 1
    return False


def test_names_sizes_and_words_while_nothing_is_open(window: Window, qtbot: QtBot) -> None:
    wrong: tuple[set[str], set[str], set[str]] = (set(), set(), set())
    for percent in (100, 200):
        window.settings.text_size = percent
        window.apply_theme()
        qtbot.waitUntil(lambda: window.dressing.is_done)
        for place, root in walked_empty(window):
            looked_at(percent, place, root, *wrong)
    assert not any(wrong), "no name; too small; words cut"


def test_names_sizes_and_words_at_usual_and_double_text_and_no_network(
    network: list[str], sample: Window, qtbot: QtBot
) -> None:
    nameless: set[str] = set()
    small: set[str] = set()
    cut: set[str] = set()
    for percent in (100, 200):
        sample.settings.text_size = percent
        sample.apply_theme()
        qtbot.waitUntil(lambda: sample.dressing.is_done)
        for place, root in walked(sample):
            looked_at(percent, place, root, nameless, small, cut)
        if sys.platform == "linux":
            assert not network_sockets()
    assert network == []
    assert not [name for name in sys.modules if "QtNetwork" in name or "QtWeb" in name]
    assert not nameless, "no name"
    assert not small, "too small"
    assert not cut, "words cut"
