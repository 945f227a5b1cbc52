"""Own limits under their names: one small JSON file each, in a folder beside the library's entries."""

import json
from pathlib import Path
from typing import Any

from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.limit_curve import LimitCurve, OwnLimits
from loomlight.storage.disk_trouble import disk_trouble
from loomlight.storage.places import file_name
from loomlight.storage.safe_write import write_text

FORMAT, VERSION = "loomlight limits", 1
ENDING = ".json"
FOLDER = "limits"
LARGEST = 1 << 20
NUMBERS = ("upper_level", "lower_level", "within")


class LimitsStore:
    """The limits that were kept.

    Parameters
    ----------
    library : Path
        Folder of the library; they stand in ``limits`` inside it.

    Attributes
    ----------
    problems : tuple of str
        What the last look found amiss, one line each.
    """

    def __init__(self, library: Path) -> None:
        self.folder = library / FOLDER
        self.problems: tuple[str, ...] = ()

    def all(self) -> tuple[OwnLimits, ...]:
        """All that can be read, by name; what cannot is told in `problems`."""
        found, problems = [], []
        try:
            paths = sorted(self.folder.glob(f"*{ENDING}"))
        except OSError:
            paths = []
        for path in paths:
            try:
                found.append(read_limits(path))
            except LoomlightError as error:
                problems.append(str(error))
        self.problems = tuple(problems)
        return tuple(sorted(found, key=lambda one: one.name.casefold()))

    def named(self, name: str) -> OwnLimits:
        """The limits with this name, large and small letters alike.

        Raises
        ------
        LoomlightError
            If there are none; the message lists those there are.
        """
        every = self.all()
        for one in every:
            if one.name.casefold() == name.strip().casefold():
                return one
        known = ", ".join(repr(one.name) for one in every)
        raise LoomlightError(f"No limits are kept under {name!r}. {f'There are: {known}.' if known else 'None are.'}")

    def keep(self, limits: OwnLimits) -> Path:
        """Keep limits under their name; those of the same name are replaced.

        Raises
        ------
        LoomlightError
            If the name is empty, nothing is limited, or the folder cannot be written.
        """
        if not limits.name.strip():
            raise LoomlightError("Give the limits a name.")
        if not limits.holds_something:
            raise LoomlightError("There is nothing to keep yet: give a level, a tolerance or a curve.")
        with disk_trouble("the folder cannot be made", file=self.folder, do="Choose another library"):
            self.folder.mkdir(parents=True, exist_ok=True)
        path = self._path(limits.name)
        write_text(path, as_json(limits))
        return path

    def take_away(self, name: str) -> Path:
        """Move limits into the folder ``put aside`` beside them: nothing is lost.

        Raises
        ------
        LoomlightError
            If there are none of that name, or they cannot be moved.
        """
        path = self._path(self.named(name).name)
        aside = self.folder / "put aside"
        with disk_trouble("it cannot be moved", file=path, do="Try again"):
            aside.mkdir(exist_ok=True)
            number, target = 2, aside / path.name
            while target.exists():
                target, number = aside / f"{path.stem}-{number}{ENDING}", number + 1
            path.rename(target)
        return target

    def _path(self, name: str) -> Path:
        """The file that holds this name, else where it would stand; different names never share a file."""
        plain = file_name(name, otherwise="limits")
        number, path = 2, self.folder / f"{plain}{ENDING}"
        while path.exists() and not _holds(path, name):
            path, number = self.folder / f"{plain}-{number}{ENDING}", number + 1
        return path


def _holds(path: Path, name: str) -> bool:
    try:
        return read_limits(path).name.casefold() == name.strip().casefold()
    except LoomlightError:
        return False  # damaged: it is kept as it is, and not written over


def read_limits(path: Path) -> OwnLimits:
    """Limits from a file.

    Raises
    ------
    FileProblem
        If it cannot be read or is none of ours.
    """
    try:
        if path.stat().st_size > LARGEST:
            raise FileProblem("it is too large for limits", file=path, do="Choose a limits file")
        read = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(read, dict) or read.get("format") != FORMAT:
            raise FileProblem("it holds no limits", file=path, do="Choose a limits file")
        if not isinstance(read.get("version"), int) or read["version"] > VERSION:
            raise FileProblem("a newer Loomlight made it", file=path, do="Open it with that version")
        return _limits(read)
    except OSError as error:
        what = f"it cannot be read ({error.strerror or error})"
        raise FileProblem(what, file=path, do="Check that it is there") from error
    except FileProblem:
        raise
    except (ValueError, TypeError, KeyError, LoomlightError) as error:
        raise FileProblem(f"its limits cannot be used ({error})", file=path, do="Make them anew") from error


def _limits(read: dict[str, Any]) -> OwnLimits:
    numbers = {name: None if read.get(name) is None else float(read[name]) for name in NUMBERS}
    return OwnLimits(
        name=str(read["name"]),
        unit=str(read.get("unit", "V")),
        upper=_curve(read.get("upper")),
        lower=_curve(read.get("lower")),
        on_good=bool(read.get("on_good", False)),
        **numbers,
    )


def _curve(points: Any) -> LimitCurve | None:
    return None if points is None else LimitCurve(tuple((float(at_s), float(level)) for at_s, level in points))


def as_json(limits: OwnLimits) -> str:
    """The file's content: times in seconds, levels in the unit."""
    content = {"format": FORMAT, "version": VERSION, "name": limits.name.strip(), "unit": limits.unit}
    curves = {
        name: None if curve is None else [list(point) for point in curve.points]
        for name, curve in (("upper", limits.upper), ("lower", limits.lower))
    }
    numbers = {name: getattr(limits, name) for name in NUMBERS}
    return json.dumps(content | curves | numbers | {"on_good": limits.on_good}, indent=1, ensure_ascii=False) + "\n"
