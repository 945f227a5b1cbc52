"""Where things are kept unless another place is chosen."""

import os
import re
import sys
import unicodedata
from pathlib import Path

from loomlight.signal.errors import FileProblem

LIBRARY_VARIABLE = "LOOMLIGHT_LIBRARY"
RESERVED = {
    "con",
    "prn",
    "aux",
    "nul",
    "conin$",
    "conout$",
    *(f"{a}{n}" for a in ("com", "lpt") for n in "0123456789¹²³"),
}
"""Names that one system keeps for its devices, whatever ending follows (Windows documentation, "Naming files")."""
LONGEST = 60
LONGEST_BYTES = 120
"""File systems hold 255 bytes a name; room is left for a number, an ending and the name while it is written."""


def data_folder() -> Path:
    """The user's own folder for program data, by the system's custom."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local")) / "Loomlight"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "Loomlight"
    # XDG Base Directory Specification: a path that is not absolute is to be ignored.
    chosen = Path(os.environ.get("XDG_DATA_HOME", ""))
    return (chosen if chosen.is_absolute() else Path.home() / ".local" / "share") / "loomlight"


def library_folder() -> Path:
    """Folder of the known-good library: the variable ``LOOMLIGHT_LIBRARY``, else one beside the program's data."""
    chosen = os.environ.get(LIBRARY_VARIABLE)
    return Path(chosen).expanduser() if chosen else data_folder() / "library"


def jobs_folder() -> Path:
    """Folder in which new jobs are made unless another is chosen."""
    documents = Path.home() / "Documents"
    return (documents if documents.is_dir() else Path.home()) / "Loomlight jobs"


def log_folder() -> Path:
    """Folder of the local log."""
    return data_folder() / "log"


def file_name(text: str, *, otherwise: str = "untitled") -> str:
    """A title as a file name that every system takes: no reserved signs or names, at most 60 signs and 120 bytes."""
    signs = (" " if unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp") else sign for sign in text)
    plain = re.sub(r'[<>:"/\\|?*]+', " ", unicodedata.normalize("NFC", "".join(signs)))
    plain = _cut(" ".join(plain.split()).strip(". ")).strip(". ")
    if not plain:
        return otherwise
    first, dot, rest = plain.partition(".")
    return f"{first.strip()} (file){dot}{rest}" if first.strip().lower() in RESERVED else plain


def copy_name(name: str) -> str:
    """Name for a copy of a file: as `file_name`, the ending kept in small letters."""
    stem, _, ending = name.rpartition(".")
    if stem and ending.isascii() and ending.isalnum() and len(ending) <= 10:
        return f"{file_name(stem, otherwise='capture')}.{ending.lower()}"
    return file_name(name, otherwise="capture")


def _cut(text: str) -> str:
    return text[:LONGEST].encode("utf-8")[:LONGEST_BYTES].decode("utf-8", errors="ignore")


def unused(path: Path) -> Path:
    """The path itself, or with a number where something of that name stands there already, large and small letters alike.

    Raises
    ------
    FileProblem
        If the folder cannot be listed.
    """
    try:
        taken = {one.name.casefold() for one in path.parent.iterdir()}
    except FileNotFoundError:
        return path
    except OSError as error:
        raise FileProblem(
            f"the folder cannot be read ({error.strerror or error})", file=path.parent, do="Choose another folder"
        ) from error
    number, candidate = 2, path
    while candidate.name.casefold() in taken:
        candidate = path.with_name(f"{path.stem}-{number}{path.suffix}")
        number += 1
    return candidate
