"""How a text file is read: its first rows with the guess marked, what stays open, and the picture of what comes of it."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint, Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.errors import LoomlightError
from loomlight.signal.job import Stage
from loomlight.signal.progress import Progress
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.viewer.aside import Aside
from loomlight.viewer.desk import Desk
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.log import logged
from loomlight.viewer.reading_answers import ReadingAnswers
from loomlight.viewer.reading_column_menu import ColumnMenu
from loomlight.viewer.reading_questions_box import ReadingQuestionsBox
from loomlight.viewer.reading_table import ReadingTable
from loomlight.viewer.theme import Theme

if TYPE_CHECKING:
    from loomlight.storage.reading_preview import ReadingPreview
    from loomlight.viewer.reading_look import Looked

HINT = (
    "Click a column's heading to say what it holds, a row's number to let the data begin there. The picture shows these first "
    "rows alone."
)
NO_ROWS = (
    "This file holds its numbers without text: there are no rows to look at. What can be said about it stands above."
)


class ReadingPanel(QWidget):
    """Holds the answers while they are given; `agreed` hands them on with the file that they are about."""

    agreed = Signal(object, str, object)
    left = Signal()
    failed = Signal(object)

    def __init__(self, desk: Desk, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._path: Path | None = None
        self._stage: Stage = "other"
        self._said: list[Reading] = [NOTHING_SAID]
        self._looking = Aside(self)
        self._shown: ReadingPreview | None = None
        self.table = ReadingTable()
        self.answers = ReadingAnswers()
        self.questions = ReadingQuestionsBox()
        nothing = _wrapped("There is no picture as long as the file cannot be read.")
        nothing.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.panel = LanePanel(theme, tools=False, empty=nothing)
        self._build()
        self._connect()

    # Widgets

    def _build(self) -> None:
        self.title = QLabel()
        self.title.setObjectName("pageTitle")
        self.title.setWordWrap(True)
        self._hint = _wrapped(HINT)
        self._hint.setObjectName("quiet")
        left = Part()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.title)
        column.addWidget(self.answers)
        column.addWidget(self._hint)
        column.addWidget(self.table, 1)
        column.addStretch(0)
        column.addLayout(self._command_row())
        self._trouble = _wrapped("")
        self._trouble.setAccessibleName("What cannot be used")
        self._notes = _wrapped("")
        self._notes.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._notes.setAlignment(Qt.AlignmentFlag.AlignTop)
        told = QWidget()
        inside = QVBoxLayout(told)
        inside.setContentsMargins(0, 0, 6, 0)
        inside.addWidget(self._trouble)
        inside.addWidget(self.questions)
        inside.addWidget(self._notes)
        inside.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(told)
        right = QSplitter(Qt.Orientation.Vertical)
        right.addWidget(area)
        right.addWidget(self.panel)
        right.setSizes([330, 300])
        right.setChildrenCollapsible(False)
        side = Part()
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(right, 1)
        column.addLayout(self._buttons())
        halves = Halves(left, side, sizes=(720, 500))
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.addWidget(halves)

    def _command_row(self) -> QHBoxLayout:
        self.command = QLineEdit()
        self.command.setReadOnly(True)
        self.command.setAccessibleName("The same on the command line")
        self.command.setToolTip("The same on the command line")
        self.copy_button = QPushButton("Copy command")
        self.copy_button.setToolTip("Copy the command that reads the file the same way")
        row = QHBoxLayout()
        row.addWidget(self.command, 1)
        row.addWidget(self.copy_button)
        return row

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.back_button = QPushButton("Undo")
        self.back_button.setToolTip("Take the last answer back (Ctrl+Z)")
        self.plain_button = QPushButton("As found")
        self.plain_button.setToolTip("Take all answers back: read it by its structure alone")
        self.leave_button = QPushButton("Cancel")
        self.leave_button.setToolTip("Leave everything as it was")
        self.agree_button = QPushButton("Read it this way")
        self.agree_button.setObjectName("main")
        self.agree_button.setToolTip("Read the whole file, and remember this for files of the same structure")
        for button in (self.back_button, self.plain_button):
            row.addWidget(button)
        row.addStretch(1)
        for button in (self.leave_button, self.agree_button):
            row.addWidget(button)
        return row

    def _connect(self) -> None:
        self.answers.changed.connect(self.say)
        self.answers.failed.connect(self._show_trouble)
        self.questions.answered.connect(self.say)
        self.table.column_asked.connect(self._ask_column)
        self.table.row_picked.connect(self._begin_data)
        self.copy_button.clicked.connect(self._copy)
        self.back_button.clicked.connect(self.undo)
        self.plain_button.clicked.connect(lambda: self.say(NOTHING_SAID))
        self.leave_button.clicked.connect(self._leave)
        self.agree_button.clicked.connect(self._agree)

    # Answers

    @property
    def reading(self) -> Reading:
        """All answers that were given so far."""
        return self._said[-1]

    def ask(self, path: Path, *, stage: Stage = "other") -> None:
        """Show a file, read as it was said before, or as it is found."""
        self._path, self._stage, self._shown = path, stage, None
        self._said = [NOTHING_SAID]
        self.title.setText(f"How {path.name} is read")
        self._show_trouble("")
        folder = self._desk.folder

        def work(progress: Progress) -> tuple[Reading, Looked]:
            from loomlight.viewer.capture_keeping import known_about, stored_answers
            from loomlight.viewer.reading_look import looked

            said = known_about(folder, path).reading
            said = stored_answers(path) if said.is_empty else said
            return said, looked(path, said, progress)

        def done(found: tuple[Reading, Looked]) -> None:
            self._said = [found[0]]
            self._show(found[1])

        self._looking.run(work, done, self._show_failure)

    def say(self, reading: Reading) -> None:
        """Take new answers, and look at the file with them."""
        if self._path is None or reading == self.reading:
            return
        self._said.append(reading)
        self._look()

    def undo(self) -> None:
        """Take the last answer back."""
        if len(self._said) > 1:
            self._said.pop()
            self._look()

    def _look(self) -> None:
        path, reading = self._path, self.reading
        assert path is not None
        self.answers.show_reading(reading)
        self._show_command()
        self.back_button.setEnabled(len(self._said) > 1)

        def work(progress: Progress) -> Looked:
            from loomlight.viewer.reading_look import looked

            return looked(path, reading, progress)

        self._looking.run(work, self._show, self._show_failure)

    def _ask_column(self, place: int, corner: QPoint) -> None:
        column = self.table.rows.column(place)
        if column is not None:
            self.column_menu = ColumnMenu(column, self.reading, self.say, self._show_trouble, self)
            self.column_menu.popup(corner)

    def _begin_data(self, row: int) -> None:
        self.say(replace(self.reading, skip_rows=row))

    # What comes of them

    def _show(self, looked: Looked) -> None:
        shown = looked.preview
        self._shown = shown
        self.answers.show_reading(self.reading)
        self.table.show_preview(shown)
        self.table.setVisible(bool(shown.rows))
        self._hint.setText(HINT if shown.rows else NO_ROWS)
        self.questions.show_questions(shown.questions, stopped=shown.problem)
        notes = [f"{shown.layout[:1].upper()}{shown.layout[1:]}.", *(f"–  {note}" for note in shown.notes)]
        self._notes.setText("\n".join(notes))
        self.panel.show_lanes(looked.lanes, {})
        self._show_trouble("")
        self._show_command()
        self.back_button.setEnabled(len(self._said) > 1)
        self.plain_button.setEnabled(not self.reading.is_empty)
        self.agree_button.setEnabled(not shown.problem)

    def _show_failure(self, error: Exception) -> None:
        self._show_trouble(str(error) if isinstance(error, LoomlightError) else logged(error))
        self.questions.show_questions((), stopped="It cannot be read this way. Take the last answer back.")
        self.panel.show_lanes((), {})
        self._notes.setText("")
        self.agree_button.setEnabled(False)
        self.plain_button.setEnabled(not self.reading.is_empty)
        self.back_button.setEnabled(len(self._said) > 1)

    def _show_trouble(self, text: str) -> None:
        self._trouble.setText(f"✗  {text}" if text else "")
        self._trouble.setVisible(bool(text))

    def _show_command(self) -> None:
        if self._path is not None:
            self.command.setText(command_text(self._path, self.reading.options()))
            self.command.setCursorPosition(0)

    def _copy(self) -> None:
        QGuiApplication.clipboard().setText(self.command.text())

    def _agree(self) -> None:
        if self._path is not None and self.agree_button.isEnabled():
            self._looking.cancel()
            self.agreed.emit(self._path, self._stage, self.reading)

    def _leave(self) -> None:
        self._looking.cancel()
        self.left.emit()

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.panel.set_theme(theme)

    def close_work(self) -> None:
        """Stop what runs aside."""
        self._looking.close()
        self.panel.close_work()


def command_text(path: Path, options: Sequence[str]) -> str:
    """The command that reads a file the same way."""
    return shlex.join(["loomlight", "inspect", str(path), *options])


def _wrapped(text: str) -> QLabel:
    label = QLabel(text)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    return label
