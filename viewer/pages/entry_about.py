"""What is told about the chosen entry under its picture, part by part, with a button for each."""

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from loomlight.signal.capture import Capture
from loomlight.signal.entry import Entry
from loomlight.storage.places import jobs_folder
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk
from loomlight.viewer.library_list import Row
from loomlight.viewer.library_uses import Use, uses_of
from loomlight.viewer.looks import in_letters
from loomlight.viewer.pages.library_parts import (
    PARTS,
    captures_text,
    details_text,
    history_text,
    recipe_text,
    uses_text,
)

TEXT_PIXELS = 132


class EntryAbout(QWidget):
    """Shows one entry's texts; where it was used is looked for when it is asked for."""

    failed = Signal(object)

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._using = Aside(self)
        self._row: Row | None = None
        self._capture: Capture | None = None
        self._told: tuple[str, ...] = ()
        self._uses: tuple[Use, ...] | None = None
        self.parts = QButtonGroup(self)
        row = QHBoxLayout()
        row.setSpacing(4)
        for number, name in enumerate(PARTS):
            button = QPushButton(name)
            button.setObjectName("part")
            button.setCheckable(True)
            self.parts.addButton(button, number)
            row.addWidget(button)
        self.parts.button(0).setChecked(True)
        self.parts.idClicked.connect(self._show_part)
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setAccessibleName("About the entry")
        self.text.setMargin(6)
        self._area = QScrollArea()
        self._area.setWidgetResizable(True)
        self._area.setWidget(self.text)
        self.renew_height()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addLayout(row)
        column.addWidget(self._area)

    def show_row(self, row: Row | None) -> None:
        """Tell about another entry, as far as its file was not read yet."""
        self._row, self._capture, self._told, self._uses = row, None, (), None
        self._using.cancel()
        self._show_part(self.parts.checkedId())

    def show_read(self, capture: Capture, told: tuple[str, ...]) -> None:
        """Its file was read: tell also what stands there."""
        self._capture, self._told = capture, told
        self._show_part(self.parts.checkedId())

    def renew_height(self) -> None:
        """The text size was changed."""
        self._area.setFixedHeight(in_letters(TEXT_PIXELS))

    def close_work(self) -> None:
        """Stop what runs aside."""
        self._using.close()

    def _show_part(self, part: int) -> None:
        row = self._row
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
            self._show_part(self.parts.checkedId())

        self._using.run(lambda progress: uses_of(entry, folders, progress), done, self.failed.emit)
