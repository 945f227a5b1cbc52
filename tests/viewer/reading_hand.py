"""What a hand does with the reading panel, and files that leave something open."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QAbstractButton, QApplication, QPushButton
from pytestqt.qtbot import QtBot

from loomlight.viewer.pages.reading_panel import ReadingPanel
from loomlight.viewer.window import Window

SLOW_MS = 30_000


def without_time(path: Path, *, offset: float = 0.0, rows: int = 300) -> Path:
    lines = [f"{offset + place // 10 % 2 * 11.5:.2f};{place % 7}" for place in range(rows)]
    path.write_text("\n".join(["Remark;plug 3", "blower;flap", *lines, ""]).replace(".", ","))
    return path


def without_units(path: Path, *, offset: float = 0.0, rows: int = 300) -> Path:
    lines = [f"{place * 2e-6:.6f},{offset + place // 10 % 2 * 11.5:.2f},{place % 7}" for place in range(rows)]
    path.write_text("\n".join(["time,blower,flap", *lines, ""]))
    return path


def press(qtbot: QtBot, button: QAbstractButton) -> None:
    QApplication.processEvents()
    assert button.isVisible()
    assert button.isEnabled()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def looked(panel: ReadingPanel, qtbot: QtBot, wanted: Callable[[ReadingPanel], bool] = lambda _: True) -> None:
    qtbot.waitUntil(lambda: panel._shown is not None and not panel._looking.is_busy and wanted(panel), timeout=SLOW_MS)


def asked(window: Window, qtbot: QtBot, path: Path) -> ReadingPanel:
    """Open a file that leaves a question open which stops it: the panel comes by itself."""
    window.files.open([path])
    panel = window.captures_page.reading
    qtbot.waitUntil(panel.isVisible, timeout=SLOW_MS)
    looked(panel, qtbot)
    return panel


def opened_panel(window: Window, qtbot: QtBot, path: Path) -> ReadingPanel:
    """Open a file, and the panel by its button."""
    window.files.open([path])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    press(qtbot, window.captures_page.reading_button)
    panel = window.captures_page.reading
    looked(panel, qtbot)
    return panel


def agree(window: Window, panel: ReadingPanel, qtbot: QtBot) -> None:
    press(qtbot, panel.agree_button)
    qtbot.waitUntil(lambda: bool(window.desk.opened) and not window.opening.is_busy, timeout=SLOW_MS)


def answer(panel: ReadingPanel, text: str, qtbot: QtBot) -> None:
    QApplication.processEvents()
    (button,) = [one for one in panel.questions.findChildren(QPushButton) if one.text() == text and one.isVisible()]
    press(qtbot, button)


def heading_clicked(panel: ReadingPanel, qtbot: QtBot, place: int) -> None:
    header = panel.table.horizontalHeader()
    x = header.sectionViewportPosition(place) + header.sectionSize(place) // 2
    qtbot.mouseClick(header.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(x, header.height() // 2))


def menu_entry(panel: ReadingPanel, text: str) -> None:
    (action,) = [one for one in panel.column_menu.actions() if one.text() == text]
    action.trigger()
    panel.column_menu.close()
