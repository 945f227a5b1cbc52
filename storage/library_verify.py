"""Look through the whole library: every file, the bin, and whether the index says the same as the files."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.storage.capture_file import close_captures, read_captures, read_entry
from loomlight.storage.check_sum import soundness
from loomlight.storage.library import Library
from loomlight.storage.library_index import ENDING, stamps_of
from loomlight.storage.library_rows import Listed

State = Literal["sound", "no check sum", "damaged", "no entry", "copy"]
WRONG: tuple[State, ...] = ("damaged", "no entry")


@dataclass(frozen=True)
class Verified:
    """One file that was looked at.

    Attributes
    ----------
    file : str
        Its name; those of the bin with their folder.
    title : str
        Of its entry, as far as it is known.
    state : str
        ``copy``: sound, but the entry stands there under its own name too.
    note : str
        What is the matter and what to do, one line; else empty.
    """

    file: str
    title: str
    state: State
    note: str = ""


@dataclass(frozen=True)
class Verification:
    """All files, and whether the index had to be made anew because it told something else."""

    files: tuple[Verified, ...]
    index_was_wrong: bool = False

    @property
    def wrong(self) -> tuple[Verified, ...]:
        """Files that are damaged or no entries."""
        return tuple(one for one in self.files if one.state in WRONG)


def verify(library: Library, progress: Progress = unwatched) -> Verification:
    """Check every file of a library by its check sum, and that it can be read to its end.

    Raises
    ------
    FileProblem
        If the folder cannot be listed.
    """
    library.tidy()
    listed = {one.file: one for one in library.files()}
    names = sorted(stamps_of(library.folder))
    binned = [one.path for one in library.binned()]
    found: list[Verified] = []
    wrong_index = set(listed) != set(names)
    whole = max(len(names) + len(binned), 1)
    for number, path in enumerate([*(library.folder / name for name in names), *binned]):
        share = part(progress, number / whole, (number + 1) / whole)
        in_bin = number >= len(names)
        file = f"{path.parent.name}/{path.name}" if in_bin else path.name
        one = _verified(path, file, None if in_bin else listed.get(path.name), share)
        found.append(one)
        if not in_bin and one.state in ("sound", "no check sum", "copy"):
            told = listed.get(path.name)
            wrong_index = wrong_index or told is None or told.entry != _as_listed(path)
    if wrong_index:
        library.make_index_anew()
    return Verification(tuple(found), wrong_index)


def _as_listed(path: Path) -> object:
    entry = read_entry(path)
    return None if entry is None else replace(entry, id=path.stem)


def _verified(path: Path, file: str, listed: Listed | None, progress: Progress) -> Verified:
    title = listed.entry.title if listed is not None else file
    try:
        state = soundness(path, progress)
        if state == "damaged":
            return Verified(file, title, "damaged", "its check sum is another one. Take it again from another copy.")
        entry = read_entry(path)
        if entry is None:
            return Verified(
                file, title, "no entry", "a capture without a title. Add it to the library, or move it away."
            )
        captures = read_captures(path)
        try:
            _read_to_the_end(captures)
        finally:
            close_captures(captures)
    except FileProblem as error:
        return Verified(file, title, "damaged", f"{error.what}. {error.do}.")
    if listed is not None and listed.copy_of and (path.parent / f"{listed.copy_of}{ENDING}").exists():
        return Verified(
            file,
            entry.title,
            "copy",
            "another state of an entry, as left by a program that keeps two places alike. Keep one.",
        )
    if state == "unmarked":
        return Verified(file, entry.title, "no check sum", "kept by an older version; the next edit gives it one.")
    return Verified(file, entry.title, "sound")


def _read_to_the_end(captures: tuple[Capture, ...]) -> None:
    for channel in (one for capture in captures for one in capture.channels):
        size = channel.samples.size
        if size:
            channel.samples.block(size - 1, size)
