"""Set-ups of channels of files that lie outside any job, remembered by the file's content."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from loomlight.signal.channel_setup import ChannelSetup
from loomlight.signal.errors import FileProblem
from loomlight.storage.alone import alone_in
from loomlight.storage.places import data_folder, unused
from loomlight.storage.safe_write import write_bytes
from loomlight.storage.stored_setup import setup_from

FORMAT = "loomlight set-ups"
VERSION = 1
NAME = "set-ups.json"
PUT_ASIDE = "set-ups.unreadable.json"
MOST_FILES = 500
END_BYTES = 1 << 20


class SetupMemory:
    """What was set up, in one JSON file; the newest `MOST_FILES` captures are remembered.

    Parameters
    ----------
    folder : Path, optional
        Where it is kept: beside the program's data if not given.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder

    @property
    def _file(self) -> Path:
        return (self._folder or data_folder()) / NAME

    def of(self, capture_file: Path) -> tuple[ChannelSetup, ...]:
        """The set-ups of a file with this content; none where nothing is remembered.

        A memory that cannot be read counts as empty: the file is then shown as it is.
        """
        files = self._files()
        return files.get(content_key(capture_file), ()) if files else ()

    def keep(self, capture_file: Path, setups: Sequence[ChannelSetup]) -> None:
        """Remember the set-ups of a file by its content; none of them forgets it.

        Raises
        ------
        FileProblem
            If the file cannot be read, or the memory not written.
        """
        key, file = content_key(capture_file), self._file
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FileProblem(
                f"the folder cannot be made ({error.strerror or error})", file=file, do="Check the disk and try again"
            ) from error
        with alone_in(file.parent):
            there = self._files()
            if there is None:  # damaged, or made by a newer version: kept for a person to look at
                file.replace(unused(file.with_name(PUT_ASIDE)))
            files = {name: known for name, known in (there or {}).items() if name != key}
            if setups:
                files[key] = tuple(setups)
            newest = list(files.items())[-MOST_FILES:]
            kept = {name: [asdict(setup) for setup in known] for name, known in newest}
            content = {"format": FORMAT, "version": VERSION, "files": kept}
            write_bytes(file, (json.dumps(content, indent=1, ensure_ascii=False) + "\n").encode("utf-8"))

    def _files(self) -> dict[str, tuple[ChannelSetup, ...]] | None:
        """All that is remembered; None where the file cannot be understood."""
        try:
            read: Any = json.loads(self._file.read_bytes())
            if read["format"] != FORMAT or read["version"] != VERSION:
                return None
            return {str(name): tuple(map(setup_from, known)) for name, known in read["files"].items()}
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
            return None


def content_key(path: Path) -> str:
    """SHA-256 over a file's size and its first, middle and last megabyte: the same capture under any name.

    Two captures that agree in all of that are taken for one; a file of gigabytes is not read for it as a whole.

    Raises
    ------
    FileProblem
        If it cannot be read.
    """
    try:
        with path.open("rb") as file:
            size = file.seek(0, 2)
            digest = hashlib.sha256(str(size).encode())
            for start in sorted({0, max(size // 2 - END_BYTES // 2, 0), max(size - END_BYTES, 0)}):
                file.seek(start)
                digest.update(file.read(END_BYTES))
    except OSError as error:
        raise FileProblem(
            f"it cannot be read ({error.strerror or error})", file=path, do="Check that the stick is in"
        ) from error
    return digest.hexdigest()
