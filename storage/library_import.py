"""Entries from a zip file or from another library's folder: first told what is new, the same or different, then taken."""

import hashlib
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal
from uuid import uuid4

import h5py

from loomlight.signal.entry import Entry, differing
from loomlight.signal.errors import FileProblem, NoSuchChannel
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.storage.alone import alone_in
from loomlight.storage.capture_file import close_captures, read_captures, read_entry
from loomlight.storage.check_sum import soundness
from loomlight.storage.library import Library
from loomlight.storage.library_bin import copy_to_bin
from loomlight.storage.library_index import ENDING, instant_of, stamps_of
from loomlight.storage.places import file_name
from loomlight.storage.safe_write import require_space, written_whole
from loomlight.storage.stored_samples import UNREADABLE
from loomlight.storage.zip_guard import unpacked

State = Literal["new", "same", "different", "refused"]
WithDifferent = Literal["keep", "take", "both"]
UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.IGNORECASE)


@dataclass(frozen=True)
class Incoming:
    """One entry that could be taken.

    Attributes
    ----------
    path : Path
        Its file, outside of the library.
    id : str
        What it goes by.
    entry : Entry or None
        None where it is refused.
    state : str
        ``new``, ``same``, ``different`` or ``refused``.
    fields : tuple of str
        What is different: fields of the entry, ``samples``.
    note : str
        Why it is refused; which of two states is the newer one; that it was deleted here.
    """

    path: Path
    id: str
    entry: Entry | None
    state: State
    fields: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Taken:
    """What was taken: how many were new, took the place of another state, were put beside one, were left."""

    new: int = 0
    replaced: int = 0
    beside: int = 0
    left: int = 0


@contextmanager
def arriving(library: Library, source: Path, progress: Progress = unwatched) -> Iterator[tuple[Incoming, ...]]:
    """Look at what a zip file or a folder would bring; nothing in the library is touched.

    Parameters
    ----------
    library : Library
        Where it would go.
    source : Path
        A zip file, or a folder with entries.
    progress : Progress
        0 to 1.

    Raises
    ------
    FileProblem
        If the source cannot be read, is the library itself, or is a zip file that is refused.
    """
    if source.is_dir():
        if library.folder.exists() and source.samefile(library.folder):
            raise FileProblem("this is the library itself", file=source, do="Choose the folder of the other library")
        paths = tuple(source / name for name in sorted(stamps_of(source)))
        if not paths:
            raise FileProblem(
                "there is no library entry in this folder", file=source, do="Choose the other library's folder"
            )
        yield _looked_at(library, paths, progress)
        return
    with tempfile.TemporaryDirectory() as place:
        paths = unpacked(source, Path(place), part(progress, 0.0, 0.4))
        yield _looked_at(library, paths, part(progress, 0.4, 1.0))


def take(
    library: Library,
    incoming: tuple[Incoming, ...],
    *,
    different: WithDifferent = "keep",
    progress: Progress = unwatched,
) -> Taken:
    """Take entries into the library.

    Parameters
    ----------
    library : Library
        Where they go.
    incoming : tuple of Incoming
        As `arriving` told them, or chosen ones of those.
    different : str
        What becomes of an entry that stands here in another state: ``keep`` this one, ``take`` theirs (this one goes to the
        bin), or ``both`` (theirs as an entry of its own).
    progress : Progress
        0 to 1 over the entries.

    Raises
    ------
    FileProblem
        If one cannot be written; those before it are there.
    """
    library.make_folder()
    new = replaced = beside = left = 0
    for number, one in enumerate(incoming):
        progress(number / len(incoming))
        target = library.folder / f"{one.id}{ENDING}"
        with alone_in(library.folder):
            if one.state == "new" and not target.exists():
                _copied(one.path, target)
                new += 1
            elif one.state == "different" and different == "take":
                copy_to_bin(library.folder, target, datetime.now(UTC))
                _copied(one.path, target)
                replaced += 1
            elif one.state == "different" and different == "both":
                _copied(one.path, library.folder / f"{uuid4()}{ENDING}")
                beside += 1
            else:
                left += 1
    return Taken(new, replaced, beside, left)


def _copied(source: Path, target: Path) -> None:
    require_space(target, source.stat().st_size)
    with written_whole(target) as partial:
        shutil.copyfile(source, partial)


def _looked_at(library: Library, paths: tuple[Path, ...], progress: Progress) -> tuple[Incoming, ...]:
    deleted = {one.stem for one in library.binned()}
    here = {one.entry.id: one.entry for one in library.files() if not one.problem}
    found: list[Incoming] = []
    for number, path in enumerate(paths):
        progress(number / len(paths))
        found.append(_one(library, path, here, deleted))
    return tuple(found)


def _one(library: Library, path: Path, here: dict[str, Entry], deleted: set[str]) -> Incoming:
    try:
        entry = require_own_entry(path)
    except FileProblem as error:
        return Incoming(path, path.stem, None, "refused", note=f"{error.what}. {error.do}.")
    name = path.stem if UUID.fullmatch(path.stem) else entry.id if UUID.fullmatch(entry.id) else path.stem
    entry = replace(entry, id=name)
    mine = here.get(name)
    if mine is None:
        note = "It was deleted here, and is in the bin." if name in deleted else ""
        return Incoming(path, name, entry, "new", note=note)
    fields = differing(mine, entry)
    if _samples_digest(library.path_of(mine)) != _samples_digest(path):
        fields = (*fields, "samples")
    if not fields:
        return Incoming(path, name, entry, "same")
    ours, theirs = (instant_of(one.changed or one.added) for one in (mine, entry))
    newer = "" if ours == theirs else f"{'This one here' if ours > theirs else 'The incoming one'} was changed later."
    return Incoming(path, name, entry, "different", fields, newer)


def require_own_entry(path: Path) -> Entry:
    """Refuse a file that is not a sound, self-contained library entry.

    Raises
    ------
    FileProblem
        If it is a link, damaged, no entry, or would read from other files.
    """
    if path.is_symlink() or not path.is_file():
        raise FileProblem("it is a link and no file of its own", file=path, do="Copy the file itself")
    if file_name(path.stem) != path.stem:
        raise FileProblem("its name is none for an entry", file=path, do="Give it a plain name")
    if soundness(path) == "damaged":
        raise FileProblem("it is damaged: its check sum is another one", file=path, do="Have it sent again")
    entry = read_entry(path)
    if entry is None or not entry.title.strip() or not entry.kind:
        raise FileProblem("it is a capture, but no library entry", file=path, do="Open it, and keep a channel of it")
    _require_self_contained(path)
    captures = read_captures(path)
    try:
        captures[0].channel(entry.channel)
        if len(captures) != 1 + len(entry.more):
            raise FileProblem(
                "its captures and what it says of them do not go together", file=path, do="Have it sent again"
            )
    except NoSuchChannel as error:
        raise FileProblem("its channel is not in it", file=path, do="Have it sent again") from error
    finally:
        close_captures(captures)
    return entry


def _require_self_contained(path: Path) -> None:
    """No link to another file or to elsewhere in this one, no samples that lie in other files."""
    try:
        with h5py.File(path, "r") as file:
            groups = [file["/"]]
            while groups:
                group = groups.pop()
                for name in group:
                    if not isinstance(group.get(name, getlink=True), h5py.HardLink):
                        raise FileProblem("it would read from another place", file=path, do="Do not use it")
                    item = group[name]
                    if isinstance(item, h5py.Group):
                        groups.append(item)
                        if len(groups) > 10_000:
                            raise FileProblem("its groups go round in circles", file=path, do="Do not use it")
                    elif item.is_virtual or item.external:
                        raise FileProblem("its samples lie in another file", file=path, do="Do not use it")
    except UNREADABLE as error:
        raise FileProblem("the file is damaged or was cut short", file=path, do="Have it sent again") from error


def _samples_digest(path: Path) -> str:
    digest = hashlib.sha256()
    captures = read_captures(path)
    try:
        for channel in (one for capture in captures for one in capture.channels):
            about = (channel.name, channel.unit, channel.form, channel.start_s, channel.step_s, channel.gaps)
            digest.update(repr(about).encode("utf-8", errors="replace"))
            for start in range(0, channel.samples.size, 1 << 20):
                stop = min(start + (1 << 20), channel.samples.size)
                digest.update(channel.samples.block(start, stop).tobytes())
            if channel.times_s is not None:
                digest.update(channel.times_s.tobytes())
    finally:
        close_captures(captures)
    return digest.hexdigest()
