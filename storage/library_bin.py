"""The library's bin: an entry that is deleted is moved there, and only age takes it away for good."""

import re
import shutil
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from loomlight.signal.entry import Entry
from loomlight.signal.errors import FileProblem
from loomlight.storage.capture_file import read_entry
from loomlight.storage.disk_trouble import disk_trouble
from loomlight.storage.library_index import ENDING
from loomlight.storage.places import unused
from loomlight.storage.safe_write import PARTIAL, written_whole

BIN_NAME = "bin"
OLD_BIN_NAME = "put aside"
"""Where an older version moved entries; nothing in it is ever taken away."""
KEPT_DAYS = 30
STALE = timedelta(days=1)
"""A half-written file of this age is nobody's any more."""
STAMP = "%Y%m%dT%H%M%SZ"
NAMED = re.compile(r"(?P<stem>.+)\.deleted-(?P<stamp>\d{8}T\d{6}Z)(-\d+)?")
"""The time stands in the name: moving there and noting when are one step that a dead battery cannot part."""


@dataclass(frozen=True)
class Binned:
    """A deleted entry.

    Attributes
    ----------
    path : Path
        Where it lies now.
    stem : str
        The name it had, without its ending: the entry's id.
    deleted : datetime or None
        When; None where an older version put it aside, and it is kept for ever.
    entry : Entry or None
        None where it cannot be read.
    """

    path: Path
    stem: str
    deleted: datetime | None
    entry: Entry | None

    def days_left(self, now: datetime) -> int | None:
        """Days until it goes for good; None: never."""
        return None if self.deleted is None else max(KEPT_DAYS - (now - self.deleted).days, 0)


def copy_to_bin(folder: Path, path: Path, now: datetime) -> Path:
    """Keep in the bin what another state is about to take the place of; errors as `written_whole`."""
    with disk_trouble("the bin cannot be made", file=folder, do="Mend the folder's rights"):
        target = _place_in_bin(folder, path, now)
    with written_whole(target) as partial:
        shutil.copyfile(path, partial)
    return target


def _place_in_bin(folder: Path, path: Path, now: datetime) -> Path:
    place = folder / BIN_NAME
    place.mkdir(exist_ok=True)
    return unused(place / f"{path.stem}.deleted-{now.astimezone(UTC).strftime(STAMP)}{ENDING}")


def move_to_bin(folder: Path, path: Path, now: datetime) -> Path:
    """Move an entry's file to the bin.

    Raises
    ------
    FileProblem
        If it cannot be moved.
    """
    with disk_trouble("it cannot be deleted", file=path, do="Close it elsewhere and try again"):
        target = _place_in_bin(folder, path, now)
        path.rename(target)
    return target


def binned(folder: Path) -> tuple[Binned, ...]:
    """What lies in the bin, deleted last first."""
    found = [_binned(path) for name in (BIN_NAME, OLD_BIN_NAME) for path in _files(folder / name)]
    return tuple(
        sorted(found, key=lambda one: (one.deleted or datetime.min.replace(tzinfo=UTC), one.stem), reverse=True)
    )


def _files(folder: Path) -> list[Path]:
    try:
        return sorted(one for one in folder.iterdir() if one.suffix.lower() == ENDING and not one.name.startswith("."))
    except OSError:
        return []  # nothing was ever deleted


def _binned(path: Path) -> Binned:
    try:
        entry = read_entry(path)
    except FileProblem:
        entry = None
    named = NAMED.fullmatch(path.stem)
    if named is None:
        return Binned(path, path.stem, None, entry)
    return Binned(path, named["stem"], deleted_at(path), entry)


def deleted_at(path: Path) -> datetime | None:
    """When a file of the bin was deleted, by its name."""
    named = NAMED.fullmatch(path.stem)
    try:
        return datetime.strptime(named["stamp"], STAMP).replace(tzinfo=UTC) if named is not None else None
    except ValueError:
        return None


def restore(folder: Path, one: Binned) -> Path:
    """Move an entry back from the bin; under another name where its own is taken.

    Raises
    ------
    FileProblem
        If it cannot be moved.
    """
    target = unused(folder / f"{one.stem}{ENDING}")
    with disk_trouble("it cannot be brought back", file=one.path, do="Close it elsewhere and try again"):
        one.path.rename(target)
    return target


def tidy(folder: Path, now: datetime) -> int:
    """Take away what has lain in the bin for longer than `KEPT_DAYS`, and half-written files; how many entries went."""
    gone = 0
    for path in _files(folder / BIN_NAME):
        deleted = deleted_at(path)
        if deleted is not None and now - deleted > timedelta(days=KEPT_DAYS):
            with suppress(OSError):
                path.unlink()
                gone += 1
    with suppress(OSError):
        for path in folder.glob(f".*{PARTIAL}"):
            with suppress(OSError):
                if now.timestamp() - path.stat().st_mtime > STALE.total_seconds():
                    path.unlink()
    return gone
