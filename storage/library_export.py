"""Chosen entries as one zip file to share; personal data only where asked for."""

import json
import re
import tempfile
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.channel_setup import set_up, stored_of
from loomlight.signal.entry import PRIVATE, Entry, without_private
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.storage.capture_file import close_captures, read_captures, write_capture
from loomlight.storage.library import Library
from loomlight.storage.library_index import ENDING
from loomlight.storage.safe_write import written_whole
from loomlight.storage.zip_members import member

FORMAT, VERSION = "loomlight library", 1
LIST_NAME = "library.json"
INSIDE = "entries"
SHORTEST = 4
"""A private text of fewer signs is not looked for in other texts: it may be any word."""
VIN = re.compile(r"\b(?=[A-HJ-NPR-Z]*\d)[A-HJ-NPR-Z0-9]{17}\b", re.IGNORECASE)
"""What may be a vehicle identification number (ISO 3779: 17 signs without I, O and Q)."""
LEFT_OUT = "(left out)"


@dataclass(frozen=True)
class Exported:
    """What became of an export: the zip file, and the entries in it."""

    path: Path
    entries: tuple[Entry, ...]


def export(
    library: Library, entries: Sequence[Entry], out: Path, *, private: bool = False, progress: Progress = unwatched
) -> Exported:
    """Write chosen entries into a zip file, whole or not at all.

    Parameters
    ----------
    library : Library
        Theirs.
    entries : sequence of Entry
        Which.
    out : Path
        Where to; nothing may stand there yet.
    private : bool
        With personal data, names of source files and histories.
    progress : Progress
        0 to 1 over the entries.

    Raises
    ------
    FileProblem
        If something stands at ``out``, an entry is damaged, or the zip file cannot be written.
    """
    if out.exists():
        raise FileProblem("something stands there already", file=out, do="Choose another name for the zip file")
    told = []
    with written_whole(out) as partial, zipfile.ZipFile(partial, "w") as packed:
        for number, entry in enumerate(entries):
            share = part(progress, number / len(entries), (number + 1) / len(entries))
            path = library.path_of(entry)
            library.require_sound(path)
            name = f"{INSIDE}/{entry.id}{ENDING}"
            if private:
                _pack(packed, name, path)
                told.append(entry)
            else:
                with tempfile.TemporaryDirectory() as place:
                    plain = Path(place) / f"{entry.id}{ENDING}"
                    told.append(_written_plain(path, plain, entry, share))
                    _pack(packed, name, plain)
        about = {"format": FORMAT, "version": VERSION, "private": private}
        listed = [{"file": f"{INSIDE}/{one.id}{ENDING}", "title": one.title, "kind": one.kind} for one in told]
        packed.writestr(member(LIST_NAME), json.dumps(about | {"entries": listed}, indent=1))
    return Exported(out, tuple(told))


def _pack(packed: zipfile.ZipFile, name: str, path: Path) -> None:
    with packed.open(member(name), "w", force_zip64=True) as target, path.open("rb") as source:
        while block := source.read(1 << 20):
            target.write(block)


def _written_plain(path: Path, plain: Path, entry: Entry, progress: Progress) -> Entry:
    """Write an entry anew without what is personal: nothing of it is left in the file's unused corners either."""
    secrets = _secrets(entry)
    shared = without_private(entry)
    names = [one.name for one in fields(Entry) if one.name not in ("id", "kind", "added", "changed")]
    cleaned: dict[str, Any] = {name: _cleaned(getattr(shared, name), secrets) for name in names}
    shared = replace(shared, **cleaned)
    captures = read_captures(path)
    try:
        first, *more = [_plain_capture(one, secrets) for one in captures]
        write_capture(plain, first, entry=shared, more=more, created=entry.added, progress=progress)
    finally:
        close_captures(captures)
    return shared


def _secrets(entry: Entry) -> tuple[str, ...]:
    names = [getattr(entry, name) for name in PRIVATE]
    names += [entry.source_name, *(one.source_name for one in entry.more)]
    return tuple(sorted((one for one in names if len(one) >= SHORTEST), key=len, reverse=True))


def _cleaned(value: object, secrets: Sequence[str]) -> object:
    if isinstance(value, tuple):
        return tuple(_cleaned(one, secrets) if isinstance(one, str) else one for one in value)
    if not isinstance(value, str):
        return value
    for one in secrets:
        value = re.sub(re.escape(one), LEFT_OUT, value, flags=re.IGNORECASE)
    return VIN.sub(LEFT_OUT, value)


def _plain_capture(capture: Capture, secrets: Sequence[str]) -> Capture:
    texts = [one for one in (*secrets, capture.source_name) if len(one) >= SHORTEST]
    notes = tuple(str(_cleaned(one, texts)) for one in capture.notes)
    channels = tuple(_plain_channel(one, texts) for one in capture.channels)
    return Capture("", capture.layout, channels, notes)


def _plain_channel(channel: Channel, texts: Sequence[str]) -> Channel:
    stored, setup = stored_of(channel)
    plain = replace(stored, history=tuple(str(_cleaned(one, texts)) for one in stored.history))
    return plain if setup.is_plain else set_up(plain, setup)
