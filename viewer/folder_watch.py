"""Which files of a folder are new and whole: asked now and then, it knows no clock, no window and no thread."""

import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from loomlight.viewer.capture_files import ENDINGS

PARTIAL_ENDINGS = (".tmp", ".part", ".partial", ".temp", ".filepart", ".download")
STEADY_LOOKS = 2
"""Looks in a row at which a new file must be the same before it counts as whole."""
MOST_AT_ONCE = 12


@dataclass(frozen=True)
class Stamp:
    """What tells one state of a file from another."""

    size: int
    mtime_ns: int
    inode: int


@dataclass(frozen=True)
class Look:
    """What one look at the folder found.

    Attributes
    ----------
    is_there : bool
        Whether the folder could be listed.
    ready : tuple of Path
        New files that are whole, oldest first; each is given once.
    waiting : tuple of str
        Names of new files that are still being written.
    left : int
        Whole new files beyond `MOST_AT_ONCE`, older than those given: they are not opened.
    """

    is_there: bool
    ready: tuple[Path, ...] = ()
    waiting: tuple[str, ...] = ()
    left: int = 0


class FolderWatch:
    """Remembers what was in a folder, and tells what came since.

    What lies there at the first look is old. A file counts as whole once it was the same at two looks in a row, is not empty
    and can be opened for reading. One that is written over with other content is new again; one that only got another name
    is not, unless the old name said that it was not finished.

    Parameters
    ----------
    folder : Path
        Its own files only; folders inside are not looked into.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._known: dict[str, Stamp] | None = None
        self._steady: dict[str, tuple[Stamp, int]] = {}

    def look(self) -> Look:
        """Look at the folder. Reads from disk, which may be slow or gone: for aside."""
        try:
            found = dict(_files(self.folder))
        except OSError:
            # A stick that is pulled and comes back must show what was saved meanwhile: what is known stays known.
            self._steady.clear()
            return Look(is_there=False)
        if self._known is None:
            self._known = {name: stamp for name, stamp in found.items() if not _is_partial(name)}
            return Look(is_there=True)
        new = {name: stamp for name, stamp in found.items() if self._is_new(name, stamp, found) and _is_capture(name)}
        ready = [name for name, stamp in new.items() if self._is_steady(name, stamp)]
        ready.sort(key=lambda name: (new[name].mtime_ns, name))
        for name in ready:
            self._known[name] = new[name]
            self._steady.pop(name, None)
        self._steady = {name: kept for name, kept in self._steady.items() if name in new}
        shown = ready[-MOST_AT_ONCE:]
        return Look(
            is_there=True,
            ready=tuple(self.folder / name for name in shown),
            waiting=tuple(sorted(name for name in new if name not in ready)),
            left=len(ready) - len(shown),
        )

    def _is_new(self, name: str, stamp: Stamp, found: dict[str, Stamp]) -> bool:
        assert self._known is not None
        if self._known.get(name) == stamp:
            return False
        if stamp.inode and name not in self._known:
            before = [old for old, known in self._known.items() if known == stamp and found.get(old) != stamp]
            if before:
                self._known[name] = self._known.pop(before[0])
                return False
        return True

    def _is_steady(self, name: str, stamp: Stamp) -> bool:
        before, looks = self._steady.get(name, (stamp, 0))
        looks = looks + 1 if before == stamp else 1
        self._steady[name] = stamp, looks
        return looks >= STEADY_LOOKS and stamp.size > 0 and _can_be_read(self.folder / name)


def _files(folder: Path) -> Iterator[tuple[str, Stamp]]:
    with os.scandir(folder) as entries:
        for entry in entries:
            try:
                if not entry.is_file():
                    continue
                # Windows gives no inode with the listing, and an old size while a file is being written.
                status = Path(entry.path).stat() if sys.platform == "win32" else entry.stat()
            except OSError:  # gone between the listing and the question
                continue
            yield entry.name, Stamp(status.st_size, status.st_mtime_ns, status.st_ino)


def _is_partial(name: str) -> bool:
    lower = name.lower()
    return lower.startswith((".", "~")) or lower.endswith((*PARTIAL_ENDINGS, "~"))


def _is_capture(name: str) -> bool:
    return not _is_partial(name) and name.lower().endswith(ENDINGS)


def _can_be_read(path: Path) -> bool:
    """Whether the writer let go of it: some systems refuse to open a file that another program still writes."""
    try:
        with path.open("rb") as file:
            return bool(file.read(1))
    except OSError:
        return False
