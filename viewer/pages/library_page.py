"""Library: the known-good waveforms that were kept, found again."""

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QHBoxLayout,
    QLabel,
    QMenu,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.entry import Entry
from loomlight.signal.progress import Progress
from loomlight.storage.places import jobs_folder
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Choice
from loomlight.viewer.desk import Desk
from loomlight.viewer.entry_actions import EntryActions
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.library_finder import LibraryFinder
from loomlight.viewer.library_list import Row
from loomlight.viewer.library_sharing import LibrarySharing
from loomlight.viewer.library_uses import Use, uses_of
from loomlight.viewer.library_work import BesideOther, Seen, beside_other, rows_like, seen
from loomlight.viewer.looks import in_letters
from loomlight.viewer.pages.library_parts import (
    PARTS,
    captures_text,
    details_text,
    history_text,
    recipe_text,
    uses_text,
)
from loomlight.viewer.push_button import push_button
from loomlight.viewer.theme import Theme

TEXT_PIXELS = 132


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
        self._opening, self._using, self._looking, self._choosing = (Aside(self) for _ in range(4))
        self._capture: Capture | None = None
        self._told: tuple[str, ...] = ()
        self._uses: tuple[Use, ...] | None = None
        self._pinned: Row | None = None
        self._not_opened_stamp = ""
        self.finder = LibraryFinder(desk, theme)
        self.list, self.words, self.kind = self.finder.list, self.finder.words, self.finder.kind
        self.panel = LanePanel(theme)
        self.sharing = LibrarySharing(desk, self)
        self.actions = EntryActions(desk, self)
        self._build()
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
        act = self.actions
        self.use_button = push_button(
            "Use as ● known-good", "Lay the suspect over this entry on the Compare page", self._use
        )
        self.use_button.setObjectName("main")
        self.beside_button = push_button(
            "Compare …", "Lay another entry over this one: choose it in the list", self._pin
        )
        self.beside_button.setCheckable(True)
        self.like_button = push_button(
            "What is like …", "Find the entries that are most like a waveform", self._ask_like
        )
        tip = "Change what is known about this entry"
        self.edit_button = push_button("Edit", tip, self._on_entry(act.edit))
        self.add_button = push_button(
            "Add capture", "Keep a channel that is open as a further capture of it", self._ask_add
        )
        tip = "Say that its newest capture may widen the envelope"
        self.confirm_button = push_button("Confirm", tip, self._on_entry(act.confirm))
        tip = "Put this state in the place of the entry"
        self.keep_button = push_button("Keep this one", tip, self._on_row(act.keep_copy))
        self.restore_button = push_button("Bring back", "Take this entry out of the bin", self._on_row(act.restore))
        tip = "Move this entry to the bin, where it is kept for 30 days"
        self.delete_button = push_button("Delete", tip, self._on_entry(act.delete))
        self.stop_button = push_button("Stop", "Give up what is running", self._stop)
        self.share_button = push_button("Share …", "Export, import, check", self._ask_share)
        self.progress = QProgressBar()
        self.progress.setAccessibleName("Progress")
        self.progress.hide()
        self.stop_button.hide()
        buttons = FlowRow()
        for one in self._buttons():
            buttons.addWidget(one)
        self._parts = QButtonGroup(self)
        parts = QHBoxLayout()
        parts.setSpacing(4)
        for number, name in enumerate(PARTS):
            part_button = QPushButton(name)
            part_button.setObjectName("part")
            part_button.setCheckable(True)
            self._parts.addButton(part_button, number)
            parts.addWidget(part_button)
        self._parts.button(0).setChecked(True)
        self._parts.idClicked.connect(self._show_part)
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setAccessibleName("About the entry")
        self._area = area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFixedHeight(in_letters(TEXT_PIXELS))
        area.setWidget(self.text)
        self.text.setMargin(6)
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
        below.addLayout(parts)
        below.addWidget(area)
        below.addLayout(buttons)
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

    def _ask_add(self) -> None:
        entry = self._entry()
        if entry is not None:
            self.actions.ask_capture(entry, self.add_button)

    def _buttons(self) -> tuple[QPushButton, ...]:
        first = (self.use_button, self.beside_button, self.like_button, self.edit_button, self.add_button)
        return (*first, self.confirm_button, self.keep_button, self.restore_button, self.delete_button)

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
        usable, deleted = row is not None and row.is_usable, row is not None and row.binned is not None
        copy = row is not None and row.listed is not None and bool(row.listed.copy_of)
        more = row.entry.more if row is not None and usable else ()
        self.use_button.setVisible(not deleted)
        self.use_button.setEnabled(usable)
        for one in (self.beside_button, self.like_button, self.edit_button, self.add_button):
            one.setVisible(usable)
        self.like_button.setVisible(not deleted)
        self.confirm_button.setVisible(bool(more) and not more[-1].confirmed)
        self.keep_button.setVisible(usable and copy)
        self.restore_button.setVisible(deleted)
        self.delete_button.setVisible(not deleted)
        self.delete_button.setEnabled(row is not None)
        self.title.setText(row.entry.title if row is not None else "")
        self._below.setVisible(row is not None)
        self._capture, self._told, self._uses = None, (), None
        self._looking_for_uses_ends()
        self._show_part(self._parts.checkedId())
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
        self._capture, self._told = found.capture, found.told
        self.panel.show_lanes(found.lanes, {})
        self._show_part(self._parts.checkedId())

    def _show_beside(self, found: BesideOther) -> None:
        self.panel.show_lanes(found.lanes, {})
        self.text.setText(found.text)

    def _show_part(self, part: int) -> None:
        row = self._row()
        if row is None:
            self.text.setText("")
            return
        entry = row.entry
        name = PARTS[max(part, 0)]
        if name == "Where used" and self._uses is None:
            self._look_for_uses(entry)
        texts: dict[str, Callable[[], str]] = {
            "Details": lambda: details_text(entry, row.listed),
            "Recipe": lambda: recipe_text(entry, self._capture),
            "History": lambda: history_text(entry),
            "Captures": lambda: captures_text(entry, self._told),
            "Where used": lambda: uses_text(self._uses),
        }
        self.text.setText(texts[name]())

    def _look_for_uses(self, entry: Entry) -> None:
        own = self._desk.folder.path.parent if self._desk.folder is not None else jobs_folder()
        folders = tuple(dict.fromkeys((jobs_folder(), own)))

        def done(found: tuple[Use, ...]) -> None:
            self._uses = found
            self._show_part(self._parts.checkedId())

        self._using.run(lambda progress: uses_of(entry, folders, progress), done, self.failed.emit)

    def _looking_for_uses_ends(self) -> None:
        self._using.cancel()

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
        self._pinned = row if self.beside_button.isChecked() else None
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
        menu.exec(self.like_button.mapToGlobal(self.like_button.rect().bottomLeft()))

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
        self._area.setFixedHeight(in_letters(TEXT_PIXELS))
        self.finder.set_theme(theme)
        self.panel.set_theme(theme)

    def close_work(self) -> None:
        """Wait for what changes something, as long as its answer can still be shown; then stop what only shows."""
        self.actions.close_work()
        self.sharing.close_work()
        self.panel.close_work()
        self.finder.close_work()
        for one in (self._opening, self._using, self._looking, self._choosing):
            one.close()
