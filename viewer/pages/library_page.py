"""Library: the known-good waveforms that were kept, found again."""

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QMenu,
    QProgressBar,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.capture import Channel
from loomlight.signal.entry import Entry
from loomlight.signal.progress import Progress
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Choice
from loomlight.viewer.desk import Desk
from loomlight.viewer.entry_actions import EntryActions
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.library_finder import LibraryFinder
from loomlight.viewer.library_list import Row
from loomlight.viewer.library_sharing import LibrarySharing
from loomlight.viewer.library_work import BesideOther, Seen, beside_other, rows_like, seen
from loomlight.viewer.pages.entry_about import EntryAbout
from loomlight.viewer.pages.entry_buttons import EntryButtons
from loomlight.viewer.push_button import push_button
from loomlight.viewer.theme import Theme


class LibraryPage(QWidget):
    """Joins the list with what is shown of the chosen entry, and with what can be done to it."""

    failed = Signal(object)
    said = Signal(str)
    offered = Signal(str, str, object)
    used = Signal()
    captures_wanted = Signal()

    def __init__(self, desk: Desk, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._opening, self._looking, self._choosing = (Aside(self) for _ in range(3))
        self._pinned: Row | None = None
        self._not_opened_stamp = ""
        self.finder = LibraryFinder(desk, theme)
        self.list, self.words, self.kind = self.finder.list, self.finder.words, self.finder.kind
        self.panel = LanePanel(theme)
        self.sharing = LibrarySharing(desk, self)
        self.actions = EntryActions(desk, self)
        self.buttons, self.about = EntryButtons(), EntryAbout(desk)
        self.use_button = self.buttons.use_button
        self._build()
        self._connect_buttons()
        self.about.failed.connect(self.failed)
        self.finder.failed.connect(self.failed)
        self.finder.said.connect(self.said)
        self.finder.captures_wanted.connect(self.captures_wanted)
        self.finder.starter_wanted.connect(self.actions.add_starter)
        self.finder.row_chosen.connect(self._show_row)
        for part in (self.sharing, self.actions):
            part.failed.connect(self.failed)
            part.said.connect(self.said)
        self.actions.offered.connect(self.offered)
        self.sharing.progressed.connect(self._show_progress)
        self.sharing.busy_changed.connect(self.progress.setVisible)
        self._looking.progressed.connect(lambda _ticket, share: self._show_progress(share))
        self._looking.busy_changed.connect(self._show_looking)
        desk.library_changed.connect(self.finder.search)

    # Building

    def _build(self) -> None:
        self.stop_button = push_button("Stop", "Give up what is running", self._stop)
        self.share_button = push_button("Share …", "Export, import, check", self._ask_share)
        self.progress = QProgressBar()
        self.progress.setAccessibleName("Progress")
        self.progress.hide()
        self.stop_button.hide()
        self.title = QLabel()
        self.title.setObjectName("pageTitle")
        self.title.setWordWrap(True)
        right = Part()
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.title)
        column.addWidget(self.panel, 1)
        working = QHBoxLayout()
        working.addWidget(self.progress, 1)
        working.addWidget(self.stop_button)
        column.addLayout(working)
        self._below = Part()
        below = QVBoxLayout(self._below)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(4)
        below.addWidget(self.about)
        below.addLayout(self.buttons)
        column.addWidget(self._below)
        left = Part()
        side = QVBoxLayout(left)
        side.setContentsMargins(0, 0, 0, 0)
        side.addWidget(self.finder, 1)
        side.addWidget(self.share_button)
        halves = Halves(left, right, sizes=(470, 780))
        page = QVBoxLayout(self)
        page.setContentsMargins(8, 6, 8, 8)
        page.addWidget(halves, 1)
        self._show_row(None)

    def _connect_buttons(self) -> None:
        buttons, act = self.buttons, self.actions
        for button, pressed in (
            (buttons.use_button, self._use),
            (buttons.beside_button, self._pin),
            (buttons.like_button, self._ask_like),
            (buttons.edit_button, self._on_entry(act.edit)),
            (buttons.add_button, self._on_entry(lambda entry: act.ask_capture(entry, buttons.add_button))),
            (buttons.confirm_button, self._on_entry(act.confirm)),
            (buttons.keep_button, self._on_row(act.keep_copy)),
            (buttons.restore_button, self._on_row(act.restore)),
            (buttons.delete_button, self._on_entry(act.delete)),
        ):
            button.clicked.connect(lambda _checked, one=pressed: one())

    def _on_entry(self, act: Callable[[Entry], None]) -> Callable[[], None]:
        """Do something with the entry that is chosen when the button is pressed."""

        def pressed() -> None:
            entry = self._entry()
            if entry is not None:
                act(entry)

        return pressed

    def _on_row(self, act: Callable[[Row], None]) -> Callable[[], None]:
        def pressed() -> None:
            row = self._row()
            if row is not None:
                act(row)

        return pressed

    def search(self) -> None:
        """Look for what was typed, aside."""
        self.finder.search()

    # Showing

    def _row(self) -> Row | None:
        return self.list.current_row()

    def _entry(self) -> Entry | None:
        row = self._row()
        return row.entry if row is not None else None

    def _show_row(self, row: Row | None) -> None:
        usable = row is not None and row.is_usable
        self.buttons.show_row(row)
        self.title.setText(row.entry.title if row is not None else "")
        self._below.setVisible(row is not None)
        self.about.show_row(row)
        if row is None or not usable:
            self._opening.cancel()
            self.panel.show_lanes((), {})
            return
        library, entry, pinned = self._desk.library, row.entry, self._pinned
        if pinned is not None and pinned.entry.id != entry.id:
            first = pinned.entry
            self._opening.run(
                lambda progress: beside_other(library, first, entry, progress), self._show_beside, self._not_opened
            )
            return
        self._opening.run(lambda progress: seen(library, entry, progress), self._show_seen, self._not_opened)

    def _not_opened(self, error: Exception) -> None:
        """Tell it; and look again, once a file: the list then shows that it is damaged, or gone."""
        self.failed.emit(error)
        row = self._row()
        if row is not None and row.listed is not None and row.listed.stamp != self._not_opened_stamp:
            self._not_opened_stamp = row.listed.stamp
            self.finder.search()

    def _show_seen(self, found: Seen) -> None:
        self.panel.show_lanes(found.lanes, {})
        self.about.show_read(found.capture, found.told)

    def _show_beside(self, found: BesideOther) -> None:
        self.panel.show_lanes(found.lanes, {})
        self.about.text.setText(found.text)

    def _show_progress(self, share: float) -> None:
        self.progress.setValue(round(100 * share))

    def _show_looking(self, busy: bool) -> None:
        self.progress.setVisible(busy)
        self.stop_button.setVisible(busy)
        self.progress.setValue(0)

    # Using and comparing

    def _use(self) -> None:
        entry = self._entry()
        if entry is None:
            return
        desk = self._desk

        def work(progress: Progress) -> Choice:
            choice = desk.entry_choice(entry)
            desk.library.note_used(entry)
            return choice

        def done(choice: Choice) -> None:
            desk.use_entry(choice)
            self.used.emit()

        self._choosing.run(work, done, self.failed.emit)

    def _pin(self) -> None:
        row = self._row()
        self._pinned = row if self.buttons.beside_button.isChecked() else None
        if self._pinned is not None and row is not None:
            self.said.emit(
                f"Choose another entry in the list: it is laid over “{row.entry.title}”. Press again to end."
            )
        else:
            self._show_row(row)

    def _ask_like(self) -> None:
        """Offer this entry, and each channel that is open."""
        menu = QMenu(self)
        row = self._row()
        if row is not None and row.is_usable:
            menu.addAction(f"this entry: {row.entry.title}", partial(self._like_entry, row.entry))
        for choice in self._desk.choices():
            menu.addAction(choice.label, partial(self.find_like, choice.channel, choice.label))
        menu.exec(self.buttons.like_button.mapToGlobal(self.buttons.like_button.rect().bottomLeft()))

    def _like_entry(self, entry: Entry) -> None:
        library, name = self._desk.library, f"“{entry.title}”"

        def work(progress: Progress) -> tuple[Row, ...]:
            return rows_like(library, library.open(entry).channel(entry.channel), progress, but=entry.id)

        self._looking.run(work, lambda rows: self.finder.show_like(rows, name), self.failed.emit)

    def find_like(self, channel: Channel, name: str) -> None:
        """Show what in the library is most like a channel."""
        library = self._desk.library
        self._looking.run(
            lambda progress: rows_like(library, channel, progress),
            lambda rows: self.finder.show_like(rows, name),
            self.failed.emit,
        )

    def _stop(self) -> None:
        self._looking.cancel()

    def _ask_share(self) -> None:
        shown = [row.entry for row in self.list.rows if row.is_usable]
        row = self._row()
        self.sharing.ask(self.share_button, row.entry if row is not None and row.is_usable else None, shown)

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.about.renew_height()
        self.finder.set_theme(theme)
        self.panel.set_theme(theme)

    def close_work(self) -> None:
        """Wait for what changes something, as long as its answer can still be shown; then stop what only shows."""
        self.actions.close_work()
        self.sharing.close_work()
        self.panel.close_work()
        self.finder.close_work()
        self.about.close_work()
        for one in (self._opening, self._looking, self._choosing):
            one.close()
