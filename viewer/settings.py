"""The few things that are remembered from one start to the next, in a plain text file."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from PySide6.QtCore import QByteArray, QSettings

if TYPE_CHECKING:
    from loomlight.viewer.lanes.arrangement import Arrangement

ThemeChoice = Literal["daylight", "night", "system"]
THEME_CHOICES: tuple[ThemeChoice, ...] = ("daylight", "night", "system")
ContrastChoice = Literal["system", "more", "usual"]
CONTRAST_CHOICES: tuple[ContrastChoice, ...] = ("system", "more", "usual")
TEXT_SIZES = (100, 125, 150, 175, 200)
"""Percent."""
PROBE_FACTORS = (1.0, 10.0, 100.0)
TIME_UNITS = ("as fits", "ms", "s")
VOLT_UNITS = ("as fits", "V", "mV")
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
    def file(self) -> Path:
        """The text file that holds them."""
        return Path(self._store.fileName())

    # Looks

    @property
    def theme(self) -> ThemeChoice:
        """Daylight unless another was chosen."""
        return self._one_of("theme", THEME_CHOICES)

    @theme.setter
    def theme(self, choice: ThemeChoice) -> None:
        self._store.setValue("theme", choice)

    @property
    def contrast(self) -> ContrastChoice:
        """Whether all text and edges stand in the strongest contrast: as the system asks, or fixed."""
        return self._one_of("contrast", CONTRAST_CHOICES)

    @contrast.setter
    def contrast(self, choice: ContrastChoice) -> None:
        self._store.setValue("contrast", choice)

    @property
    def text_size(self) -> int:
        """Of all text, percent; one of `TEXT_SIZES`."""
        wanted = str(self._store.value("text size") or "")
        return int(wanted) if wanted.isdigit() and int(wanted) in TEXT_SIZES else 100

    @text_size.setter
    def text_size(self, percent: int) -> None:
        self._store.setValue("text size", percent)

    @property
    def time_unit(self) -> str:
        """Unit of the times in tables; one of `TIME_UNITS`."""
        return self._one_of("units/time", TIME_UNITS)

    @time_unit.setter
    def time_unit(self, unit: str) -> None:
        self._store.setValue("units/time", unit)

    @property
    def volt_unit(self) -> str:
        """Unit of the volts in tables; one of `VOLT_UNITS`."""
        return self._one_of("units/volts", VOLT_UNITS)

    @volt_unit.setter
    def volt_unit(self, unit: str) -> None:
        self._store.setValue("units/volts", unit)

    @property
    def keys(self) -> dict[str, str]:
        """Keys that were changed, by the action that they are for; empty: none at all."""
        self._store.beginGroup("keys")
        found = {name: str(self._store.value(name) or "") for name in self._store.childKeys()}
        self._store.endGroup()
        return found

    @keys.setter
    def keys(self, changed: Mapping[str, str]) -> None:
        self._store.remove("keys")
        for name, keys in changed.items():
            self._store.setValue(f"keys/{name}", keys)

    # Layout

    @property
    def geometry(self) -> QByteArray | None:
        """Place and size of the window."""
        value = self._store.value("window/geometry")
        return value if isinstance(value, QByteArray) else None

    @geometry.setter
    def geometry(self, value: QByteArray) -> None:
        self._store.setValue("window/geometry", value)

    @property
    def page(self) -> int:
        """The place that was shown last."""
        value = str(self._store.value("window/page") or "")
        return int(value) if value.isdigit() else 0

    @page.setter
    def page(self, page: int) -> None:
        self._store.setValue("window/page", page)

    def split(self, name: str) -> QByteArray | None:
        """How a page's parts were divided last."""
        value = self._store.value(f"split/{name}")
        return value if isinstance(value, QByteArray) else None

    def remember_split(self, name: str, state: QByteArray) -> None:
        """Keep how a page's parts are divided."""
        self._store.setValue(f"split/{name}", state)

    # Work

    @property
    def probe_factor(self) -> float:
        """The factor that the set-up of a channel begins with."""
        wanted = str(self._store.value("probe factor") or "")
        return next((one for one in PROBE_FACTORS if f"{one:g}" == wanted), 1.0)

    @probe_factor.setter
    def probe_factor(self, factor: float) -> None:
        self._store.setValue("probe factor", f"{factor:g}")

    @property
    def library_folder(self) -> Path | None:
        """Folder of the library; None for the place that the program chooses."""
        value = self._store.value("library folder")
        return Path(str(value)) if value else None

    @library_folder.setter
    def library_folder(self, folder: Path | None) -> None:
        self._store.setValue("library folder", str(folder) if folder is not None else "")

    @property
    def wiggle_sound(self) -> bool:
        """Whether a change in the wiggle test can be heard."""
        return str(self._store.value("wiggle sound")) == "true"

    @wiggle_sound.setter
    def wiggle_sound(self, wanted: bool) -> None:
        self._store.setValue("wiggle sound", "true" if wanted else "false")

    @property
    def watched_folder(self) -> Path | None:
        """Folder that was watched last; watching itself begins off at each start."""
        value = self._store.value("watched folder")
        return Path(str(value)) if value else None

    @watched_folder.setter
    def watched_folder(self, folder: Path | None) -> None:
        self._store.setValue("watched folder", str(folder) if folder is not None else "")

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

    def _one_of(self, name: str, choices: tuple[Any, ...]) -> Any:
        """A choice that was made; the first where none was, or one that is not known."""
        value = self._store.value(name)
        return value if value in choices else choices[0]

    @property
    def kept_last(self) -> dict[str, str]:
        """What was said of the waveform that was kept last, by field: mostly the same the next time."""
        try:
            known = json.loads(str(self._store.value("library/kept last") or "{}"))
        except ValueError:
            return {}  # spoilt by hand: it is but a convenience
        return {str(name): str(text) for name, text in known.items()} if isinstance(known, dict) else {}

    @kept_last.setter
    def kept_last(self, known: dict[str, str]) -> None:
        self._store.setValue("library/kept last", json.dumps(known))

    def recent(self) -> list[Path]:
        """Files that were opened last and are still there, the newest first."""
        value = self._store.value("recent") or []
        names = [value] if isinstance(value, str) else [str(one) for one in value]
        return [path for path in map(Path, names) if path.exists()]

    def remember(self, path: Path) -> None:
        """Put a file first among the recent ones."""
        others = [str(one) for one in self.recent() if one != path]
        self._store.setValue("recent", [str(path), *others][:MOST_RECENT])

    def recent_jobs(self) -> list[Path]:
        """Folders of the jobs that were opened last and are still there, the newest first."""
        value = self._store.value("recent jobs") or []
        names = [value] if isinstance(value, str) else [str(one) for one in value]
        return [path for path in map(Path, names) if (path / "job.json").exists()]

    def remember_job(self, path: Path) -> None:
        """Put a job first among the recent ones."""
        others = [str(one) for one in self.recent_jobs() if one != path]
        self._store.setValue("recent jobs", [str(path), *others][:MOST_RECENT])

    # How lanes were arranged, by what they show

    def arrangement(self, name: str) -> Arrangement | None:
        """How the lanes of ``name`` were arranged last, or None."""
        from loomlight.viewer.lanes.arrangement import from_plain

        kept = self._arranged()
        return from_plain(kept[name]) if name in kept else None

    def remember_arrangement(self, name: str, arrangement: Arrangement) -> None:
        """Keep an arrangement; the oldest ones are forgotten."""
        from loomlight.viewer.lanes.arrangement import Arrangement, as_plain

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
