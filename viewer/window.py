"""The window: five places in the order of the work, joined over one desk."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QTimer, QUrl
from PySide6.QtGui import QCloseEvent, QDesktopServices, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QAbstractScrollArea,
    QFileDialog,
    QHBoxLayout,
    QLineEdit,
    QMainWindow,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.capture import Capture
from loomlight.signal.errors import LoomlightError
from loomlight.storage.library import Library
from loomlight.viewer.actions import Actions
from loomlight.viewer.capture_actions import CaptureActions
from loomlight.viewer.capture_files import FILTER, dropped
from loomlight.viewer.desk import Desk
from loomlight.viewer.dressing import Dressing
from loomlight.viewer.icon import begin_icons, set_icon
from loomlight.viewer.job_actions import JobActions
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.library_keeping import LibraryKeeping
from loomlight.viewer.looks import letters_in, own_application, theme_of
from loomlight.viewer.message_strip import MessageStrip
from loomlight.viewer.opening import Opening
from loomlight.viewer.page_stack import PageScroll, PageStack
from loomlight.viewer.pages.captures_page import CapturesPage
from loomlight.viewer.pages.compare_page import ComparePage
from loomlight.viewer.pages.job_page import JobPage
from loomlight.viewer.pages.library_page import LibraryPage
from loomlight.viewer.pages.next_step import next_step
from loomlight.viewer.pages.proof_page import ProofPage
from loomlight.viewer.pages.wiggle_page import WigglePage
from loomlight.viewer.rail import PLACES, Rail
from loomlight.viewer.recovery import Recovery
from loomlight.viewer.session import abandoned
from loomlight.viewer.settings import Settings
from loomlight.viewer.snapshot_keeping import SnapshotKeeping
from loomlight.viewer.snapshot_view import choose_as_seen, seen_view
from loomlight.viewer.style_sheet import style_sheet
from loomlight.viewer.units import use_units
from loomlight.viewer.watching import Watching
from loomlight.viewer.window_actions import offer_actions

Page = JobPage | CapturesPage | ComparePage | ProofPage | LibraryPage | WigglePage


class Window(QMainWindow):
    """Joins the pages; what they share lies on the desk."""

    def __init__(self, library: Library, settings: Settings) -> None:
        super().__init__()
        self.settings = settings
        self._is_library_listed = False
        self.desk = Desk(library, self)
        self.strip = MessageStrip()
        self.snapshots = SnapshotKeeping(self.desk, self)
        self.opening = Opening(self.desk, self)
        self.library_keeping = LibraryKeeping(self.desk, settings, self)
        self.jobs = JobActions(self.desk, self.opening, self)
        theme = theme_of(settings)
        begin_icons(theme)
        self.job_page = JobPage(self.desk, settings)
        self.captures_page = CapturesPage(self.desk, theme, settings)
        self.compare_page = ComparePage(self.desk, theme, settings)
        self.proof_page = ProofPage(self.desk, theme)
        self.library_page = LibraryPage(self.desk, theme)
        self.capture_actions = CaptureActions(self.desk, self.opening, self.captures_page, self.strip, settings, self)
        self.watching = Watching(self.desk, self.opening, self.compare_page, settings, self)
        self.wiggle_page = WigglePage(self.desk, self.watching, theme)
        self.actions = Actions(settings, self)
        self.setWindowTitle("Loomlight")
        self.setAcceptDrops(True)
        self.setMinimumSize(960, 600)
        self._build()
        self._connect()
        self.apply_theme()
        self._restore_layout()
        self.wiggle_page.sound.setChecked(settings.wiggle_sound)
        self.wiggle_page.sound.toggled.connect(lambda on: setattr(settings, "wiggle_sound", on))
        self.recovery = Recovery(self)
        self.recovery.said.connect(self.strip.say)
        self.recovery.failed.connect(self.strip.say_error)

    def _build(self) -> None:
        self.rail = Rail()
        self.theme_button = self.rail.theme_button
        self.pages = PageStack()
        for page in self._all_pages():
            self.pages.addWidget(page)
        column = QVBoxLayout()
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.watching.bar)
        column.addWidget(self.strip)
        scroll = PageScroll(self.pages)
        column.addWidget(scroll, 1)
        whole = QWidget()
        row = QHBoxLayout(whole)
        row.setContentsMargins(4, 4, 4, 4)
        row.setSpacing(0)
        row.addWidget(self.rail)
        row.addLayout(column, 1)
        self.setCentralWidget(whole)
        self._leave_drops_to_the_window()
        bars = (scroll.horizontalScrollBar(), scroll.verticalScrollBar())
        self.dressing = Dressing(self, self.pages, (self.rail, self.watching.bar, self.strip, *bars))
        self.go_to(0)

    def _all_pages(self) -> tuple[Page, ...]:
        """The five places, and what is opened from them."""
        return (
            self.job_page,
            self.captures_page,
            self.compare_page,
            self.proof_page,
            self.library_page,
            self.wiggle_page,
        )

    def _connect(self) -> None:
        pages = (self.job_page, self.captures_page, self.compare_page, self.proof_page, self.library_page)
        for page in pages:
            page.failed.connect(self.strip.say_error)
        for showing in (self.captures_page, self.compare_page, self.proof_page, self.library_page):
            showing.panel.said.connect(self.strip.say)
            showing.panel.undo_offered.connect(partial(self._offer_undo, showing.panel.lanes))
        for talking in (self.compare_page, self.proof_page, self.library_page):
            talking.said.connect(self.strip.say)
        self.theme_button.clicked.connect(self.change_theme)
        self.job_page.new_wanted.connect(self.new_job)
        self.job_page.open_wanted.connect(self.jobs.ask_job)
        self.job_page.sample_wanted.connect(self.open_sample)
        self.job_page.captures_wanted.connect(self.ask_files)
        self.job_page.job_wanted.connect(self.open_job)
        self.job_page.place_wanted.connect(lambda place: self.go_to(PLACES.index(place)))
        for offering in (self.captures_page, self.compare_page):
            offering.sample_wanted.connect(self.open_sample)
        self.compare_page.captures_wanted.connect(self.ask_files)
        self.proof_page.after_wanted.connect(self.ask_after)
        self.library_page.captures_wanted.connect(lambda: self.go_to(1))
        self.job_page.output.said.connect(self.strip.say)
        self.job_page.output.made.connect(lambda path: QDesktopServices.openUrl(QUrl.fromLocalFile(str(path))))
        self.job_page.snapshot_wanted.connect(self.open_snapshot)
        self.captures_page.open_wanted.connect(self.ask_files)
        self.captures_page.file_wanted.connect(lambda path: self.open_files([path]))
        self.captures_page.job_wanted.connect(self.open_job)
        self.job_page.file_wanted.connect(lambda path: self.open_files([path]))
        self.capture_actions.page_wanted.connect(lambda: self.go_to(1))
        for offering_wiggle in (self.captures_page, self.watching.bar):
            offering_wiggle.wiggle_wanted.connect(self.begin_wiggle)
        self.wiggle_page.compare_wanted.connect(lambda: self.go_to(2))
        self.wiggle_page.shown_changed.connect(self.watching.bar.hold_back)
        self.captures_page.watch_wanted.connect(self.watching.turn_on)
        self.watching.captures_wanted.connect(lambda: self.go_to(1))
        self.watching.compare_wanted.connect(lambda: self.go_to(2))
        self.watching.folder.state_changed.connect(
            lambda: self.captures_page.watch_button.setVisible(not self.watching.folder.is_on)
        )
        self.captures_page.compare_wanted.connect(lambda: self.go_to(2))
        for page_with_channels in (self.captures_page, self.compare_page):
            page_with_channels.keep_wanted.connect(self.library_keeping.ask)
        for page_with_pictures in (self.compare_page.keeping, self.proof_page):
            page_with_pictures.snapshot_taken.connect(self.snapshots.keep)
            page_with_pictures.export_wanted.connect(self.snapshots.export)
        for part in (self.snapshots, self.jobs, self.library_keeping):
            part.said.connect(self.strip.say)
            part.failed.connect(self.strip.say_error)
        self.snapshots.kept.connect(self._tell_kept)
        self.jobs.leaving.connect(self._leave_job)
        self.jobs.taken.connect(self._take_title)
        self.jobs.page_wanted.connect(lambda: self.go_to(0))
        self.jobs.compare_wanted.connect(self.compare_page.run)
        self.library_page.used.connect(lambda: self.go_to(2))
        self.library_page.offered.connect(lambda text, name, act: self.strip.say(text, offer=(name, act)))
        self.opening.opened.connect(self._show_opened)
        self.opening.failed.connect(self.strip.say_error)
        self.opening.progressed.connect(lambda share: self.captures_page.progress.setValue(round(100 * share)))
        self.opening.busy_changed.connect(self.captures_page.progress.setVisible)
        self.opening.busy_changed.connect(self.captures_page.stop_button.setVisible)
        self.captures_page.stop_wanted.connect(self._stop_reading)
        # The answer itself is handed on right after the work has ended.
        self.opening.busy_changed.connect(
            lambda busy: None if busy else QTimer.singleShot(0, self.captures_page.end_first_picture)
        )
        self.opening.first_picture.connect(self._show_first_picture)
        self.rail.place_wanted.connect(self.go_to)
        self.rail.actions_button.clicked.connect(self.ask_action)
        self.rail.settings_button.clicked.connect(self.ask_settings)
        self.actions.changed.connect(self._renew_tips)
        offer_actions(self, self.actions)
        self.actions.start()
        hints = own_application().styleHints()
        hints.colorSchemeChanged.connect(self._follow_system)
        hints.accessibility().contrastPreferenceChanged.connect(self._follow_system)

    def _offer_undo(self, lanes: LaneStack, text: str) -> None:
        self.strip.say(text, offer=("Undo", lanes.undo))

    def begin_wiggle(self) -> None:
        """Judge each new export in large letters; a test that is running is gone back to."""
        if not self.watching.wiggle.is_on:
            self.wiggle_page.begin()
        self.strip.turn_page()
        self.pages.setCurrentWidget(self.wiggle_page)
        self.rail.show_place(PLACES.index("Compare"))

    def place(self) -> int:
        """Which of the five places is shown; Compare where something was opened from there."""
        at = self.pages.currentIndex()
        return at if at < len(PLACES) else PLACES.index("Compare")

    def bring_back(self, *, ask: bool) -> None:
        """After a hard end: lay everything out again, or offer to (where something else was just opened)."""
        left = abandoned()
        if left is None:
            return
        if ask:
            words = "Loomlight had ended without being closed; what lay there then can be laid out again."
            self.strip.say(words, offer=("Bring it back", partial(self.recovery.bring_back, left)))
        else:
            self.recovery.bring_back(left)

    def go_to(self, place: int) -> None:
        """Show one of the five places."""
        self.job_page.save()
        if place != self.pages.currentIndex():
            self.strip.turn_page()
        if place == PLACES.index("Library") and not self._is_library_listed:
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
        for page in self._all_pages():
            page.set_theme(theme)
        self.capture_actions.theme = theme

    def change_theme(self) -> None:
        """From daylight to night, or back; fixed from then on, whatever the system asks for."""
        self.settings.theme = "night" if theme_of(self.settings).key == "daylight" else "daylight"
        self.apply_theme()

    def _follow_system(self) -> None:
        if "system" in (self.settings.theme, self.settings.contrast):
            self.apply_theme()

    # Settings and actions

    def ask_settings(self) -> None:
        """Let the user change settings; they count at once."""
        from loomlight.viewer.settings_dialog import SettingsDialog

        dialog = SettingsDialog(self.settings, self)
        if dialog.exec() == SettingsDialog.DialogCode.Accepted:
            self.apply_theme()
            self.compare_page.renew_tables()
        dialog.deleteLater()

    def ask_action(self) -> None:
        """List everything that can be done; do what is chosen once the sheet is closed."""
        from loomlight.viewer.actions_dialog import ActionsDialog

        dialog = ActionsDialog(self.actions, self)
        wanted = dialog.wanted if dialog.exec() == ActionsDialog.DialogCode.Accepted else None
        dialog.deleteLater()
        if wanted is not None:
            wanted.act()

    def show_keys(self) -> None:
        """List keys and gestures, beside the work."""
        page = self.pages.currentWidget()
        getattr(page, "panel", self.compare_page.panel).show_keys()

    def _renew_tips(self) -> None:
        for page in (self.captures_page, self.compare_page, self.proof_page, self.library_page):
            page.panel.tools.renew_tips()

    # Files

    def ask_files(self) -> None:
        """Let the user choose captures."""
        names, _ = QFileDialog.getOpenFileNames(self, "Open captures", "", FILTER)
        self.open_files([Path(name) for name in names])

    def ask_after(self) -> None:
        """Let the user choose the capture after the repair."""
        name, _ = QFileDialog.getOpenFileName(self, "Open the capture after the repair", "", FILTER)
        if name:
            self.opening.add([(Path(name), "after repair")], then=lambda: self.go_to(3))

    def open_files(self, paths: list[Path], *, then: Callable[[], None] | None = None) -> None:
        """Open captures one after the other, aside."""
        self.opening.add([(path, "other") for path in paths], then=then)

    def _show_opened(self, path: Path, on_its_own: bool) -> None:
        if on_its_own:
            self.settings.remember(path)
            self.go_to(1)

    def _show_first_picture(self, ticket: int, path: Path, coarse: Capture) -> None:
        if self.opening.is_now(ticket):
            if not self.captures_page.is_coarse:
                self.go_to(1)
            self.captures_page.show_first_picture(path, coarse)

    def _stop_reading(self) -> None:
        self.opening.give_up()
        self.strip.say("Reading was given up; what was open already is still there.")

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        event.acceptProposedAction()
        self.take_dropped([Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()])

    def take_dropped(self, paths: list[Path]) -> None:
        """Open a job, captures (single files, or all of a folder's), or bring back what a snapshot shows."""
        snapshots = [one for one in paths if one.suffix.lower() == ".png" and one.is_file() and seen_view(one)]
        if snapshots:
            self.open_snapshot(snapshots[-1])
            return
        found = dropped(paths)
        if found.job is not None:
            self.open_job(found.job)
        self.open_files(list(found.captures))
        if found.empty and not found.captures and found.job is None:
            self.strip.say(
                f"{found.empty[0].name} holds no captures. Drop the files themselves, or the folder they are in."
            )
        elif not paths:
            self.strip.say("What was dropped is no file on this computer. Save it first, then open it.")

    def _leave_drops_to_the_window(self) -> None:
        """A file that is dropped on a text field is to be opened, not to be typed in as its name."""
        for kind in (QLineEdit, QAbstractScrollArea):
            for field in self.pages.findChildren(kind):
                field.setAcceptDrops(False)

    # Jobs

    def new_job(self) -> None:
        """Make a job from its title and vehicle."""
        self.jobs.new_job()

    def make_job(self, path: Path, title: str, *, vehicle: str = "") -> None:
        """Make a job in a new folder; captures that were opened without a job are copied into it."""
        self.jobs.make_job(path, title, vehicle=vehicle)

    def open_job(self, path: Path, *, library: Library | None = None, then: Callable[[], None] | None = None) -> None:
        """Open a job with its captures; the sample job brings a library of its own."""
        self.jobs.open_job(path, library=library, then=then)

    def open_sample(self) -> None:
        """Open a fresh copy of the sample job."""
        from loomlight.viewer.demo import open_demo

        open_demo(self)

    # Snapshots

    def open_snapshot(self, path: Path) -> None:
        """Bring back what a snapshot shows; a picture that does not tell is opened as a picture."""
        try:
            seen = seen_view(path)
            if seen is None:
                QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))
                return
            choose_as_seen(self.desk, seen)
        except LoomlightError as error:
            self.strip.say_error(error)
            return
        page = self.proof_page if seen.is_proof else self.compare_page
        page.show_seen(seen)
        self.go_to(PLACES.index("Proof" if seen.is_proof else "Compare"))

    def _tell_kept(self, saved: str) -> None:
        """A picture is in the job: say so, and what comes next."""
        job = self.desk.job
        if job is None:
            return
        step = next_step(job)
        self.strip.say(f"Saved in the job as {saved}. {step.text}", offer=(step.button, self._go_on))

    def _go_on(self) -> None:
        self.go_to(PLACES.index("Job"))
        self.job_page.go_on()

    def _take_title(self, title: str) -> None:
        self.setWindowTitle(f"{title} – Loomlight")
        if self.desk.folder is not None:
            self.settings.remember_job(self.desk.folder.path)

    def _leave_job(self) -> None:
        """What belongs to the job that is left stays with it."""
        self.job_page.save()
        self.watching.repeat.give_up()
        self.compare_page.aside.cancel()
        self.proof_page.aside.cancel()

    # Layout

    def _splits(self) -> dict[str, QSplitter]:
        """What divides the pages, by name."""
        pages = zip(PLACES, self._all_pages(), strict=False)
        return {
            f"{name} {number}": split
            for name, page in pages
            for number, split in enumerate(page.findChildren(QSplitter))
        }

    def _restore_layout(self) -> None:
        kept = self.settings.geometry
        if kept is None or not self.restoreGeometry(kept):
            self.resize(1366, 768)
        for name, split in self._splits().items():
            state = self.settings.split(name)
            if state is not None:
                split.restoreState(state)
        self.go_to(min(self.settings.page, len(PLACES) - 1))

    def _remember_layout(self) -> None:
        self.settings.geometry = self.saveGeometry()
        self.settings.page = self.place()
        for name, split in self._splits().items():
            self.settings.remember_split(name, split.saveState())

    def closeEvent(self, event: QCloseEvent) -> None:
        """Save what was typed, stop what runs, remember the window."""
        self._remember_layout()
        self.watching.stop()
        self.opening.close()
        self.library_keeping.close_work()
        self.recovery.close_work()
        self.snapshots.close_work()
        self.capture_actions.close_work()
        for page in self._all_pages():
            page.close_work()
        event.accept()
