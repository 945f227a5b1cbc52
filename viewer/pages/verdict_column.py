"""What stands beside the lanes of a comparison: the verdict, its tables, the rule of what was picked, and what can be done."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QLabel, QPushButton, QSplitter, QVBoxLayout, QWidget

from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.halves import Part
from loomlight.viewer.icon import set_icon
from loomlight.viewer.tables_panel import TablesPanel
from loomlight.viewer.verdict_card import VerdictCard

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison
    from loomlight.signal.finding import Finding

EMPTY = (
    "Choose the suspect channel and a known-good one that ought to look the same, then press Compare. Without a known-good "
    "the suspect is judged against its signal kind's limits alone."
)
LEAST_TABLE = 120
"""Pixels of the tables under the verdict."""


class VerdictColumn(Part):
    """Shows one comparison; holds nothing of its own.

    Parameters
    ----------
    more : sequence of QPushButton
        Buttons that stand after its own.
    """

    def __init__(self, more: Sequence[QPushButton], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.card = VerdictCard(EMPTY)
        self.tables = TablesPanel()
        self.age = QLabel()
        self.age.setWordWrap(True)
        self.age.hide()
        self.rule = QLabel()
        self.rule.setWordWrap(True)
        self.rule.setAccessibleName("Rule of the picked finding")
        self.snapshot_button = QPushButton("Save snapshot")
        self.snapshot_button.setToolTip("Save an annotated picture into the job, or to a file where no job is open")
        self.export_button = QPushButton("To file")
        self.export_button.setToolTip("Save the picture to a file: PNG in any size, or SVG")
        self.keep_button = QPushButton("Keep in library")
        self.keep_button.setToolTip("Keep the suspect channel as a known-good waveform for next time")
        buttons = FlowRow()
        for button, icon in (
            (self.snapshot_button, "snapshot"),
            (self.export_button, "to-file"),
            (self.keep_button, "keep"),
        ):
            set_icon(button, icon)
            buttons.addWidget(button)
        for button in more:
            buttons.addWidget(button)
        self.split = QSplitter(Qt.Orientation.Vertical)
        self.split.addWidget(self.card)
        self.split.addWidget(self.tables)
        self.split.setSizes([330, 230])
        self.split.setChildrenCollapsible(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.age)
        column.addWidget(self.split, 1)
        column.addWidget(self.rule)
        column.addLayout(buttons)

    def show_comparison(self, found: Comparison | None, marks: Sequence[Finding] = ()) -> None:
        """Show another comparison, or none."""
        self.tables.show_comparison(found, marks)
        if found is None:
            self.card.clear()
            self.say_rule("")
            return
        self.card.show_comparison(found)
        any_found = bool(self.tables.findings.rows.findings)
        self.say_rule("" if any_found else "No findings on the suspect.")
        if not any_found:
            QTimer.singleShot(0, self, self._fit_card)

    def say_rule(self, words: str) -> None:
        """Say what was picked; nothing takes no room."""
        self.rule.setText(words)
        self.rule.setVisible(bool(words))

    def say_age(self, words: str) -> None:
        """Say that what is shown is about other channels than those chosen now; nothing where it is not."""
        self.age.setText(words)
        self.age.setVisible(bool(words))

    def set_picture_there(self, there: bool) -> None:
        """Whether there is anything to take a picture of."""
        self.snapshot_button.setEnabled(there)
        self.export_button.setEnabled(there)

    def _fit_card(self) -> None:
        """With nothing found the verdict is all there is to read: it gets the height that its words need."""
        need = self.card.words_height()
        if need > self.card.height():
            whole = sum(self.split.sizes())
            self.split.setSizes([min(need, whole - LEAST_TABLE), max(whole - need, LEAST_TABLE)])
