"""What a wire looks like is offered, and taken only where the button is pressed."""

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from loomlight.viewer.window import Window

SLOW_MS = 30_000


@pytest.fixture
def opened(window: Window, qtbot: QtBot, stick: Path) -> Window:
    """With another kind chosen for a LIN bus."""
    window.desk.chosen.ask = replace(window.desk.chosen.ask, kind="own-limits")
    window.files.open([stick / "after.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    window.go_to(2)
    return window


def test_it_is_offered_and_taken_by_a_button(opened: Window, qtbot: QtBot) -> None:
    offer = opened.compare_page.kind_offer
    qtbot.waitUntil(lambda: not offer.isHidden(), timeout=SLOW_MS)
    assert "LIN bus" in offer.text.text()
    assert opened.desk.chosen.ask.kind == "own-limits"
    qtbot.mouseClick(offer.use_button, Qt.MouseButton.LeftButton)
    assert opened.desk.chosen.ask.kind == "lin"
    assert offer.isHidden()
    assert opened.compare_page.asking.kind.key() == "lin"


def test_who_leaves_it_is_not_asked_again(opened: Window, qtbot: QtBot) -> None:
    offer = opened.compare_page.kind_offer
    qtbot.waitUntil(lambda: not offer.isHidden(), timeout=SLOW_MS)
    qtbot.mouseClick(offer.leave_button, Qt.MouseButton.LeftButton)
    opened.desk.choice_changed.emit()
    assert offer.isHidden()
    assert opened.desk.chosen.ask.kind == "own-limits"
