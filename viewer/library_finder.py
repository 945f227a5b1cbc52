"""The left side of the Library page: search as you type, filters, the list, the bin."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from loomlight.signal.entry import Entry
from loomlight.signal.kinds.listing import KINDS
from loomlight.signal.progress import Progress
from loomlight.storage.library import Library
from loomlight.storage.library_pictures import SmallPicture, small_pictures
from loomlight.storage.library_rows import Listed
from loomlight.storage.library_search import Wanted
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.desk import Desk
from loomlight.viewer.entry_words import days_text, meant_sentence
from loomlight.viewer.library_list import LibraryList, Row
from loomlight.viewer.theme import Theme

SEARCH_AFTER_MS = 150
SHOWN_AT_ONCE = 200
ALL, LAST, BIN = "All entries", "Used last", "Bin"
EMPTY = (
    "The library is empty. After a repair, or on a vehicle that works, select a channel on the Captures page and press “Keep "
    "in library”: next time the known-good waveform is at hand. A few simulated entries can be added to begin with; they are "
    "marked as such."
)
NOTHING = "No entry holds these words. Type fewer, or choose all kinds, vehicles and systems."
NOTHING_IN = {LAST: "No entry was used yet.", BIN: "The bin is empty. What is deleted is kept here for 30 days."}


@dataclass(frozen=True)
class _Shown:
    """An answer of the library: what is listed, what there is to choose from, what is amiss."""

    rows: tuple[Row, ...]
    total: int
    note: str
    vehicles: tuple[str, ...]
    systems: tuple[str, ...]
    problems: tuple[str, ...]


class LibraryFinder(QWidget):
    """Searches aside; only the newest answer is shown."""

    failed = Signal(object)
    said = Signal(str)
    row_chosen = Signal(object)
    captures_wanted = Signal()
    starter_wanted = Signal()

    def __init__(self, desk: Desk, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._searching, self._drawing = Aside(self), Aside(self)
        self._limit, self._told = SHOWN_AT_ONCE, ()
        self._like = ""
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SEARCH_AFTER_MS)
        self._timer.timeout.connect(self.search_anew)
        self.list = LibraryList(theme)
        self.list.row_chosen.connect(self.row_chosen)
        self._build()
        self._searching.progressed.connect(self._show_reading)

    def _build(self) -> None:
        self.words = QLineEdit()
        self.words.setPlaceholderText("Search: title, vehicle, component, connector, pin …")
        self.words.setAccessibleName("Search the library")
        self.words.setClearButtonEnabled(True)
        self.words.textChanged.connect(self._timer.start)
        self.view = self._box("What is listed", [(one, one) for one in (ALL, LAST, BIN)])
        self.kind = self._box("Signal kind", [("All kinds", None), *((one.title, one.key) for one in KINDS)])
        self.vehicle = self._box("Vehicle", [("All vehicles", None)])
        self.system = self._box("System", [("All systems", None)])
        top = QGridLayout()
        top.setSpacing(4)
        top.addWidget(self.words, 0, 0, 1, 2)
        top.addWidget(self.view, 0, 2)
        for column, box in enumerate((self.kind, self.vehicle, self.system)):
            top.addWidget(box, 1, column)
            top.setColumnStretch(column, 1)
        self._note = QLabel()
        self._note.setWordWrap(True)
        self._back = QPushButton("Back to the list")
        self._back.clicked.connect(self.leave_like)
        self._empty = QLabel(EMPTY)
        self._empty.setWordWrap(True)
        self.captures_button = QPushButton("Go to Captures")
        self.captures_button.setObjectName("offer")
        self.captures_button.setToolTip("Where a channel can be kept")
        self.captures_button.clicked.connect(self.captures_wanted)
        self.starter_button = QPushButton("Add simulated entries")
        self.starter_button.setToolTip("A few waveforms made by calculation, each marked “simulated”")
        self.starter_button.clicked.connect(self.starter_wanted)
        self.more_button = QPushButton()
        self.more_button.clicked.connect(self._show_more)
        offers = QHBoxLayout()
        offers.addWidget(self.captures_button)
        offers.addWidget(self.starter_button)
        self._rest = QWidget()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top)
        column.addWidget(self._note)
        column.addWidget(self._back)
        column.addWidget(self._empty)
        column.addLayout(offers)
        column.addWidget(self.list, 3)
        column.addWidget(self.more_button)
        column.addWidget(self._rest, 1)
        self._show(_Shown((), 0, "", (), (), ()))

    def _box(self, name: str, offers: Sequence[tuple[str, str | None]]) -> ChoiceBox:
        box = ChoiceBox()
        box.setAccessibleName(name)
        box.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        box.setMinimumContentsLength(6)
        for text, data in offers:
            box.addItem(text, data)
        box.activated.connect(self.search_anew)
        return box

    def search_anew(self) -> None:
        """Look for what was typed, from the first entries on."""
        self._limit, self._like = SHOWN_AT_ONCE, ""
        self.search()

    def _show_more(self) -> None:
        self._limit += 5 * SHOWN_AT_ONCE
        self.search()

    def search(self) -> None:
        """Look again, aside; what was chosen stays chosen."""
        if self._like:
            return
        wanted = Wanted(
            self.words.text(),
            self.kind.currentData(),
            self.vehicle.currentData(),
            self.system.currentData(),
            with_damaged=True,
            limit=self._limit,
        )
        library, view = self._desk.library, str(self.view.currentData())
        self._searching.run(lambda progress: _looked(library, view, wanted, progress), self._show, self.failed.emit)

    def _show_reading(self, ticket: int, share: float) -> None:
        """How far the entries are read, where the index has to be made anew; else it is done before this could be read."""
        if ticket == self._searching.ticket and self._searching.is_busy and share > 0:
            self._note.setText(f"Reading the entries: {share:.0%}")
            self._note.show()

    def show_like(self, rows: tuple[Row, ...], what: str) -> None:
        """Show what is most alike to something, until the list is wanted again."""
        self._like = what
        self._timer.stop()
        note = f"Most like {what}, best first:" if rows else f"Nothing in the library is like {what}."
        self._fill(_Shown(rows, len(rows), note, (), (), ()), is_like=True)

    def leave_like(self) -> None:
        """Back to what was searched."""
        self.search_anew()

    def _show(self, shown: _Shown) -> None:
        self._offer(self.vehicle, "All vehicles", shown.vehicles)
        self._offer(self.system, "All systems", shown.systems)
        problems = shown.problems[:3]
        if problems and problems != self._told:  # once, not with each key that is pressed
            self.said.emit("In the library's folder: " + " ".join(problems))
        self._told = problems
        self._fill(shown, is_like=False)

    def _fill(self, shown: _Shown, *, is_like: bool) -> None:
        before = self.list.current_row()
        self.list.show_rows(shown.rows, keep=before.entry.id if before is not None and not is_like else "")
        view = str(self.view.currentData())
        filters = (self.words.text(), *(box.currentData() for box in (self.kind, self.vehicle, self.system)))
        searched = any(filters)
        is_empty = not shown.rows and not is_like
        self._empty.setText(NOTHING_IN.get(view) or (NOTHING if searched else EMPTY))
        self._empty.setVisible(is_empty)
        for button in (self.captures_button, self.starter_button):
            button.setVisible(is_empty and not searched and view == ALL)
        self._note.setText(shown.note)
        self._note.setVisible(bool(shown.note))
        self._back.setVisible(is_like)
        self.list.setVisible(bool(shown.rows))
        self._rest.setVisible(not shown.rows)
        left = shown.total - len(shown.rows)
        self.more_button.setText(f"{len(shown.rows)} of {shown.total} shown – show more")
        self.more_button.setVisible(left > 0)
        listed = [row.listed for row in shown.rows if row.listed is not None and row.is_usable]
        if listed:
            library = self._desk.library
            self._drawing.run(
                lambda progress: _pictures(library, listed, progress), self.list.show_pictures, self.failed.emit
            )

    def _offer(self, box: ChoiceBox, all_of_them: str, values: Sequence[str]) -> None:
        offered = [box.itemText(place) for place in range(1, box.count())]
        if list(values) == offered or (not values and box.currentData() is not None):
            return
        chosen = box.currentData()
        box.clear()
        box.addItem(all_of_them, None)
        for one in values:
            box.addItem(one, one)
        box.setCurrentIndex(max(box.findData(chosen), 0) if chosen is not None else 0)

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.list.set_theme(theme)

    def close_work(self) -> None:
        """Stop what runs aside."""
        self._searching.close()
        self._drawing.close()


def _looked(library: Library, view: str, wanted: Wanted, progress: Progress) -> _Shown:
    """Look into the library. For aside."""
    look = library.look(wanted, progress)
    found, rows = look.found, tuple(Row(one.entry, one, _remark(one)) for one in look.found.listed)
    if view == BIN:
        library.tidy()
        now = datetime.now(UTC)
        rows = tuple(
            Row(one.entry or Entry(one.stem, one.path.name, "", ""), None, days_text(one, now), one)
            for one in library.binned()
        )
    elif view == LAST:
        rows = tuple(Row(one.entry, one, _remark(one)) for one in library.recent())
    total, note = (found.total, meant_sentence(found.meant)) if view == ALL else (len(rows), "")
    return _Shown(rows, total, note if rows else "", look.vehicles, look.systems, look.problems if view != BIN else ())


def _remark(one: Listed) -> str:
    if one.problem:
        return "✗ damaged" if one.entry.kind else "✗ cannot be read"
    return "another state of an entry" if one.copy_of else ""


def _pictures(library: Library, listed: list[Listed], progress: Progress) -> dict[str, SmallPicture]:
    """Small pictures of what is listed. For aside."""
    return small_pictures(library, listed, progress)
