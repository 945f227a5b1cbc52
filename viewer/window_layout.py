"""How the window was left: its place and size, the page, and how each page is divided."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QSplitter

from loomlight.viewer.rail import PLACES

if TYPE_CHECKING:
    from loomlight.viewer.window import Window
    from loomlight.viewer.window_pages import Page

FIRST_SIZE = (1366, 768)


def restore_window(window: Window) -> None:
    """Lay the window out as it was left, and show the page that was shown."""
    kept = window.settings.geometry
    if kept is None or not window.restoreGeometry(kept):
        window.resize(*FIRST_SIZE)
    window.go_to(min(window.settings.page, len(PLACES) - 1))


def restore_page(window: Window, place: int, page: Page) -> None:
    """Divide a page that was just made as it was left."""
    for name, split in _splits(place, page).items():
        state = window.settings.split(name)
        if state is not None:
            split.restoreState(state)


def remember(window: Window) -> None:
    """Remember how the window is left; a page that was not made stays as it was remembered."""
    settings = window.settings
    settings.geometry = window.saveGeometry()
    settings.page = window.place()
    for place in range(len(PLACES)):
        page = window.made(place)
        if page is not None:
            for name, split in _splits(place, page).items():
                settings.remember_split(name, split.saveState())


def _splits(place: int, page: Page) -> dict[str, QSplitter]:
    """What divides one of the five places, by name; what is only opened from them is not remembered."""
    splits = page.findChildren(QSplitter) if place < len(PLACES) else []
    return {f"{PLACES[place]} {number}": split for number, split in enumerate(splits)}
