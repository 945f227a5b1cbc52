"""Walks through everything that the window can show: every page, every part of it, every sheet."""

from collections.abc import Iterator
from dataclasses import replace

from PySide6.QtWidgets import QApplication, QDialog, QWidget

from loomlight.signal.entry import Entry
from loomlight.signal.kinds.listing import KINDS
from loomlight.viewer.actions_dialog import ActionsDialog
from loomlight.viewer.bounds_dialog import BoundsDialog
from loomlight.viewer.channel_setup_dialog import ChannelSetupDialog
from loomlight.viewer.entry_dialog import EntryDialog
from loomlight.viewer.job_output import PackDialog
from loomlight.viewer.jobs_dialog import JobsDialog
from loomlight.viewer.keep_dialog import KeepDialog
from loomlight.viewer.kind_dialog import KindDialog
from loomlight.viewer.lanes.key_list import KeyList
from loomlight.viewer.looks import theme_of
from loomlight.viewer.new_job_dialog import NewJobDialog
from loomlight.viewer.pages.job_page import PARTS
from loomlight.viewer.picture_dialog import PictureDialog
from loomlight.viewer.report_dialog import ReportDialog
from loomlight.viewer.settings_dialog import SettingsDialog
from loomlight.viewer.suppose_dialog import SupposeDialog
from loomlight.viewer.window import PLACES, Window


def walked(window: Window) -> Iterator[tuple[str, QWidget]]:
    """Every page of a window with the sample job, part by part, then every sheet: its name and the widget, shown."""
    for place, name in enumerate(PLACES):
        window.go_to(place)
        for part, words in enumerate(PARTS if name == "Job" else ("",)):
            if name == "Job":
                window.job_page.go_to_part(part)
            QApplication.processEvents()
            yield f"{name} {words}".strip(), window
    window.go_to(PLACES.index("Compare"))
    compare = window.compare_page
    for number in range(4):
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
    library = window.library_page
    window.go_to(PLACES.index("Library"))
    for number in range(5):
        library._parts.button(number).click()
        QApplication.processEvents()
        yield f"Library part {number}", window
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
    for kind in (KINDS[0].load(), KINDS[-1].load()):  # one that can suppose a fault, and the shortest
        yield KindDialog(kind, desk.chosen.ask, suspect, desk.chosen.good, window)
        if kind.supposer is not None:
            yield SupposeDialog(kind.supposer.faults, ("0x21",), 1000.0, window)
    yield BoundsDialog("blower LIN", "V", (0.0, 12.0), window)
    yield ChannelSetupDialog(suspect.channel, (), theme_of(window.settings), window)
    yield KeyList(window)
    yield SettingsDialog(window.settings, window)
    yield ActionsDialog(window.actions, window)
