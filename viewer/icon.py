"""Our own icons: strokes in `stroke-icons/`, in the colours of the theme that is shown."""

from functools import cache
from pathlib import Path

from PySide6.QtCore import QByteArray, QRectF, QSize, Qt
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QAbstractButton, QApplication, QWidget

from loomlight.viewer.looks import in_letters
from loomlight.viewer.theme import DAYLIGHT, Theme

FOLDER = Path(__file__).parent / "stroke-icons"
STROKE = "#000000"
NAME = "icon name"
PIXELS = 20
_shown: list[Theme] = [DAYLIGHT]


def set_icon(button: QAbstractButton, name: str) -> None:
    """Give a button an icon; it follows the theme from then on."""
    button.setProperty(NAME, name)
    _dress(button)


def dress_icons(root: QWidget) -> None:
    """Draw all icons of a widget and inside of it anew: theme or text size have changed."""
    for button in (root, *root.findChildren(QAbstractButton)):
        if isinstance(button, QAbstractButton) and button.property(NAME):
            _dress(button)


def begin_icons(theme: Theme) -> None:
    """Draw icons from now on in this theme and text size."""
    _shown[0] = theme
    _picture.cache_clear()


def renew_icon(button: QAbstractButton) -> None:
    """The button became its page's main one, or is it no more."""
    if button.property(NAME):
        _dress(button)


def _dress(button: QAbstractButton) -> None:
    theme = _shown[0]
    is_main = button.objectName() == "main"
    usual, turned = (theme.ground, theme.text) if is_main else (theme.text, theme.ground)
    if button.objectName() in ("place", "part"):
        turned = theme.text
    size, name = in_letters(PIXELS), str(button.property(NAME))
    icon = QIcon()
    icon.addPixmap(_picture(name, usual, size), QIcon.Mode.Normal, QIcon.State.Off)
    icon.addPixmap(_picture(name, turned, size), QIcon.Mode.Normal, QIcon.State.On)
    icon.addPixmap(_picture(name, theme.quiet_text, size), QIcon.Mode.Disabled, QIcon.State.Off)
    button.setIcon(icon)
    button.setIconSize(QSize(size, size))


@cache
def _drawing(name: str) -> str:
    return (FOLDER / f"{name}.svg").read_text(encoding="utf-8")


@cache
def _picture(name: str, colour: str, size: int) -> QPixmap:
    application = QApplication.instance()
    assert isinstance(application, QApplication)
    ratio = application.devicePixelRatio()
    picture = QPixmap(round(size * ratio), round(size * ratio))
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    renderer = QSvgRenderer(QByteArray(_drawing(name).replace(STROKE, colour).encode()))
    renderer.render(painter, QRectF(picture.rect()))
    painter.end()
    picture.setDevicePixelRatio(ratio)
    return picture
