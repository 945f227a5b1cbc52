"""The check sum of a file, kept inside the file: damage is seen before anything in it is believed.

Each entry's root attribute ``sha256`` holds a mark and 64 hexadecimal digits: SHA-256 (FIPS 180-4) of all the file's bytes,
those digits taken as zeros. It is worked out over the bytes, not over what the HDF5 library reads from them: a damaged file
need never be handed to the library, and its pictures and texts are covered as well as its samples.
"""

import hashlib
from pathlib import Path
from typing import Literal

from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched

MARK = b"sha256 of this file, digits as zeros: "
DIGITS = 64
ZEROS = b"0" * DIGITS
HEAD = 1 << 20
"""The mark stands in the first attributes, so within this many bytes."""
BLOCK = 1 << 20

Soundness = Literal["sound", "damaged", "unmarked"]


def seal(path: Path) -> None:
    """Write the check sum of a file that holds a mark, in place: for a new file that nobody knows of yet.

    Raises
    ------
    OSError
        As the disk says.
    ValueError
        If there is no mark.
    """
    with path.open("rb+") as file:
        places = _places(file.read(HEAD))
        if not places:
            raise ValueError("there is no place for the check sum")
    digest = _digest(path, places, unwatched).encode()
    with path.open("rb+") as file:
        for place in places:
            file.seek(place)
            file.write(digest)


def soundness(path: Path, progress: Progress = unwatched) -> Soundness:
    """Whether a file still is what was written; ``unmarked`` where it holds no check sum.

    Raises
    ------
    FileProblem
        If it cannot be read.
    """
    try:
        with path.open("rb") as file:
            head = file.read(HEAD)
        places = _places(head)
        if not places:
            return "unmarked"
        told = {head[place : place + DIGITS] for place in places}
        return "sound" if told == {_digest(path, places, progress).encode()} else "damaged"
    except FileNotFoundError as error:
        raise FileProblem("there is no such file", file=path, do="Check the name and the folder") from error
    except OSError as error:
        raise FileProblem(
            f"it cannot be read ({error.strerror or error})", file=path, do="Is the stick still in? Try again"
        ) from error


def _places(head: bytes) -> list[int]:
    """Where the digits stand: the HDF5 library may leave an older copy of an attribute behind when it moves one."""
    found, at = [], head.find(MARK)
    while at >= 0:
        if at + len(MARK) + DIGITS <= len(head):
            found.append(at + len(MARK))
        at = head.find(MARK, at + 1)
    return found


def _digest(path: Path, places: list[int], progress: Progress) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        size = max(path.stat().st_size, 1)
        head = bytearray(file.read(HEAD))
        for place in places:
            head[place : place + DIGITS] = ZEROS
        digest.update(head)
        done = len(head)
        while block := file.read(BLOCK):
            progress(min(done / size, 1.0))
            digest.update(block)
            done += len(block)
    return digest.hexdigest()
