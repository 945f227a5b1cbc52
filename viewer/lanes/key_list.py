"""The list of what keys, mouse, touchpad and fingers do on the lanes."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from loomlight.viewer.lanes.lane_keys import KEY_GROUPS

HAND_ROWS = (
    ("turn the wheel, or two fingers up and down", "zoom at the pointer"),
    ("pinch", "zoom at the fingers"),
    ("two fingers aside, or Shift and the wheel", "move"),
    ("wheel over the numbers at the left", "zoom that lane's values"),
    ("drag", "move the view"),
    ("drag the numbers at the left, or with Ctrl", "move that lane's values"),
    ("Shift and drag", "draw a box to zoom into"),
    ("double-click", "show all"),
    ("drag a cursor; with Alt it does not snap", "measure"),
    ("drag a lane's name", "move the lane, or lay it over another"),
    ("drag the border between two lanes", "make one taller"),
    ("press the right button on a lane", "its menu"),
)


class KeyList(QDialog):
    """Stays open beside the work, and closes with Escape."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Keys and gestures on the lanes")
        columns = QHBoxLayout()
        columns.setSpacing(28)
        groups = [(group.title, [(row.written(), row.what) for row in group.rows]) for group in KEY_GROUPS]
        for titles in ((0, 1), (2, 3), (None,)):
            column = QVBoxLayout()
            for place in titles:
                title, rows = groups[place] if place is not None else ("By hand", list(HAND_ROWS))
                column.addLayout(_table(title, rows))
            column.addStretch(1)
            columns.addLayout(column)
        inside = QWidget()
        inside.setLayout(columns)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(inside)
        close = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        close.rejected.connect(self.reject)
        page = QVBoxLayout(self)
        page.addWidget(area, 1)
        page.addWidget(close)
        self.resize(1240, 690)


def _table(title: str, rows: list[tuple[str, str]]) -> QGridLayout:
    grid = QGridLayout()
    grid.setHorizontalSpacing(16)
    grid.setVerticalSpacing(5)
    head = QLabel(title)
    head.setObjectName("pageTitle")
    grid.addWidget(head, 0, 0, 1, 2)
    for number, (keys, what) in enumerate(rows, start=1):
        for column, words in enumerate((keys, what)):
            label = QLabel(words)
            label.setWordWrap(True)
            label.setAlignment(Qt.AlignmentFlag.AlignTop)
            label.setMinimumWidth(150)
            if column == 0:
                font = label.font()
                font.setBold(True)
                label.setFont(font)
            grid.addWidget(label, number, column)
    return grid
