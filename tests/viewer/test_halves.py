"""Two parts of a page: beside each other, over one another where there is no room, words never squeezed."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QPushButton, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.looks import TEXT_POINTS

WORDS = "Never probe high-voltage wiring of hybrid or electric vehicles, nor airbag and belt-tensioner circuits. " * 3


def part(words: str = WORDS) -> Part:
    made, label = Part(), QLabel(words)
    label.setWordWrap(True)
    QVBoxLayout(made).addWidget(label)
    return made


@pytest.fixture
def halves(qtbot: QtBot) -> Halves:
    font = QApplication.font()
    font.setPointSizeF(TEXT_POINTS)  # an earlier test's window may have had larger letters
    QApplication.setFont(font)
    made = Halves(part(), part(), sizes=(600, 300))
    qtbot.addWidget(made)
    made.resize(904, 500)
    made.show()
    QApplication.processEvents()
    return made


def test_both_take_their_share_of_a_larger_window(halves: Halves) -> None:
    assert halves.orientation() == Qt.Orientation.Horizontal
    assert halves.sizes()[1] == pytest.approx(300, abs=12)
    halves.resize(1704, 500)
    QApplication.processEvents()
    assert halves.sizes()[1] == pytest.approx(1700 / 3, abs=15)


def test_too_narrow_they_lie_over_one_another_and_come_back(halves: Halves) -> None:
    halves.resize(500, 900)
    QApplication.processEvents()
    assert halves.orientation() == Qt.Orientation.Vertical
    halves.resize(904, 500)
    QApplication.processEvents()
    assert halves.orientation() == Qt.Orientation.Horizontal
    assert halves.sizes()[1] == pytest.approx(300, abs=20)


def test_a_part_asks_for_the_height_of_its_broken_lines(qtbot: QtBot) -> None:
    made = part()
    qtbot.addWidget(made)
    made.resize(200, 400)
    narrow = made.minimumSizeHint().height()
    made.resize(900, 400)
    assert narrow > 2 * made.minimumSizeHint().height()


def test_a_row_fills_its_lines_and_goes_on_in_the_next(qtbot: QtBot) -> None:
    holder = QWidget()
    qtbot.addWidget(holder)
    row = FlowRow(holder, gap=6, fills=True)
    wide, button = ChoiceBox(), QPushButton("Go")
    wide.setMinimumContentsLength(9)
    wide.setSizePolicy(wide.sizePolicy().Policy.Expanding, wide.sizePolicy().Policy.Fixed)
    row.addWidget(wide)
    row.addWidget(button)
    holder.resize(600, 200)
    holder.show()
    QApplication.processEvents()
    assert wide.width() + 6 + button.width() == pytest.approx(600, abs=1)
    holder.resize(wide.minimumSizeHint().width() + 20, 200)
    QApplication.processEvents()
    assert button.y() > wide.y()
    assert row.heightForWidth(600) < row.heightForWidth(holder.width())
