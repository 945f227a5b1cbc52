"""The verdict in large words, with its reasons and what to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from loomlight.signal.proof import Proof
from loomlight.viewer.wording import (
    STATE_SIGNS,
    bus_sentence,
    lineup_sentence,
    proof_headline,
    series_text,
    verdict_headline,
)

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison


class VerdictCard(QScrollArea):
    """Shows one answer; scrolls where its reasons need more room."""

    def __init__(self, empty: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._empty = empty
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("Verdict")
        self.clear()

    def clear(self) -> None:
        """Nothing was judged yet: say what to do."""
        self._fill("", "", (), self._empty)

    def show_comparison(self, found: Comparison) -> None:
        """Show a verdict."""
        verdict = found.verdict
        details = [lineup_sentence(found.lineup)]
        if found.bus is not None:
            details.append(f"Bus: {bus_sentence(found.bus)}")
        headline = f"{STATE_SIGNS[verdict.state]}  {verdict_headline(verdict)}"
        self._fill(headline, series_text(verdict), verdict.reasons, verdict.next_step, details)

    def show_proof(self, proof: Proof) -> None:
        """Show a proof's state."""
        self._fill(f"{STATE_SIGNS[proof.state]}  {proof_headline(proof)}", "", proof.reasons, "")

    def words_height(self) -> int:
        """Height at which all words of the answer can be seen at the width that the card has."""
        card = self.widget()
        return max(card.heightForWidth(self.viewport().width()), 0) + 2 * self.frameWidth()

    def _fill(
        self, headline: str, series: str, reasons: tuple[str, ...], next_step: str, details: list[str] | None = None
    ) -> None:
        card = _Card()
        card.setObjectName("card")
        column = QVBoxLayout(card)
        column.setContentsMargins(12, 10, 12, 10)
        column.setSpacing(6)
        if headline:
            column.addWidget(_label(headline, "headline"))
        if series:
            bold = _label(series)
            bold.setStyleSheet("font-weight: bold;")
            column.addWidget(bold)
        for reason in reasons:
            column.addWidget(_label(f"–  {reason}"))
        if next_step:
            column.addWidget(_label(f"Next: {next_step}" if headline else next_step))
        for text in details or []:
            column.addWidget(_label(text, "quiet"))
        column.addStretch(1)
        self.setWidget(card)
        self.setAccessibleDescription(" ".join([headline, series, *reasons, next_step]))


class _Card(QFrame):
    """As high as its texts at the width that it has; a layout's own least height is that of the narrowest column."""

    def minimumSizeHint(self) -> QSize:
        return QSize(0, 0)


def _label(text: str, name: str = "") -> QLabel:
    label = QLabel(text)
    label.setObjectName(name)
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
    policy.setHeightForWidth(True)  # else the card is as high as its texts would be in a narrow column
    label.setSizePolicy(policy)
    return label
