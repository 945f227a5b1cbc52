"""The few things that are remembered from one start to the next, in a plain text file."""

import json
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, Literal

from PySide6.QtCore import QByteArray, QSettings

from loomlight.viewer.lanes.arrangement import Arrangement, as_plain, from_plain
from loomlight.viewer.theme import ThemeKey

MOST_RECENT = 8
MOST_ARRANGED = 60


@dataclass(frozen=True)
class Details:
    """Business details for the head of a report, as typed; ``logo`` is the path of a PNG or JPEG picture."""

    name: str = ""
    address: str = ""
    contact: str = ""
    tax_number: str = ""
    logo: str = ""


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

    @property
    def watched_folder(self) -> Path | None:
        """Folder that was watched last; watching itself begins off at each start."""
        value = self._store.value("watched folder")
        return Path(str(value)) if value else None

    @watched_folder.setter
    def watched_folder(self, folder: Path) -> None:
        self._store.setValue("watched folder", str(folder))

    @property
    def paper(self) -> Literal["a4", "letter"]:
        """Paper of the reports."""
        return "letter" if self._store.value("report/paper") == "letter" else "a4"

    @paper.setter
    def paper(self, paper: Literal["a4", "letter"]) -> None:
        self._store.setValue("report/paper", paper)

    @property
    def details(self) -> Details:
        """Who writes the reports."""
        return Details(**{one.name: str(self._store.value(f"business/{one.name}") or "") for one in fields(Details)})

    @details.setter
    def details(self, details: Details) -> None:
        for name, text in asdict(details).items():
            self._store.setValue(f"business/{name}", text)

    def recent(self) -> list[Path]:
        """Files that were opened last and are still there, the newest first."""
        value = self._store.value("recent") or []
        names = [value] if isinstance(value, str) else [str(one) for one in value]
        return [path for path in map(Path, names) if path.exists()]

    def remember(self, path: Path) -> None:
        """Put a file first among the recent ones."""
        others = [str(one) for one in self.recent() if one != path]
        self._store.setValue("recent", [str(path), *others][:MOST_RECENT])

    # How lanes were arranged, by what they show

    def arrangement(self, name: str) -> Arrangement | None:
        """How the lanes of ``name`` were arranged last, or None."""
        kept = self._arranged()
        return from_plain(kept[name]) if name in kept else None

    def remember_arrangement(self, name: str, arrangement: Arrangement) -> None:
        """Keep an arrangement; the oldest ones are forgotten."""
        kept = {one: plain for one, plain in self._arranged().items() if one != name}
        if arrangement != Arrangement():
            kept[name] = as_plain(arrangement)
        self._store.setValue("lanes", json.dumps(dict(list(kept.items())[-MOST_ARRANGED:])))

    def _arranged(self) -> dict[str, Any]:
        try:
            kept = json.loads(str(self._store.value("lanes") or "{}"))
        except ValueError:
            return {}  # spoilt by hand: it is but a convenience
        return kept if isinstance(kept, dict) else {}
