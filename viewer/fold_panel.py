"""The folded view with its choices: what to fold by, and whether the whole capture or the view alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.fold_canvas import FoldCanvas
from loomlight.viewer.fold_work import find_starts, fold_all
from loomlight.viewer.log import logged
from loomlight.viewer.theme import Theme

if TYPE_CHECKING:
    from loomlight.viewer.fold_work import FoldChoice, FoldOf, FoldSource

WAYS: tuple[tuple[FoldChoice, str], ...] = (
    ("automatic", "as it fits"),
    ("rising edges", "cycles, from rising edges"),
    ("falling edges", "cycles, from falling edges"),
    ("LIN bits", "LIN bits"),
    ("LIN frames", "LIN frames"),
    ("CAN bits", "CAN bits"),
    ("CAN frames", "CAN frames"),
)
REST_MS = 200
MOST_COLUMNS, MOST_ROWS = 1600, 900


class FoldPanel(QWidget):
    """Folds what it is given; holds the starts, so that another size or view needs no second search."""

    failed = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._sources: tuple[FoldSource, ...] = ()
        self._view: tuple[float, float] | None = None
        self._found: list[FoldOf] = []
        self._work = Aside(self)
        self.canvas = FoldCanvas(theme)
        self.way = ChoiceBox()
        self.way.setAccessibleName("Fold by")
        for key, text in WAYS:
            self.way.addItem(text, key)
        self.view_only = QPushButton("This view only")
        self.view_only.setCheckable(True)
        self.view_only.setToolTip("Fold what begins in the stretch that the lanes show; else the whole capture")
        row = QHBoxLayout()
        row.addWidget(QLabel("Laid over one another:"))
        row.addWidget(self.way)
        row.addWidget(self.view_only)
        self._state = QLabel()
        self._state.setWordWrap(True)
        self._state.setAccessibleName("What the folded view is doing")
        row.addWidget(self._state, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(row)
        column.addWidget(self.canvas, 1)
        self._doing = ""
        self._work.progressed.connect(self._show_share)
        self._resting = QTimer(self)
        self._resting.setSingleShot(True)
        self._resting.setInterval(REST_MS)
        self._resting.timeout.connect(self._fold)
        self.canvas.resized.connect(self._resting.start)
        self.way.currentIndexChanged.connect(self._search)
        self.view_only.toggled.connect(lambda _: self._fold())

    def show_sources(self, sources: Sequence[FoldSource], view: tuple[float, float]) -> None:
        """Fold these traces; the same ones with another view are not searched again."""
        same = [id(one.trace) for one in sources] == [id(one.trace) for one in self._sources]
        self._sources, self._view = tuple(sources), view
        if not same:
            self._search()
        else:
            self._fold()

    def _search(self) -> None:
        self._found = []
        self.canvas.show_folds(())
        sources, by = self._sources, self.way.currentData()
        if not sources:
            return
        self._doing = "Looking for where to fold …"
        self._state.setText(self._doing)
        self._work.run(lambda progress: find_starts(sources, by, progress), self._take_starts, self._say_trouble)

    def _take_starts(self, found: list[FoldOf]) -> None:
        self._found = found
        self._fold()

    def _fold(self) -> None:
        if not self._found or not self.isVisible():
            return
        found, view = self._found, self._view if self.view_only.isChecked() else None
        room = self.canvas.room(len(found))[0]
        # One spot a device pixel at most: nothing is scaled down afterwards, which could lose a thin stroke.
        size = min(int(room.width()), MOST_COLUMNS), min(int(room.height()), MOST_ROWS)
        self._doing = "Laying over one another …"
        self._state.setText(self._doing)
        self._work.run(lambda progress: fold_all(found, view, size, progress), self._take_folds, self._say_trouble)

    def _show_share(self, ticket: int, share: float) -> None:
        if ticket == self._work.ticket and self._work.is_busy:
            self._state.setText(f"{self._doing} {100 * share:.0f} %")

    def stop(self) -> None:
        """Give up what runs; what was found is kept for the next time."""
        self._work.cancel()
        if not self._found:
            self._sources = ()

    def _take_folds(self, folds: list[FoldOf]) -> None:
        self._state.setText("")
        self.canvas.show_folds(folds)

    def _say_trouble(self, error: Exception) -> None:
        self._state.setText(str(error) if isinstance(error, LoomlightError) else logged(error))

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.canvas.set_theme(theme)

    def close_work(self) -> None:
        """Stop what runs aside."""
        self._work.close()
