"""Wiggle test: a verdict on each capture that arrives, read from two metres, and which touch changed it."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from loomlight.viewer.large_verdict import LargeVerdict, letter_pixels
from loomlight.viewer.theme import DAYLIGHT
from loomlight.viewer.wiggle_record import MOST_SHOWN, Answer, Told, WiggleRecord, quiet_sentence
from loomlight.viewer.wiggle_strip import WiggleStrip
from loomlight.viewer.window import Window

SLOW_MS = 30_000
BEGAN = datetime(2026, 3, 2, 14, 30, 0)
WORDS: dict[Answer, str] = {
    "clean": "Clean: nothing found",
    "faulty": "Faulty: open wire",
    "not read": "x was not read",
}


def record(*answers: Answer, held: tuple[str, ...] = ()) -> WiggleRecord:
    whole = WiggleRecord()
    for number, answer in enumerate(answers):
        at, holding = BEGAN + timedelta(seconds=3 * number), held[number] if held else ""
        whole = whole.with_told(Told(at, Path(f"run {number}.csv"), answer, WORDS.get(answer, answer), "why", holding))
    return whole


def test_a_change_is_told_with_its_touch_and_a_file_that_was_not_read_is_none() -> None:
    told = record("clean", "clean", "not read", "faulty", "faulty", held=("", "", "", "plug X14", "plug X14"))
    assert [told.is_change(one) for one in told.told] == [False, False, False, True, False]
    sentence = told.sentence(told.told[3])
    assert sentence.startswith("14:30:09  ✗  run 3.csv: faulty: open wire.")
    assert "Changed from clean: nothing found at 14:30:03." in sentence
    assert "Held: plug X14." in sentence
    assert told.summary() == "5 captures, 1 change, 1 not read"


def test_the_last_fifty_are_shown_and_a_change_at_their_edge_is_still_one() -> None:
    answers: list[Answer] = ["clean"] * 10 + ["faulty"] * MOST_SHOWN
    told = record(*answers)
    assert len(told.shown) == 50
    assert told.is_change(told.shown[0])


def test_quiet_is_told_in_seconds_and_asked_about_after_a_minute() -> None:
    assert quiet_sentence(12.4, "/exports", is_first=False) == "Nothing new for 12 s."
    assert quiet_sentence(7384.0, "/exports", is_first=False).startswith("Nothing new for 2 h 3 min.")
    assert quiet_sentence(75.0, "/exports", is_first=True) == (
        "Waiting for the first capture for 1 min 15 s. Does the instrument still save into /exports?"
    )


@pytest.mark.parametrize("answer", ["clean", "faulty", "cannot tell", "not read"])
def test_letters_are_high_enough_for_two_metres(qtbot: QtBot, answer: Answer) -> None:
    # ISO 9241-303 prefers letters of 20 to 22 minutes of arc: 12.8 mm at 2 m, at 96 dots an inch 48 pixels (from memory).
    large = LargeVerdict(DAYLIGHT)
    qtbot.addWidget(large)
    large.resize(1000, 240)  # less than the page gives it at 1366 x 768
    large.show_answer(answer, "resistive wire, comes and goes  14:31:07")
    assert QFontMetricsF(large.font_of_text()).capHeight() >= letter_pixels(96.0) > 48.0


def test_the_strip_is_walked_by_key(qtbot: QtBot) -> None:
    strip = WiggleStrip(DAYLIGHT)
    qtbot.addWidget(strip)
    told = record("clean", "faulty", "faulty", "clean", "clean")
    strip.show_record(told)
    assert "run 4.csv" in strip.accessibleDescription()
    for key, wanted in (
        (Qt.Key.Key_PageUp, 3),
        (Qt.Key.Key_PageUp, 1),
        (Qt.Key.Key_PageUp, 1),
        (Qt.Key.Key_Left, 0),
        (Qt.Key.Key_Right, 1),
        (Qt.Key.Key_PageDown, 3),
        (Qt.Key.Key_Home, 0),
    ):
        qtbot.keyClick(strip, key)
        assert strip.chosen is told.told[wanted]
    assert "run 0.csv" in strip.accessibleDescription()
    qtbot.keyClick(strip, Qt.Key.Key_End)
    assert strip.chosen is None


def test_every_answer_has_its_own_look_without_colour(qtbot: QtBot) -> None:
    strip = WiggleStrip(DAYLIGHT)
    qtbot.addWidget(strip)
    strip.resize(1200, strip.sizeHint().height())
    looks = set()
    for answer in ("clean", "faulty", "cannot tell", "not read"):
        strip.show_record(record(answer))  # type: ignore[arg-type]
        grey = strip.grab().toImage().convertToFormat(strip.grab().toImage().Format.Format_Grayscale8)
        looks.add(grey.copy(1170, 0, 30, grey.height()).bits().tobytes())
    assert len(looks) == 4


def test_the_loom_is_moved_and_the_window_tells_which_touch_changed_the_verdict(
    window: Window, qtbot: QtBot, stick: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    exports = tmp_path / "exports"
    exports.mkdir()
    good, bad = (stick / "after.csv").read_bytes(), (stick / "before.csv").read_bytes()
    beeps: list[int] = []
    monkeypatch.setattr(QApplication, "beep", lambda: beeps.append(1))
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(exports))
    page, wiggle = window.wiggle_page, window.watching.wiggle
    window.begin_wiggle()  # nothing was compared: it says what to do
    assert not wiggle.is_on
    assert not window.watching.folder.is_on
    window.files.open([stick / "after.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    window.go_to(2)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        window.compare_page.run()
    qtbot.keyClick(window, Qt.Key.Key_G, Qt.KeyboardModifier.ControlModifier)
    assert window.pages.currentWidget() is page
    assert "blower LIN against flap LIN" in page.title.text()
    assert not window.watching.bar.isVisible()
    qtbot.waitUntil(lambda: window.watching.folder._changes.directories() == [str(exports)], timeout=SLOW_MS)
    assert "Waiting for the first capture" in page.quiet.text()

    def saved(name: str, content: bytes) -> Told:
        before = len(wiggle.record.told)
        (exports / name).write_bytes(content)
        qtbot.waitUntil(lambda: len(wiggle.record.told) == before + 1, timeout=SLOW_MS)
        return wiggle.record.told[-1]

    assert saved("1.csv", good).answer == "clean"
    assert page.large.text == "✓ Clean"
    assert saved("2.csv", b"no waveform here\n").answer == "not read"
    assert "2.csv" in page.quiet.text()
    assert page.large.text == "✓ Clean"  # the last verdict stays, and the strip tells that one file is missing
    page.held.lineEdit().setText("plug behind the glove box")
    page.sound.setChecked(True)
    window.desk.without_good()  # chosen elsewhere meanwhile: the known-good is pinned
    told = saved("3.csv", bad)
    assert (told.answer, told.held) == ("faulty", "plug behind the glove box")
    assert beeps == [1]
    assert page.large.text == "✗ Faulty"
    assert "Changed from clean" in page.sentence.text()
    assert "plug behind the glove box" in page.sentence.text()
    # Nothing piles up on the desk; what is wanted is shown by one press.
    assert [one.path.name for one in window.desk.opened] == ["after.csv"]
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        page.open_button.click()
    assert window.pages.currentWidget() is window.compare_page
    assert "Faulty" in window.compare_page.card.accessibleDescription()
    assert window.watching.bar.isVisible()
    window.begin_wiggle()
    assert len(wiggle.record.told) == 3  # gone back to, not begun anew
    page.end_button.click()
    assert "has ended" in page.quiet.text()
    assert window.watching.folder.is_on
