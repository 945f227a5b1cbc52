"""Everything that can be done, on one sheet: found by its words, done at once, its keys changed."""

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QKeySequenceEdit,
    QLabel,
    QLineEdit,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.actions import Action, Actions
from loomlight.viewer.looks import in_letters

HEAD = ("What", "Where", "Keys")
ROW_PIXELS = 44
HOW = "Type a word of what you want to do. Return does the first; down goes into the list."


class ActionsDialog(QDialog):
    """`wanted` is the action that was chosen to be done, once the sheet is closed."""

    def __init__(self, actions: Actions, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._actions = actions
        self.wanted: Action | None = None
        self._shown: list[Action] = []
        self.setWindowTitle("All actions")
        self.words = QLineEdit()
        self.words.setPlaceholderText("Words: open, cursor, proof …")
        self.words.setAccessibleName("Words to find an action by")
        self.words.setToolTip(HOW)
        self.words.textChanged.connect(self.show_found)
        self.words.returnPressed.connect(self._do)
        self.table = QTableWidget(0, len(HEAD))
        self.table.setHorizontalHeaderLabels(list(HEAD))
        self.table.setAccessibleName("Actions")
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setTabKeyNavigation(False)
        self.table.verticalHeader().hide()
        self.table.verticalHeader().setDefaultSectionSize(ROW_PIXELS)
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.table.itemSelectionChanged.connect(self._show_chosen)
        self.table.itemActivated.connect(lambda _: self._do())
        self.hint = QLabel()
        self.hint.setWordWrap(True)
        self.do_button = _button("Do it", "Close this sheet, and do the chosen action", self._do)
        self.do_button.setObjectName("main")
        self.keys = QKeySequenceEdit()
        self.keys.setMaximumSequenceLength(1)
        self.keys.setAccessibleName("Other keys for it")
        inside = self.keys.findChild(QLineEdit)
        inside.setAccessibleName("Other keys for it")
        inside.setPlaceholderText("Press the keys here")
        self.keys.keySequenceChanged.connect(lambda _: self._show_clash())
        self.use_button = _button("Use these keys", "Give the chosen action these keys", self._use)
        self.take_button = _button("Take them over", "Give it these keys; the other action then has none", self._take)
        self.none_button = _button("No keys", "The chosen action has no keys", self._none)
        self.first_button = _button("As delivered", "The keys that it was delivered with", self._first)
        self.problem = QLabel()
        self.problem.setWordWrap(True)
        self.problem.setAccessibleName("What stands against these keys")
        self._build()
        self.show_found()

    def _build(self) -> None:
        side = QFrame()
        side.setObjectName("card")
        column = QVBoxLayout(side)
        for part in (self.hint, self.do_button):
            column.addWidget(part)
        column.addSpacing(14)
        label = QLabel("Other &keys for it")
        label.setBuddy(self.keys)
        for part in (
            label,
            self.keys,
            self.problem,
            self.use_button,
            self.take_button,
            self.none_button,
            self.first_button,
        ):
            column.addWidget(part)
        column.addStretch(1)
        close = _button("Close", "Back to the work (Esc)", self.reject)
        column.addWidget(close)
        left = QVBoxLayout()
        left.addWidget(self.words)
        left.addWidget(self.table, 1)
        page = QHBoxLayout(self)
        page.addLayout(left, 3)
        page.addWidget(side, 2)
        self.resize(min(in_letters(940), 1320), 640)

    def show_found(self) -> None:
        """List what holds the words."""
        self._shown = self._actions.found(self.words.text())
        self.table.setRowCount(len(self._shown))
        for row, one in enumerate(self._shown):
            cells = (one.use.name, one.use.place, self._actions.book.text(one.use))
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                item.setToolTip(one.hint)
                self.table.setItem(row, column, item)
        if self._shown:
            self.table.selectRow(0)
        self._show_chosen()

    def chosen(self) -> Action | None:
        """The action that is chosen in the list."""
        row = self.table.currentRow()
        return self._shown[row] if 0 <= row < len(self._shown) else None

    def _show_chosen(self) -> None:
        one = self.chosen()
        can = one is not None and one.can()
        self.hint.setText("" if one is None else one.hint or one.use.name)
        if one is None:
            self.hint.setText("Nothing holds these words. Type fewer.")
        elif not can:
            self.hint.setText(f"{self.hint.text()}\nNot possible now: it waits for a job, a capture or an answer.")
        self.do_button.setEnabled(can)
        self.keys.clear()
        for button in (self.none_button, self.first_button):
            button.setEnabled(one is not None)
        self._show_clash()

    def _show_clash(self) -> None:
        """Say who has the typed keys already, before they are used."""
        one, typed = self.chosen(), self._typed()
        other = self._actions.book.holder(one.use, typed) if one is not None and typed else None
        self.problem.setText(f"{typed} is “{other.name}” ({other.place}) already." if other is not None else "")
        self.use_button.setEnabled(bool(typed) and other is None)
        self.take_button.setVisible(other is not None)

    def _typed(self) -> str:
        return self.keys.keySequence().toString(QKeySequence.SequenceFormat.PortableText)

    def _use(self) -> None:
        self._change(self._typed())

    def _take(self) -> None:
        self._change(self._typed(), take=True)

    def _none(self) -> None:
        self._change("")

    def _change(self, keys: str, *, take: bool = False) -> None:
        one = self.chosen()
        if one is None:
            return
        try:
            self._actions.book.change(one.use, keys, take=take)
        except LoomlightError as error:
            self.problem.setText(str(error))
            return
        self._kept(one)

    def _first(self) -> None:
        one = self.chosen()
        if one is not None:
            self._actions.book.as_delivered(one.use)
            self._kept(one)

    def _kept(self, one: Action) -> None:
        self._actions.keep()
        self.show_found()
        self.table.selectRow(self._shown.index(one))

    def _do(self) -> None:
        one = self.chosen()
        if one is not None and one.can():
            self.wanted = one
            self.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Down and self.words.hasFocus():
            self.table.setFocus()
        else:
            super().keyPressEvent(event)


def _button(text: str, tip: str, act: Callable[[], object]) -> QPushButton:
    button = QPushButton(text)
    button.setToolTip(tip)
    button.setAutoDefault(False)
    button.clicked.connect(lambda: act())
    return button
