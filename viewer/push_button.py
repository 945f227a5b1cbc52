"""A button with its text, its tip and what it does."""

from collections.abc import Callable

from PySide6.QtWidgets import QPushButton


def push_button(text: str, tip: str, act: Callable[[], object]) -> QPushButton:
    """A button that does something when it is pressed."""
    button = QPushButton(text)
    button.setToolTip(tip)
    button.clicked.connect(lambda: act())
    return button
