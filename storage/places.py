"""Where things are kept unless another place is chosen."""

import os
import re
import sys
from pathlib import Path

LIBRARY_VARIABLE = "LOOMLIGHT_LIBRARY"
RESERVED = {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(1, 10)), *(f"lpt{n}" for n in range(1, 10))}


def data_folder() -> Path:
    """The user's own folder for program data, by the system's custom."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local")) / "Loomlight"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "Loomlight"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "loomlight"


def library_folder() -> Path:
    """Folder of the known-good library: the variable ``LOOMLIGHT_LIBRARY``, else one beside the program's data."""
    chosen = os.environ.get(LIBRARY_VARIABLE)
    return Path(chosen) if chosen else data_folder() / "library"


def jobs_folder() -> Path:
    """Folder in which new jobs are made unless another is chosen."""
    documents = Path.home() / "Documents"
    return (documents if documents.is_dir() else Path.home()) / "Loomlight jobs"


def log_folder() -> Path:
    """Folder of the local log."""
    return data_folder() / "log"


def file_name(text: str, *, otherwise: str = "untitled") -> str:
    """A title as a file name that every system takes: no reserved signs or names, at most 60 characters."""
    plain = re.sub(r'[\x00-\x1f<>:"/\\|?*]+', " ", text)
    plain = " ".join(plain.split()).strip(". ")[:60].strip(". ")
    if not plain:
        return otherwise
    return f"{plain} (file)" if plain.split(".")[0].lower() in RESERVED else plain


def unused(path: Path) -> Path:
    """The path itself, or with a number where something stands there already."""
    number, candidate = 2, path
    while candidate.exists():
        candidate = path.with_name(f"{path.stem}-{number}{path.suffix}")
        number += 1
    return candidate
