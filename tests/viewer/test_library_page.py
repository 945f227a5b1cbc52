"""The Library page: found as it is typed, shown, edited and taken back, compared, deleted and brought back."""

import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QPushButton
from pytestqt.qtbot import QtBot

from loomlight.signal.entry import Entry
from loomlight.signal.job import Job
from loomlight.storage.library import Library
from loomlight.storage.library_import import Incoming
from loomlight.storage.library_pictures import COLUMNS, picture_of
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.choice import Choice
from loomlight.viewer.desk import Desk
from loomlight.viewer.entry_dialog import EntryDialog
from loomlight.viewer.keep_dialog import KeepDialog
from loomlight.viewer.keeping import known_before, to_remember
from loomlight.viewer.library_sharing import ask_take
from loomlight.viewer.pages.library_page import LibraryPage
from loomlight.viewer.theme import THEMES

SLOW_MS = 60_000
KNOWN = Entry(id="", title="Flap LIN", kind="lin", channel="", make="Coachling", system="heating")


@pytest.fixture
def filled(library: Library, stick: Path) -> Library:
    capture = open_capture(stick / "after.csv")
    library.add(capture, "#2", KNOWN)
    library.add(capture, "#1", replace(KNOWN, title="Blower LIN", make="Vanlet", system="ventilation"))
    return library


@pytest.fixture
def page(filled: Library, qtbot: QtBot) -> LibraryPage:
    shown = LibraryPage(Desk(filled), THEMES["daylight"])
    qtbot.addWidget(shown, before_close_func=lambda one: one.close_work())
    shown.resize(1238, 760)
    shown.show()
    shown.search()
    qtbot.waitUntil(lambda: shown.list.count() == 2, timeout=SLOW_MS)
    return shown


def titles(page: LibraryPage) -> list[str]:
    return [row.entry.title for row in page.list.rows]


def choose(page: LibraryPage, title: str) -> None:
    page.list.setCurrentRow(titles(page).index(title))


def press(qtbot: QtBot, button: QPushButton) -> None:
    assert button.isVisible()
    assert button.isEnabled()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def heard(page: LibraryPage) -> list[tuple[str, Callable[[], None]]]:
    told: list[tuple[str, Callable[[], None]]] = []
    page.offered.connect(lambda text, _name, act: told.append((text, act)))
    return told


def test_what_is_typed_is_found_with_its_slips(page: LibraryPage, qtbot: QtBot) -> None:
    qtbot.keyClicks(page.words, "vannete")
    qtbot.waitUntil(lambda: titles(page) == ["Blower LIN"], timeout=SLOW_MS)
    assert "vanlet" in page.finder._note.text()
    page.words.clear()
    qtbot.waitUntil(lambda: page.list.count() == 2, timeout=SLOW_MS)
    page.finder.system.setCurrentIndex(page.finder.system.findData("heating"))
    page.finder.search_anew()
    qtbot.waitUntil(lambda: titles(page) == ["Flap LIN"], timeout=SLOW_MS)
    qtbot.waitUntil(lambda: bool(page.list.pictures), timeout=SLOW_MS)


def test_the_parts_tell_about_the_entry(page: LibraryPage, qtbot: QtBot) -> None:
    choose(page, "Flap LIN")
    qtbot.waitUntil(lambda: bool(page.panel.lanes.lanes), timeout=SLOW_MS)
    for part, told in enumerate(
        ("Make: Coachling", "In general, LIN bus", "kept", "1: after.csv", "not used in any job")
    ):
        page.about.parts.button(part).click()
        qtbot.waitUntil(lambda told=told: told in page.about.text.text(), timeout=SLOW_MS)


def test_an_edit_is_taken_back_by_one_press(page: LibraryPage, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> None:
    def typed(dialog: EntryDialog) -> QDialog.DialogCode:
        dialog.lines["pin"].setText("7")
        dialog.lines["probe_factor"].setText("x10")
        dialog.lines["tags"].setText("a, b")
        return QDialog.DialogCode.Accepted

    monkeypatch.setattr(EntryDialog, "exec", typed)
    told = heard(page)
    choose(page, "Flap LIN")
    press(qtbot, page.buttons.edit_button)
    qtbot.waitUntil(lambda: "Pin: 7" in page.about.text.text(), timeout=SLOW_MS)
    entry = page.list.rows[page.list.currentRow()].entry
    assert (entry.title, entry.pin, entry.probe_factor, entry.tags) == ("Flap LIN", "7", 10.0, ("a", "b"))
    told[0][1]()
    qtbot.waitUntil(lambda: "Pin: 7" not in page.about.text.text(), timeout=SLOW_MS)
    page.about.parts.button(2).click()
    assert "taken back" in page.about.text.text()


def test_what_was_deleted_is_brought_back_from_the_bin(page: LibraryPage, qtbot: QtBot) -> None:
    told = heard(page)
    choose(page, "Flap LIN")
    press(qtbot, page.buttons.delete_button)
    qtbot.waitUntil(lambda: titles(page) == ["Blower LIN"], timeout=SLOW_MS)
    told[0][1]()
    qtbot.waitUntil(lambda: page.list.count() == 2, timeout=SLOW_MS)
    choose(page, "Blower LIN")
    press(qtbot, page.buttons.delete_button)
    qtbot.waitUntil(lambda: titles(page) == ["Flap LIN"], timeout=SLOW_MS)
    page.finder.view.setCurrentIndex(2)
    page.finder.search_anew()
    qtbot.waitUntil(lambda: titles(page) == ["Blower LIN"], timeout=SLOW_MS)
    assert "kept for 30 more days" in page.list.rows[0].second
    press(qtbot, page.buttons.restore_button)
    qtbot.waitUntil(lambda: page.list.count() == 0, timeout=SLOW_MS)
    page.finder.view.setCurrentIndex(0)
    page.finder.search_anew()
    qtbot.waitUntil(lambda: page.list.count() == 2, timeout=SLOW_MS)


def test_two_entries_are_laid_over_one_another(page: LibraryPage, qtbot: QtBot) -> None:
    choose(page, "Flap LIN")
    press(qtbot, page.buttons.beside_button)
    choose(page, "Blower LIN")
    qtbot.waitUntil(lambda: "Said otherwise" in page.about.text.text(), timeout=SLOW_MS)
    assert "Make: Coachling  |  Vanlet" in page.about.text.text()
    assert len(page.panel.lanes.lanes[0].all_traces) == 2
    press(qtbot, page.buttons.beside_button)
    qtbot.waitUntil(lambda: "Make: Vanlet" in page.about.text.text(), timeout=SLOW_MS)


def test_what_is_like_a_waveform_is_listed_best_first(page: LibraryPage, qtbot: QtBot, stick: Path) -> None:
    channel = open_capture(stick / "known_good.h5").channels[0]
    page.find_like(channel, "the suspect")
    qtbot.waitUntil(lambda: "Most like the suspect" in page.finder._note.text(), timeout=SLOW_MS)
    assert all("fit" in row.remark for row in page.list.rows)
    page.finder.leave_like()
    qtbot.waitUntil(lambda: not page.finder._note.isVisible(), timeout=SLOW_MS)


def test_what_is_being_changed_is_finished_when_the_window_closes(page: LibraryPage) -> None:
    choose(page, "Flap LIN")
    page.actions.delete(page.list.rows[page.list.currentRow()].entry)
    page.close_work()
    assert [one.title for one in page._desk.library.all()] == ["Blower LIN"]


def test_a_damaged_entry_is_shown_as_such(page: LibraryPage, qtbot: QtBot) -> None:
    library = page._desk.library
    path = library.path_of(library.resolve("Flap LIN"))
    content = bytearray(path.read_bytes())
    content[-1000] ^= 1
    path.write_bytes(content)
    page.search()
    qtbot.waitUntil(lambda: not page.finder._searching.is_busy, timeout=SLOW_MS)
    choose(page, "Blower LIN")
    choose(page, "Flap LIN")  # a long file's check sum is looked at when it is opened
    qtbot.waitUntil(lambda: any("damaged" in row.second for row in page.list.rows), timeout=SLOW_MS)
    choose(page, "Flap LIN")
    assert "check sum" in page.about.text.text()
    assert not page.use_button.isEnabled()
    assert page.buttons.delete_button.isEnabled()


def test_further_captures_are_added_and_confirmed(page: LibraryPage, qtbot: QtBot, stick: Path) -> None:
    choose(page, "Flap LIN")
    capture = open_capture(stick / "known_good.h5")
    page.actions.add_capture(
        page.list.rows[page.list.currentRow()].entry, Choice(capture.channels[0], stick, "x", capture=capture)
    )
    qtbot.waitUntil(lambda: page.buttons.confirm_button.isVisible(), timeout=SLOW_MS)
    qtbot.waitUntil(lambda: len(page.panel.lanes.lanes) == 2, timeout=SLOW_MS)
    page.about.parts.button(3).click()
    qtbot.waitUntil(lambda: "If the newest capture is confirmed" in page.about.text.text(), timeout=SLOW_MS)
    press(qtbot, page.buttons.confirm_button)
    qtbot.waitUntil(lambda: not page.buttons.confirm_button.isVisible(), timeout=SLOW_MS)
    qtbot.waitUntil(lambda: "2 good captures" in page.about.text.text(), timeout=SLOW_MS)
    assert [trace.label for trace in page.panel.lanes.lanes[0].all_traces][:2] == [
        "envelope, lower end",
        "envelope, upper end",
    ]


def test_the_starter_set_comes_only_when_asked(tmp_path: Path, qtbot: QtBot) -> None:
    shown = LibraryPage(Desk(Library(tmp_path / "new")), THEMES["night"])
    qtbot.addWidget(shown, before_close_func=lambda one: one.close_work())
    shown.show()
    shown.search()
    qtbot.waitUntil(lambda: not shown.finder._searching.is_busy, timeout=SLOW_MS)
    assert not (tmp_path / "new").exists()
    press(qtbot, shown.finder.starter_button)
    qtbot.waitUntil(lambda: shown.list.count() >= 3, timeout=SLOW_MS)
    assert all("simulated" in row.second for row in shown.list.rows)


def test_shared_and_taken_from_the_page(
    page: LibraryPage, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out, told = tmp_path / "out.zip", []
    page.said.connect(told.append)
    page.sharing.export(tuple(row.entry for row in page.list.rows), out, private=False)
    qtbot.waitUntil(lambda: any("2 exported" in one for one in told), timeout=SLOW_MS)
    with zipfile.ZipFile(out) as packed:
        assert len([one for one in packed.namelist() if one.endswith(".h5")]) == 2
    page._desk.use_library(Library(tmp_path / "elsewhere"))
    seen = []
    monkeypatch.setattr(
        "loomlight.viewer.library_sharing.ask_take", lambda _page, incoming: seen.extend(incoming) or "keep"
    )
    page.sharing.look(out)
    qtbot.waitUntil(lambda: any("2 new" in one for one in told), timeout=SLOW_MS)
    assert {one.state for one in seen} == {"new"}
    page.sharing.check()
    qtbot.waitUntil(lambda: any("2 of 2 files" in one for one in told), timeout=SLOW_MS)


def test_the_question_about_different_ones_is_asked(
    qtbot: QtBot, page: LibraryPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = page.list.rows[0].entry
    incoming = [Incoming(Path("x.h5"), "x", entry, state) for state in ("new", "different")]  # type: ignore[arg-type]
    monkeypatch.setattr(QDialog, "exec", lambda _: QDialog.DialogCode.Accepted)
    assert ask_take(page, incoming) == "keep"
    monkeypatch.setattr(QDialog, "exec", lambda _: QDialog.DialogCode.Rejected)
    assert ask_take(page, incoming) is None


# Keeping


def test_only_what_is_unknown_is_asked(page: LibraryPage, qtbot: QtBot, stick: Path) -> None:
    choice = SimpleNamespace(channel=open_capture(stick / "before.csv").channels[0])
    known = known_before(
        "lin", None, {"make": "Coachling", "year": "2019", "vin": "ZZZ00000000123456", "system": "heating"}
    )
    dialog = KeepDialog(choice, known, page)  # type: ignore[arg-type]
    qtbot.addWidget(dialog)
    dialog.show()
    assert not dialog.lines["make"].isVisible()
    dialog.lines["pin"].setText("7")
    dialog.ticks["idle"].click()
    entry = dialog.entry()
    assert (entry.vehicle_text, entry.vin, entry.pin, entry.conditions) == ("Coachling 2019", known.vin, "7", ("idle",))
    assert known_before("lin", None, to_remember(entry)).vehicle_text == "Coachling 2019"
    dialog.ask_vehicle()
    assert dialog.lines["make"].isVisible()
    assert (dialog.entry().vehicle_text, dialog.entry().vin) == ("", "")
    dialog.more_button.click()
    assert dialog.lines["wire_colour"].isVisible()


def test_the_jobs_vehicle_comes_before_the_last_one() -> None:
    last = {"make": "Coachling", "vin": "ZZZ00000000123456", "system": "heating", "instrument": "four channels"}
    known = known_before("lin", Job("x", vehicle="Vanlet 2014", vin="ZZZ00000000999999"), last)
    assert (known.vehicle_text, known.vin, known.system) == ("Vanlet 2014", "ZZZ00000000999999", "")
    assert known.instrument == "four channels"
    assert known_before("lin", Job("x"), last).make == "Coachling"


def test_a_small_picture_shows_a_telling_stretch(stick: Path) -> None:
    channel = open_capture(stick / "after.csv").channels[0]
    picture = picture_of(channel)
    assert picture.low.size == picture.high.size == COLUMNS
    assert (int(picture.low.min()), int(picture.high.max())) == (0, 255)
    changes = ((picture.low < 60).astype(int)[1:] != (picture.low < 60).astype(int)[:-1]).sum()
    assert 4 <= changes <= 30  # single bits are told apart
