"""Some Qt bindings lose a reference to None with each call and abort the process after some thousands of them."""

import sys

from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot


def test_calls_that_return_none_keep_its_reference_count(qtbot: QtBot) -> None:
    widget = QWidget()
    qtbot.addWidget(widget)
    before = sys.getrefcount(None)
    for _ in range(1000):
        widget.update()
    assert sys.getrefcount(None) > before - 100
