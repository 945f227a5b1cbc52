"""``loomlight desktop``: into the applications' menu, and into the file manager's "Open with" for captures (Linux)."""

import argparse
import importlib.resources
import os
import shutil
import sys
from contextlib import suppress
from pathlib import Path

from loomlight.signal.errors import LoomlightError
from loomlight.storage.safe_write import write_bytes

ENTRY, ICON = Path("applications/loomlight.desktop"), Path("icons/hicolor/scalable/apps/loomlight.svg")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    parser.add_argument("--remove", action="store_true", help="take both away again")


def run(arguments: argparse.Namespace) -> int:
    """Put the entry and its icon in place for this user, or take them away.

    Raises
    ------
    LoomlightError
        If the system has no such menu, or the files cannot be written.
    """
    if not sys.platform.startswith("linux"):
        raise LoomlightError("Only Linux desktops take this. On this system choose Loomlight under “Open with” once.")
    home = _data_home()
    if arguments.remove:
        for one in (ENTRY, ICON):
            (home / one).unlink(missing_ok=True)
        print("Loomlight is out of the menu.")
        return 0
    source = importlib.resources.files("loomlight.viewer") / "linux-desktop"
    for target, content in (
        (home / ENTRY, entry_for(_program(), (source / "loomlight.desktop").read_text(encoding="utf-8")).encode()),
        (home / ICON, (source / "loomlight.svg").read_bytes()),
    ):
        target.parent.mkdir(parents=True, exist_ok=True)
        write_bytes(target, content)
    print(f"Loomlight is in the menu, and under “Open with” for CSV and HDF5 files: {home / ENTRY}")
    return 0


def entry_for(program: list[str], entry: str) -> str:
    """The desktop entry with the program's own path (Desktop Entry Specification: an argument with blanks is quoted)."""
    quoted = " ".join(f'"{word}"' if " " in word else word for word in (one.replace("%", "%%") for one in program))
    return entry.replace("Exec=loomlight %F", f"Exec={quoted} %F")


def _data_home() -> Path:
    chosen = Path(os.environ.get("XDG_DATA_HOME", ""))
    return chosen if chosen.is_absolute() else Path.home() / ".local" / "share"


def _program() -> list[str]:
    """How this program is started: its own script, the one on the path, or the interpreter with the package."""
    if getattr(sys, "frozen", False):
        return [sys.executable]
    with suppress(OSError):
        script = Path(sys.argv[0]).resolve()
        if script.name.startswith("loomlight") and os.access(script, os.X_OK):
            return [str(script)]
    found = shutil.which("loomlight")
    return [found] if found else [sys.executable, "-m", "loomlight.viewer"]
