"""What was said about captures that lie outside any job, remembered by the file's content: reading and set-ups."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from loomlight.signal.channel_setup import ChannelSetup
from loomlight.storage.alone import alone_in
from loomlight.storage.disk_trouble import disk_trouble
from loomlight.storage.places import data_folder, unused
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.safe_write import write_bytes
from loomlight.storage.stored_setup import setup_from

FORMAT = "loomlight captures"
VERSION = 1
NAME = "captures.json"
PUT_ASIDE = "captures.unreadable.json"
MOST_FILES = 500
END_BYTES = 1 << 20


@dataclass(frozen=True)
class Remembered:
    """What was said about one capture.

    Attributes
    ----------
    setups : tuple of ChannelSetup
        Of its channels.
    reading : Reading
        How its text is to be read; nothing said where the structure tells all.
    """

    setups: tuple[ChannelSetup, ...] = ()
    reading: Reading = NOTHING_SAID


class CaptureMemory:
    """What is remembered, in one JSON file; the newest `MOST_FILES` captures stay.

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

    def of(self, capture_file: Path) -> Remembered:
        """What was said about a file with this content.

        A memory that cannot be read counts as empty: the file is then shown as it is.
        """
        files = self._files()
        return files.get(content_key(capture_file), Remembered()) if files else Remembered()

    def keep_setups(self, capture_file: Path, setups: Sequence[ChannelSetup]) -> None:
        """Remember the set-ups of a file; errors as `keep_reading`."""
        self._keep(capture_file, setups=tuple(setups))

    def keep_reading(self, capture_file: Path, reading: Reading) -> None:
        """Remember how a file is to be read.

        Raises
        ------
        FileProblem
            If the file cannot be read, or the memory not written.
        """
        self._keep(capture_file, reading=reading)

    def _keep(self, capture_file: Path, **said: Any) -> None:
        key, file = content_key(capture_file), self._file
        with disk_trouble("the folder cannot be made", file=file, do="Check the disk and try again"):
            file.parent.mkdir(parents=True, exist_ok=True)
        with alone_in(file.parent):
            there = self._files()
            if there is None:  # damaged, or made by a newer version: kept for a person to look at
                file.replace(unused(file.with_name(PUT_ASIDE)))
            files = dict(there or {})
            known = replace(files.pop(key, Remembered()), **said)
            if known != Remembered():
                files[key] = known
            newest = dict(list(files.items())[-MOST_FILES:])
            content = {
                "format": FORMAT,
                "version": VERSION,
                "files": {name: _plain(one) for name, one in newest.items()},
            }
            write_bytes(file, (json.dumps(content, indent=1, ensure_ascii=False) + "\n").encode("utf-8"))

    def _files(self) -> dict[str, Remembered] | None:
        """All that is remembered; None where the file cannot be understood."""
        try:
            read: Any = json.loads(self._file.read_bytes())
            if read["format"] != FORMAT or read["version"] != VERSION:
                return None
            return {str(name): _made(one) for name, one in read["files"].items()}
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
            return None


def _plain(known: Remembered) -> dict[str, Any]:
    return {"setups": [asdict(setup) for setup in known.setups], "reading": known.reading.to_json()}


def _made(value: Any) -> Remembered:
    return Remembered(
        setups=tuple(map(setup_from, value.get("setups", ()))), reading=Reading.from_json(value.get("reading", {}))
    )


def content_key(path: Path) -> str:
    """SHA-256 over a file's size and its first, middle and last megabyte: the same capture under any name.

    Two captures that agree in all of that are taken for one; a file of gigabytes is not read for it as a whole.

    Raises
    ------
    FileProblem
        If it cannot be read.
    """
    with disk_trouble("it cannot be read", file=path, do="Check that the stick is in"), path.open("rb") as file:
        size = file.seek(0, 2)
        digest = hashlib.sha256(str(size).encode())
        for start in sorted({0, max(size // 2 - END_BYTES // 2, 0), max(size - END_BYTES, 0)}):
            file.seek(start)
            digest.update(file.read(END_BYTES))
    return digest.hexdigest()
