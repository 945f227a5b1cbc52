"""What stands where nothing is to be shown yet: what to do, and the buttons that do it."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from loomlight.viewer.icon import renew_icon
from loomlight.viewer.push_button import push_button

Offer = tuple[str, str, Callable[[], object]]
"""Text, tooltip and act of a button; the first is the main one."""
SHORT = 60
"""So few letters stand in the middle over the buttons."""


def empty_page(text: str, offers: Sequence[Offer]) -> QWidget:
    """A page with one text in its middle and buttons under it."""
    page = QWidget()
    column = QVBoxLayout(page)
    column.addStretch(1)
    label = QLabel(text)
    label.setWordWrap(True)
    label.setObjectName("large")
    if len(text) < SHORT:
        label.setAlignment(Qt.AlignmentFlag.AlignHCenter)
    middle = QHBoxLayout()
    middle.addStretch(1)
    middle.addWidget(label, 4)
    middle.addStretch(1)
    column.addLayout(middle)
    column.addSpacing(16)
    row = QHBoxLayout()
    row.addStretch(1)
    for number, (name, tip, act) in enumerate(offers):
        row.addWidget(_button(name, tip, act, main=number == 0))
    row.addStretch(1)
    column.addLayout(row)
    column.addStretch(2)
    return page


def _button(text: str, tip: str, act: Callable[[], object], *, main: bool) -> QPushButton:
    button = push_button(text, tip, act)
    if main:
        button.setObjectName("main")
    button.setProperty("action", False)  # each stands somewhere else, too
    return button


def make_main(button: QPushButton, main: bool) -> None:
    """Show a button as the page's main action, or as one of the others."""
    button.setObjectName("main" if main else "")
    button.style().unpolish(button)
    button.style().polish(button)
    renew_icon(button)
