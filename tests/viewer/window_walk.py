"""Walks through everything that the window can show: every page, every part of it, every sheet."""

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QApplication, QDialog, QWidget

from loomlight.sample_captures.starter import add_starter
from loomlight.signal.entry import Entry
from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import KINDS
from loomlight.signal.limit_curve import OwnLimits
from loomlight.storage.library_import import Incoming
from loomlight.storage.limits_store import LimitsStore
from loomlight.viewer.actions_dialog import ActionsDialog
from loomlight.viewer.bounds_dialog import BoundsDialog
from loomlight.viewer.channel_setup_dialog import ChannelSetupDialog
from loomlight.viewer.entry_dialog import EntryDialog
from loomlight.viewer.job_output import PackDialog
from loomlight.viewer.jobs_dialog import JobsDialog
from loomlight.viewer.keep_dialog import KeepDialog
from loomlight.viewer.kind_dialog import KindDialog
from loomlight.viewer.lanes.key_list import KeyList
from loomlight.viewer.limits_dialog import LimitsDialog
from loomlight.viewer.looks import theme_of
from loomlight.viewer.new_job_dialog import NewJobDialog
from loomlight.viewer.pages.job_parts import PARTS
from loomlight.viewer.picture_dialog import PictureDialog
from loomlight.viewer.report_dialog import ReportDialog
from loomlight.viewer.settings_dialog import SettingsDialog
from loomlight.viewer.sharing_dialogs import ExportDialog, ImportDialog
from loomlight.viewer.suppose_dialog import SupposeDialog
from loomlight.viewer.window import PLACES, Window


def walked(window: Window) -> Iterator[tuple[str, QWidget]]:
    """Every page of a window with the sample job, part by part, then every sheet: its name and the widget, shown."""
    for place, name in enumerate(PLACES):
        window.go_to(place)
        for part, words in enumerate(PARTS if name == "Job" else ("",)):
            if name == "Job":
                window.job_page.parts.go_to(part)
            QApplication.processEvents()
            yield f"{name} {words}".strip(), window
    window.go_to(PLACES.index("Compare"))
    compare = window.compare_page
    for number in range(5):
        if compare.tables._group.button(number).isHidden():
            continue
        compare.tables.show_table(number)
        QApplication.processEvents()
        yield f"Compare table {number}", window
    compare.panel.fold_button.setChecked(True)
    QApplication.processEvents()
    yield "Compare folded", window
    compare.panel.fold_button.setChecked(False)
    compare.hand_button.setChecked(True)
    QApplication.processEvents()
    yield "Compare by hand", window
    compare.hand_button.setChecked(False)
    compare.drawing.draw("upper")
    until(lambda: compare.drawing.hand.is_on)
    yield "Compare, a limit is drawn", window
    compare.show_comparison()
    yield from library_states(window)
    yield from file_states(window)
    window.watching.wiggle.begin()
    window.pages.setCurrentWidget(window.wiggle_page)
    QApplication.processEvents()
    yield "Wiggle test", window
    window.watching.wiggle.end()
    for sheet in sheets(window):
        sheet.show()
        QApplication.processEvents()
        yield type(sheet).__name__, sheet
        sheet.done(0)
        sheet.deleteLater()


def walked_empty(window: Window) -> Iterator[tuple[str, QWidget]]:
    """Every place while nothing is open: what it says, and what it offers."""
    for place, name in enumerate(PLACES):
        window.go_to(place)
        until(lambda: not window.library_page.finder._searching.is_busy)
        yield f"{name}, empty", window
    window.strip.say_error(LoomlightError("A line that tells what is wrong, where, and what to do."))
    QApplication.processEvents()
    yield "An error", window
    window.strip.say("Taken away.", offer=("Undo", lambda: None))
    QApplication.processEvents()
    yield "An offer", window
    window.strip.hide()


def library_states(window: Window) -> Iterator[tuple[str, QWidget]]:
    """The library with entries, one of them with a second capture, one in the bin; what is like one; two laid together."""
    page, library = window.library_page, window.desk.library
    if len(library.all()) < 3:
        add_starter(library)
        library.add_capture(library.all()[0], library.open(library.all()[0]), library.all()[0].channel, note="warmer")
        library.delete(library.all()[-1])
    window.go_to(PLACES.index("Library"))
    page.finder.view.setCurrentIndex(0)
    page.search()
    until(lambda: page.list.count() > 1 and not page.finder._searching.is_busy)
    for row in range(2):
        page.list.setCurrentRow(row)
        until(lambda: not page._opening.is_busy)
        for number in range(5):
            page.about.parts.button(number).click()
            QApplication.processEvents()
            yield f"Library entry {row}, part {number}", window
    page.about.parts.button(0).click()
    page._like_entry(page.list.rows[0].entry)
    until(lambda: bool(page.finder._like) and not page._looking.is_busy)
    yield "Library, what is like it", window
    page.finder.leave_like()
    page.finder.view.setCurrentIndex(2)
    page.finder.search_anew()
    until(lambda: not page.finder._searching.is_busy)
    page.list.setCurrentRow(0)
    QApplication.processEvents()
    yield "Library, the bin", window
    page.finder.view.setCurrentIndex(0)
    page.finder.search_anew()
    until(lambda: not page.finder._searching.is_busy)


def file_states(window: Window) -> Iterator[tuple[str, QWidget]]:
    """How a capture is read, a watched folder."""
    page = window.captures_page
    window.go_to(PLACES.index("Captures"))
    page.files.setCurrentRow(0)
    page.reading_button.click()
    until(lambda: page.reading._shown is not None and not page.reading._looking.is_busy)
    yield "Captures, how it is read", window
    page.end_reading()
    assert window.desk.folder is not None
    window.watching.start(window.desk.folder.path / "snapshots")
    window.watching.bar.show_verdict("Faulty: series resistance in the bus wire, comes and goes")
    QApplication.processEvents()
    yield "A folder is watched", window
    window.watching.stop()


def until(ready: Callable[[], bool], *, seconds: float = 60.0) -> None:
    """Let the window work until it is ready."""
    end = time.monotonic() + seconds
    while not ready():
        assert time.monotonic() < end, "the window did not get ready in time"
        QApplication.processEvents()
    QApplication.processEvents()


def sheets(window: Window) -> Iterator[QDialog]:
    """Every sheet, made with what lies on the desk."""
    desk = window.desk
    suspect = desk.chosen.suspect
    assert suspect is not None
    assert desk.folder is not None
    yield NewJobDialog(window)
    yield JobsDialog((desk.folder.path.parent,), window)
    known = Entry(id="", title="", kind="lin", channel="", make="Coachling")
    yield KeepDialog(suspect, known, window)
    yield KeepDialog(suspect, replace(known, make=""), window)
    yield EntryDialog(known, window)
    yield PictureDialog(window)
    yield ReportDialog(window.settings, window)
    yield PackDialog(window)
    for kind in (one.load() for one in KINDS):
        yield KindDialog(kind, desk.chosen.ask, suspect, desk.chosen.good, window)
        if kind.supposer is not None:
            yield SupposeDialog(kind.supposer.faults, ("0x21",), 1000.0, window)
    store = LimitsStore(desk.folder.path / "limits")
    yield LimitsDialog(OwnLimits(), store, desk.chosen.good and desk.chosen.good.channel, "V", window)
    yield ExportDialog(1, window)
    states = ("new", "different", "same", "refused")
    yield ImportDialog([Incoming(Path("other.h5"), "x", known, one, note="note") for one in states], window)
    yield BoundsDialog("blower LIN", "V", (0.0, 12.0), window)
    yield ChannelSetupDialog(suspect.channel, (), theme_of(window.settings), window)
    yield KeyList(window)
    yield SettingsDialog(window.settings, window)
    yield ActionsDialog(window.actions, window)
