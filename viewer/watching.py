"""The watched folder at work: what arrives is opened, compared like the one before, and its verdict shown."""

from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.choice import Opened
from loomlight.viewer.desk import Desk
from loomlight.viewer.opening import Opening
from loomlight.viewer.pages.compare_page import ComparePage
from loomlight.viewer.repeat_comparison import RepeatComparison, in_hand
from loomlight.viewer.settings import Settings
from loomlight.viewer.watch_bar import WatchBar
from loomlight.viewer.watched_folder import WatchedFolder, watch_text
from loomlight.viewer.wiggle_record import Told
from loomlight.viewer.wiggle_test import WiggleTest
from loomlight.viewer.wording import STATE_SIGNS, verdict_headline


class Watching(QObject):
    """Joins the watched folder with the desk; off until the user turns it on."""

    captures_wanted = Signal()
    compare_wanted = Signal()

    def __init__(self, desk: Desk, opening: Opening, page: ComparePage, settings: Settings, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk, self._opening, self._settings, self._window = desk, opening, settings, parent
        self._page = page
        self.bar = WatchBar()
        self.folder = WatchedFolder(self)
        self.repeat = RepeatComparison(desk, page, self)
        self.wiggle = WiggleTest(desk, self)
        self.folder.arrived.connect(self._open)
        self.folder.state_changed.connect(self._show_state)
        self.bar.stop_wanted.connect(self.stop)
        self.bar.folder_wanted.connect(self.ask_folder)
        self.repeat.compared.connect(self._show_verdict)
        self.repeat.failed.connect(self._show_failure)
        self.repeat.page_wanted.connect(self.compare_wanted)

    def turn_on(self) -> None:
        """Watch the folder that is remembered; the first time the user chooses one."""
        folder = self._settings.watched_folder
        if folder is None:
            self.ask_folder()
        else:
            self.start(folder)

    def ask_folder(self) -> None:
        """Let the user choose the folder."""
        before = self.folder.folder or self._settings.watched_folder or Path.home()
        name = QFileDialog.getExistingDirectory(
            self._window, "Folder that the instrument's software saves its exports into", str(before)
        )
        if name:
            self.start(Path(name))

    def start(self, folder: Path) -> None:
        """Watch a folder: each new export is opened, and compared like the one before."""
        self._settings.watched_folder = folder
        self.repeat.give_up()
        self.bar.show_verdict("")
        self.folder.start(folder)

    def stop(self) -> None:
        """Watch no more."""
        self.repeat.give_up()
        self.wiggle.end()
        self.folder.stop()

    def show_told(self, told: Told) -> None:
        """Open one capture of the wiggle test, and compare it; in a job it is kept there."""
        self._opening.add([(told.path, "other")], each=self._compare_told)

    def _compare_told(self, opened: Opened) -> None:
        pinned = self.wiggle.pinned
        if pinned is None:
            return
        self._page.asking.show_ask(pinned.ask)
        self.repeat.add(opened, pinned=pinned.hand)

    def _open(self, paths: list[Path]) -> None:
        if self.wiggle.is_on:
            self.wiggle.add(paths)
            return
        self._opening.add([(path, "other") for path in paths], each=self._take)

    def _take(self, opened: Opened) -> None:
        if not self.folder.is_on:
            return
        if in_hand(self._desk) is None:
            self.bar.show_verdict(
                f"{_clock()}  {opened.path.name} is open. Press Compare once; what follows is compared alike."
            )
            self.captures_wanted.emit()
        else:
            self.bar.show_verdict(f"{_clock()}  {opened.path.name} is being compared …")
            self.repeat.add(opened)

    def _show_verdict(self, opened: Opened) -> None:
        assert self._desk.drawn is not None
        verdict = self._desk.drawn.comparison.verdict
        sign, headline = STATE_SIGNS[verdict.state], verdict_headline(verdict)
        self.bar.show_verdict(f"{sign}  {headline}   ({opened.path.name}, {_clock()})")

    def _show_failure(self, error: LoomlightError) -> None:
        self.bar.show_verdict(f"✗  {error}")

    def _show_state(self) -> None:
        self.bar.show_state(watch_text(self.folder.state, self.folder.folder))


def _clock() -> str:
    return datetime.now().astimezone().strftime("%H:%M:%S")
