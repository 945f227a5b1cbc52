"""How the whole program looks: theme, contrast and text size, from the settings and the system."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from loomlight.viewer.settings import Settings
from loomlight.viewer.theme import THEMES, Theme, with_more_contrast

TEXT_POINTS = 10.5


def own_application() -> QApplication:
    """The running application."""
    application = QApplication.instance()
    assert isinstance(application, QApplication)
    return application


def theme_of(settings: Settings) -> Theme:
    """The theme that is to be shown now: the chosen one, or what the system asks for."""
    choice = settings.theme
    if choice == "system":
        is_dark = own_application().styleHints().colorScheme() == Qt.ColorScheme.Dark
        theme = THEMES["night" if is_dark else "daylight"]
    else:
        theme = THEMES[choice]
    return with_more_contrast(theme) if wants_more_contrast(settings) else theme


def wants_more_contrast(settings: Settings) -> bool:
    """Whether more contrast was chosen, or is asked for by the system where it is left to that."""
    if settings.contrast == "system":
        hints = own_application().styleHints()  # held: its parts go with it
        return hints.accessibility().contrastPreference() == Qt.ContrastPreference.HighContrast
    return settings.contrast == "more"


def letters_in(settings: Settings) -> None:
    """Give the application letters of the chosen size."""
    application = own_application()
    font = application.font()
    points = TEXT_POINTS * settings.text_size / 100
    if font.pointSizeF() != points:
        font.setPointSizeF(points)
        application.setFont(font)


def in_letters(pixels: int) -> int:
    """A length that grows with the text: so many pixels where text has its usual size."""
    return round(pixels * max(own_application().font().pointSizeF() / TEXT_POINTS, 1.0))
