"""Library: the known-good waveforms that were kept, found again."""

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.entry import Entry
from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import KINDS, kind_named
from loomlight.signal.progress import Progress
from loomlight.signal.pyramid import pyramid_of
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Choice
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.desk import Desk
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.theme import Theme

SEARCH_AFTER_MS = 150
EMPTY = (
    "The library is empty. After a repair, or on a vehicle that works, select a channel on the Captures page and press “Keep "
    "in library”: next time the known-good waveform is at hand."
)
NOTHING = "No entry holds these words. Type fewer, or choose all kinds."


class LibraryPage(QWidget):
    """Searches the library as you type."""

    failed = Signal(object)
    said = Signal(str)
    used = Signal()
    captures_wanted = Signal()

    def __init__(self, desk: Desk, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._searching = Aside(self)
        self._opening = Aside(self)
        self._using = Aside(self)
        self._entries: tuple[Entry, ...] = ()
        self._told: tuple[str, ...] = ()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SEARCH_AFTER_MS)
        self._timer.timeout.connect(self.search)
        self.panel = LanePanel(theme)
        self._build()
        desk.library_changed.connect(self.search)

    def _build(self) -> None:
        self.words = QLineEdit()
        self.words.setPlaceholderText("Search: title, vehicle, component, connector, pin …")
        self.words.setAccessibleName("Search the library")
        self.words.setClearButtonEnabled(True)
        self.words.textChanged.connect(self._timer.start)
        self.kind = ChoiceBox()
        self.kind.setAccessibleName("Signal kind")
        self.kind.addItem("All kinds", None)
        for kind in KINDS:
            self.kind.addItem(kind.title, kind.key)
        self.kind.activated.connect(self.search)
        top = QHBoxLayout()
        top.addWidget(self.words, 3)
        top.addWidget(self.kind, 1)
        self.list = QListWidget()
        self.list.setAccessibleName("Entries")
        self.list.setWordWrap(True)
        self.list.currentRowChanged.connect(self._select)
        self._empty = QLabel(EMPTY)
        self._empty.setWordWrap(True)
        self._details = QLabel()
        self._details.setWordWrap(True)
        self._details.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.use_button = QPushButton("Use as ● known-good")
        self.use_button.setObjectName("main")
        self.use_button.setToolTip("Lay the suspect over this entry on the Compare page")
        self.use_button.clicked.connect(self._use)
        self.aside_button = QPushButton("Delete")
        self.aside_button.setToolTip("Move this entry to the bin, where it is kept for 30 days")
        self.aside_button.clicked.connect(self._put_aside)
        row = QHBoxLayout()
        row.addWidget(self.use_button, 2)
        row.addWidget(self.aside_button, 1)
        side = QWidget()
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top)
        column.addWidget(self._empty)
        self._captures_button = QPushButton("Go to Captures")
        self._captures_button.setToolTip("Where a channel can be kept")
        self._captures_button.clicked.connect(self.captures_wanted)
        column.addWidget(self._captures_button)
        column.addWidget(self.list, 3)
        self._rest = QWidget()
        column.addWidget(self._rest, 1)
        column.addWidget(self._details)
        column.addLayout(row)
        halves = QSplitter(Qt.Orientation.Horizontal)
        halves.addWidget(side)
        halves.addWidget(self.panel)
        halves.setSizes([480, 770])
        halves.setStretchFactor(1, 1)
        halves.setChildrenCollapsible(False)
        page = QVBoxLayout(self)
        page.setContentsMargins(8, 6, 8, 8)
        page.addWidget(halves, 1)
        self._show(())

    def search(self) -> None:
        """Look for what was typed, aside."""
        text, kind, library = self.words.text(), self.kind.currentData(), self._desk.library
        self._searching.run(lambda progress: library.find(text, kind=kind), self._show, self.failed.emit)

    def _show(self, entries: tuple[Entry, ...]) -> None:
        self._entries = entries
        self.list.clear()
        for entry in entries:
            where = ", ".join(one for one in (entry.vehicle_text, entry.component, entry.connector, entry.pin) if one)
            item = QListWidgetItem(f"{entry.title}\n{kind_title(entry)}{' – ' + where if where else ''}")
            self.list.addItem(item)
        searched = bool(self.words.text()) or self.kind.currentData() is not None
        self._empty.setText(NOTHING if searched else EMPTY)
        self._empty.setVisible(not entries)
        self._captures_button.setVisible(not entries and not searched)
        self.list.setVisible(bool(entries))
        self._rest.setVisible(not entries)
        problems = tuple(self._desk.library.problems[:3])
        if problems and problems != self._told:  # once, not with each key that is pressed
            self.said.emit("In the library's folder: " + " ".join(problems))
        self._told = problems
        self._select(-1)
        if entries:
            self.list.setCurrentRow(0)

    def _current(self) -> Entry | None:
        row = self.list.currentRow()
        return self._entries[row] if 0 <= row < len(self._entries) else None

    def _select(self, row: int) -> None:
        entry = self._entries[row] if 0 <= row < len(self._entries) else None
        self.use_button.setEnabled(entry is not None)
        self.aside_button.setEnabled(entry is not None)
        self._details.setText(details_text(entry) if entry is not None else "")
        if entry is None:
            self.panel.show_lanes((), {})
            return
        desk = self._desk

        def work(progress: Progress) -> tuple[Lane, ...]:
            choice = desk.entry_choice(entry)
            trace = Trace(choice.channel, pyramid_of(choice.channel.samples, progress), "known-good", entry.title)
            return (Lane(entry.title, (trace,), unit=choice.channel.unit or ""),)

        self._opening.run(work, lambda lanes: self.panel.show_lanes(lanes, {}), self.failed.emit)

    def _use(self) -> None:
        entry = self._current()
        if entry is None:
            return
        desk = self._desk

        def done(choice: Choice) -> None:
            desk.use_entry(choice)
            self.used.emit()

        self._using.run(lambda progress: desk.entry_choice(entry), done, self.failed.emit)

    def _put_aside(self) -> None:
        entry = self._current()
        if entry is None:
            return
        try:
            self._desk.library.delete(entry)
        except LoomlightError as error:
            self.failed.emit(error)
            return
        self.said.emit(f"“{entry.title}” is in the bin now, and kept there for 30 days.")
        self._desk.library_changed.emit()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.panel.set_theme(theme)

    def close_work(self) -> None:
        """Stop what runs aside."""
        self.panel.close_work()
        self._searching.close()
        self._opening.close()
        self._using.close()


def kind_title(entry: Entry) -> str:
    """Title of the entry's kind; the key itself where this version does not know it."""
    try:
        return kind_named(entry.kind).title
    except LoomlightError:
        return entry.kind


def details_text(entry: Entry) -> str:
    """All that is known about an entry, one line each."""
    rows = [
        ("Vehicle", entry.vehicle_text),
        ("System", entry.system),
        ("Component", entry.component),
        ("Connector", entry.connector),
        ("Pin", entry.pin),
        ("Note", entry.note),
        ("From", entry.source_name),
        ("Kept", entry.added[:10]),
    ]
    return "\n".join(f"{name}: {value}" for name, value in rows if value)
