"""The list of actions: all of them found, done, and their keys changed without a clash."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.actions import Action
from loomlight.viewer.actions_dialog import ActionsDialog
from loomlight.viewer.keys import EVERYWHERE, LANES, KeyBook, KeyUse
from loomlight.viewer.lanes.key_list import KeyList
from loomlight.viewer.lanes.lane_keys import use_keys
from loomlight.viewer.settings import Settings
from loomlight.viewer.window import PLACES, Window

SAVE = KeyUse("Save", "Compare", ("Ctrl+S",))
PROVE = KeyUse("Save picture", "Proof", ("Ctrl+S",))
OPEN = KeyUse("Open", EVERYWHERE, ("Ctrl+O",))
BOX = KeyUse("Box", LANES, ("B",))
NOTES = KeyUse("Notes", "Job", ("B",))


@pytest.fixture(autouse=True)
def _keys_of_lanes_as_delivered() -> None:
    use_keys({})


def book(**changed: str) -> KeyBook:
    return KeyBook((SAVE, PROVE, OPEN, BOX, NOTES), changed)


def test_the_same_keys_may_serve_two_pages_but_nothing_twice_on_one() -> None:
    keys = book()
    assert keys.holder(SAVE, "Ctrl+S") is None
    assert keys.holder(SAVE, "Ctrl+O") is OPEN
    assert keys.holder(SAVE, "B") is BOX
    assert keys.holder(NOTES, "B") is None  # no lanes on that page
    with pytest.raises(LoomlightError, match=r"Ctrl\+O is “Open” \(everywhere\) already"):
        keys.change(SAVE, "Ctrl+O")
    with pytest.raises(LoomlightError, match="needed to walk"):
        keys.change(SAVE, "Tab")
    keys.change(SAVE, "Ctrl+O", take=True)
    assert (keys.keys(SAVE), keys.keys(OPEN)) == (("Ctrl+O",), ())
    keys.as_delivered(OPEN)
    assert (keys.keys(SAVE), keys.keys(OPEN)) == ((), ("Ctrl+O",))


def test_keys_as_delivered_never_clash(window: Window) -> None:
    delivered = window.actions.book
    for use in delivered.uses.values():
        for keys in use.keys:
            assert delivered.holder(use, keys) is None, f"{use.id}: {keys}"
            assert not QKeySequence(keys).isEmpty()


def test_every_button_of_the_five_pages_is_in_the_list(window: Window) -> None:
    names = {(one.use.place, one.use.name) for one in window.actions.found("")}
    assert window.actions.found("compare")[0].use.name == "Compare"
    assert window.actions.found("snapshot")[0].use.name == "Save snapshot"
    for place, page in zip(PLACES, (window.job_page, window.captures_page, window.compare_page), strict=False):
        for button in page.findChildren(QPushButton):
            words = button.accessibleName() or button.text()
            if button.objectName() != "part" and button.property("action") is not False and words:
                assert (
                    (place, words) in names
                    or button is window.captures_page.reading_button
                    or words in ("The next step of this job",)
                ), words
    assert (LANES, "draw a box to zoom into") in names
    assert (EVERYWHERE, "Wiggle test") in names


def test_found_by_words_and_done(window: Window, qtbot: QtBot) -> None:
    dialog = ActionsDialog(window.actions, window)
    qtbot.addWidget(dialog)
    dialog.words.setText("go libr")
    assert next(one.use.name for one in dialog._shown) == "Go to Library"
    qtbot.keyClick(dialog.words, Qt.Key.Key_Return)
    assert isinstance(dialog.wanted, Action)
    dialog.wanted.act()
    assert window.pages.currentWidget() is window.library_page
    dialog.words.setText("no such thing")
    assert dialog.chosen() is None
    assert not dialog.do_button.isEnabled()
    assert "Type fewer" in dialog.hint.text()


def test_keys_are_changed_kept_and_counted(window: Window, qtbot: QtBot, own_home: Path) -> None:
    dialog = ActionsDialog(window.actions, window)
    qtbot.addWidget(dialog)
    dialog.words.setText("go to proof")
    dialog.keys.setKeySequence(QKeySequence("Ctrl+O"))
    assert "“Open capture”" in dialog.problem.text()
    assert not dialog.use_button.isEnabled()
    dialog.keys.setKeySequence(QKeySequence("Ctrl+Y"))
    dialog.use_button.click()
    assert dialog.table.item(0, 2).text() == "Ctrl+Y"
    assert "Ctrl+Y" in window.rail.places[3].toolTip()
    window.activateWindow()
    qtbot.keyClick(window, Qt.Key.Key_Y, Qt.KeyboardModifier.ControlModifier)
    assert window.pages.currentWidget() is window.proof_page
    window.go_to(0)
    qtbot.keyClick(window, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
    assert window.pages.currentWidget() is window.job_page
    dialog.words.setText("draw a box")
    dialog.keys.setKeySequence(QKeySequence("Q"))
    dialog.use_button.click()
    box = next(one for one, _, name, _ in window.compare_page.panel.tools._tips if name == "draw a box to zoom into")
    assert "(Q, " in box.toolTip()
    assert Settings(own_home / "loomlight.ini").keys == {
        "everywhere: Go to Proof": "Ctrl+Y",
        "on the lanes: draw a box to zoom into": "Q",
    }
    dialog.first_button.click()
    assert "(B, " in box.toolTip()


def test_f1_lists_the_keys_on_whatever_page(window: Window, qtbot: QtBot) -> None:
    for place in (0, 2):
        window.go_to(place)
        qtbot.keyClick(window, Qt.Key.Key_F1)
        (shown,) = [one for one in window.findChildren(KeyList) if one.isVisible()]
        shown.reject()
