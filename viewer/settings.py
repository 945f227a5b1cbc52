"""The few things that are remembered from one start to the next, in a plain text file."""

from pathlib import Path

from PySide6.QtCore import QByteArray, QSettings

from loomlight.viewer.theme import ThemeKey

MOST_RECENT = 8


class Settings:
    """What the window remembers, in the user's own place or in ``file``."""

    def __init__(self, file: Path | None = None) -> None:
        if file is not None:
            self._store = QSettings(str(file), QSettings.Format.IniFormat)
        else:
            self._store = QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, "loomlight", "loomlight")

    @property
    def theme(self) -> ThemeKey:
        """Daylight unless night was chosen."""
        return "night" if self._store.value("theme") == "night" else "daylight"

    @theme.setter
    def theme(self, key: ThemeKey) -> None:
        self._store.setValue("theme", key)

    @property
    def geometry(self) -> QByteArray | None:
        """Place and size of the window."""
        value = self._store.value("window/geometry")
        return value if isinstance(value, QByteArray) else None

    @geometry.setter
    def geometry(self, value: QByteArray) -> None:
        self._store.setValue("window/geometry", value)

    def recent(self) -> list[Path]:
        """Files that were opened last and are still there, the newest first."""
        value = self._store.value("recent") or []
        names = [value] if isinstance(value, str) else [str(one) for one in value]
        return [path for path in map(Path, names) if path.exists()]

    def remember(self, path: Path) -> None:
        """Put a file first among the recent ones."""
        others = [str(one) for one in self.recent() if one != path]
        self._store.setValue("recent", [str(path), *others][:MOST_RECENT])
