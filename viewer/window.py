"""The window: five places in the order of the work, joined over one desk."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QAbstractScrollArea,
    QHBoxLayout,
    QLineEdit,
    QMainWindow,
    QVBoxLayout,
    QWidget,
)

from loomlight.viewer import window_pages
from loomlight.viewer.actions import Actions
from loomlight.viewer.desk import Desk
from loomlight.viewer.dressing import Dressing
from loomlight.viewer.file_actions import FileActions
from loomlight.viewer.icon import begin_icons, set_icon
from loomlight.viewer.job_actions import JobActions
from loomlight.viewer.library_keeping import LibraryKeeping
from loomlight.viewer.looks import letters_in, own_application, theme_of
from loomlight.viewer.message_strip import MessageStrip
from loomlight.viewer.opening import Opening
from loomlight.viewer.page_stack import PageScroll, PageStack
from loomlight.viewer.rail import PLACES, Rail
from loomlight.viewer.recovery import Recovery
from loomlight.viewer.settings import Settings
from loomlight.viewer.snapshot_keeping import SnapshotKeeping
from loomlight.viewer.style_sheet import style_sheet
from loomlight.viewer.units import use_units
from loomlight.viewer.window_actions import offer_actions, offer_page
from loomlight.viewer.window_layout import remember, restore_page, restore_window
from loomlight.viewer.window_pages import CAPTURES, COMPARE, JOB, LIBRARY, PROOF, WIGGLE

if TYPE_CHECKING:
    from loomlight.signal.capture import Capture
    from loomlight.storage.library import Library
    from loomlight.viewer.capture_actions import CaptureActions
    from loomlight.viewer.pages.captures_page import CapturesPage
    from loomlight.viewer.pages.compare_page import ComparePage
    from loomlight.viewer.pages.job_page import JobPage
    from loomlight.viewer.pages.library_page import LibraryPage
    from loomlight.viewer.pages.proof_page import ProofPage
    from loomlight.viewer.pages.wiggle_page import WigglePage
    from loomlight.viewer.snapshot_view import SeenView
    from loomlight.viewer.watching import Watching
    from loomlight.viewer.window_pages import Page


class Window(QMainWindow):
    """Joins the pages; what they share lies on the desk. A page is made when it is first wanted."""

    def __init__(self, library: Library | Path, settings: Settings) -> None:
        """``library`` as `Desk` takes it."""
        super().__init__()
        self.settings = settings
        self._is_library_listed = False
        self._made: dict[int, Page] = {}
        self.desk = Desk(library, self)
        self.strip = MessageStrip()
        self.snapshots = SnapshotKeeping(self.desk, self)
        self.opening = Opening(self.desk, self)
        self.library_keeping = LibraryKeeping(self.desk, settings, self)
        self.jobs = JobActions(self.desk, self.opening, self)
        self.files = FileActions(self.desk, self.opening, settings, self)
        begin_icons(theme_of(settings))
        self.rail = Rail()
        self.theme_button = self.rail.theme_button
        self.pages = PageStack(len(window_pages.NAMES))
        self.actions = Actions(settings, self, complete=self.make_pages)
        self.recovery = Recovery(self)
        self.setWindowTitle("Loomlight")
        self.setAcceptDrops(True)
        self.setMinimumSize(960, 600)
        self._build()
        self._connect()
        restore_window(self)
        self.apply_theme()

    def _build(self) -> None:
        self._column = QVBoxLayout()
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.addWidget(self.strip)
        scroll = PageScroll(self.pages)
        self._column.addWidget(scroll, 1)
        whole = QWidget()
        row = QHBoxLayout(whole)
        row.setContentsMargins(4, 4, 4, 4)
        row.setSpacing(0)
        row.addWidget(self.rail)
        row.addLayout(self._column, 1)
        self.setCentralWidget(whole)
        bars = (scroll.horizontalScrollBar(), scroll.verticalScrollBar())
        self.dressing = Dressing(self, self.pages, (self.rail, self.strip, *bars))

    def _connect(self) -> None:
        self.theme_button.clicked.connect(self.change_theme)
        for part in (self.snapshots, self.jobs, self.files, self.library_keeping, self.recovery):
            part.said.connect(self.strip.say)
            part.failed.connect(self.strip.say_error)
        self.snapshots.kept.connect(self._tell_kept)
        self.jobs.leaving.connect(self._leave_job)
        self.jobs.taken.connect(self._take_title)
        self.jobs.page_wanted.connect(lambda: self.go_to(JOB))
        self.jobs.compare_wanted.connect(lambda: self.compare_page.run())
        self.opening.opened_together.connect(lambda opened: self.capture_actions.offer_to_join(opened))
        self.opening.asked.connect(lambda path, stage: self.capture_actions.ask_reading(path, stage))
        self.recovery.offered.connect(lambda text, name, act: self.strip.say(text, offer=(name, act)))
        self.files.page_wanted.connect(self.go_to)
        self.files.job_wanted.connect(self.jobs.open_job)
        self.files.snapshot_read.connect(self._show_seen)
        self.opening.first_picture.connect(self._show_first_picture)
        self.rail.place_wanted.connect(self.go_to)
        self.rail.actions_button.clicked.connect(self.actions.ask)
        self.rail.settings_button.clicked.connect(self.ask_settings)
        offer_actions(self, self.actions)
        self.actions.start()
        hints = own_application().styleHints()
        hints.colorSchemeChanged.connect(self._follow_system)
        hints.accessibility().contrastPreferenceChanged.connect(self._follow_system)

    # Pages

    @cached_property
    def job_page(self) -> JobPage:
        """Whose vehicle, what is wrong, what was found and mended."""
        return self._take(JOB, window_pages.make_job_page(self))

    @cached_property
    def capture_actions(self) -> CaptureActions:
        """What the Captures page asks for, with the page."""
        actions = window_pages.make_capture_actions(self)
        self._take(CAPTURES, actions.page)
        return actions

    @property
    def captures_page(self) -> CapturesPage:
        """What was opened, and what each channel is for."""
        return self.capture_actions.page

    @cached_property
    def compare_page(self) -> ComparePage:
        """The suspect over the known-good."""
        return self._take(COMPARE, window_pages.make_compare_page(self))

    @cached_property
    def proof_page(self) -> ProofPage:
        """Before and after the repair."""
        return self._take(PROOF, window_pages.make_proof_page(self))

    @cached_property
    def library_page(self) -> LibraryPage:
        """The waveforms that were kept."""
        return self._take(LIBRARY, window_pages.make_library_page(self))

    @cached_property
    def wiggle_page(self) -> WigglePage:
        """A large verdict on each new export."""
        return self._take(WIGGLE, window_pages.make_wiggle_page(self))

    @cached_property
    def watching(self) -> Watching:
        """The watched folder, with its bar over the pages."""
        watching = window_pages.make_watching(self)
        self._column.insertWidget(0, watching.bar)
        self.dressing.add(watching.bar)
        return watching

    def made(self, place: int) -> Page | None:
        """The page in this place, if it was made."""
        return self._made.get(place)

    def make_page(self, place: int) -> Page:
        """The page in this place; made if it was not."""
        page: Page = getattr(self, window_pages.NAMES[place])
        return page

    def make_pages(self) -> None:
        """Make whichever of the five pages was not made yet."""
        for place in range(len(PLACES)):
            self.make_page(place)

    def _take(self, place: int, page: Page) -> Page:
        self._made[place] = page
        self.pages.take(place, page)
        for kind in (QLineEdit, QAbstractScrollArea):  # a file dropped on a text field is to be opened, not typed in
            for field in page.findChildren(kind):
                field.setAcceptDrops(False)
        restore_page(self, place, page)
        if place < len(PLACES):
            offer_page(self, self.actions, place, page)
            self.actions.start()
        return page

    def begin_wiggle(self) -> None:
        """Judge each new export in large letters; a test that is running is gone back to."""
        if not self.watching.wiggle.is_on:
            self.wiggle_page.begin()
        self.strip.turn_page()
        self.pages.setCurrentWidget(self.wiggle_page)
        self.rail.show_place(COMPARE)

    def place(self) -> int:
        """Which of the five places is shown; Compare where something was opened from there."""
        at = self.pages.currentIndex()
        return at if at < len(PLACES) else COMPARE

    def go_to(self, place: int) -> None:
        """Show one of the five places."""
        self._save_job()
        self.make_page(place)
        if place != self.pages.currentIndex():
            self.strip.turn_page()
        if place == LIBRARY and not self._is_library_listed:
            self._is_library_listed = True  # asked of the disk only where it is looked at
            self.library_page.search()
        self.pages.setCurrentIndex(place)
        self.rail.show_place(place)

    # Themes

    def apply_theme(self) -> None:
        """Draw everything in the remembered theme, contrast and text size."""
        theme = theme_of(self.settings)
        letters_in(self.settings)
        self.dressing.wear(theme, style_sheet(theme, text_size=self.settings.text_size))
        use_units(time=self.settings.time_unit, volts=self.settings.volt_unit)
        is_day = theme.key == "daylight"
        self.theme_button.setText("Night" if is_day else "Daylight")
        set_icon(self.theme_button, "night" if is_day else "daylight")
        for page in self._made.values():
            page.set_theme(theme)

    def change_theme(self) -> None:
        """From daylight to night, or back; fixed from then on, whatever the system asks for."""
        self.settings.theme = "night" if theme_of(self.settings).key == "daylight" else "daylight"
        self.apply_theme()

    def _follow_system(self) -> None:
        if "system" in (self.settings.theme, self.settings.contrast):
            self.apply_theme()

    # Settings and keys

    def ask_settings(self) -> None:
        """Let the user change settings; they count at once."""
        from loomlight.viewer.settings_dialog import SettingsDialog

        dialog = SettingsDialog(self.settings, self)
        if dialog.exec() == SettingsDialog.DialogCode.Accepted:
            self.apply_theme()
            if self.made(COMPARE) is not None:
                self.compare_page.renew_tables()
        dialog.deleteLater()

    def show_keys(self) -> None:
        """List keys and gestures, beside the work."""
        page = self.pages.currentWidget()
        (page if hasattr(page, "panel") else self.compare_page).panel.show_keys()

    # Files

    def _show_first_picture(self, ticket: int, path: Path, coarse: Capture) -> None:
        if self.opening.is_now(ticket):
            if not self.captures_page.is_coarse:
                self.go_to(CAPTURES)
            self.captures_page.show_first_picture(path, coarse)

    def _show_seen(self, seen: SeenView) -> None:
        """Compare, or prove, again as a snapshot shows it."""
        page = self.proof_page if seen.is_proof else self.compare_page
        page.show_seen(seen)
        self.go_to(PROOF if seen.is_proof else COMPARE)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        self.files.drag(event)

    def dropEvent(self, event: QDropEvent) -> None:
        self.files.drop(event)

    # Jobs

    def open_sample(self) -> None:
        """Open a fresh copy of the sample job: compared, and with its proof ready."""

        def compare() -> None:
            self.compare_page.run()
            self.proof_page.run()

        def show() -> None:
            self.go_to(COMPARE)
            QTimer.singleShot(0, self, compare)

        # Turn by turn: each by itself is short, all at once would be felt.
        self.jobs.open_sample(then=lambda: QTimer.singleShot(0, self, show))

    def _tell_kept(self, saved: str) -> None:
        """A picture is in the job: say so, and what comes next."""
        from loomlight.viewer.pages.next_step import next_step

        job = self.desk.job
        if job is None:
            return
        step = next_step(job)
        self.strip.say(f"Saved in the job as {saved}. {step.text}", offer=(step.button, self._go_on))

    def _go_on(self) -> None:
        self.go_to(JOB)
        self.job_page.go_on()

    def _take_title(self, title: str) -> None:
        self.setWindowTitle(f"{title} – Loomlight")
        if self.desk.folder is not None:
            self.settings.remember_job(self.desk.folder.path)

    def _leave_job(self) -> None:
        """What belongs to the job that is left stays with it."""
        self._save_job()
        if self._is_watching_made():
            self.watching.repeat.give_up()
        if self.made(COMPARE) is not None:
            self.compare_page.aside.cancel()
        if self.made(PROOF) is not None:
            self.proof_page.aside.cancel()

    def _save_job(self) -> None:
        if self.made(JOB) is not None:
            self.job_page.save()

    def _is_watching_made(self) -> bool:
        return "watching" in vars(self)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Save what was typed, stop what runs, remember the window."""
        remember(self)
        if self._is_watching_made():
            self.watching.stop()
        self.jobs.close_work()
        self.opening.close()
        self.library_keeping.close_work()
        self.recovery.close_work()
        self.snapshots.close_work()
        if self.made(CAPTURES) is not None:
            self.capture_actions.close_work()
        for page in self._made.values():
            page.close_work()
        event.accept()
