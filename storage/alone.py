"""One writer at a time in a folder, over all windows and commands."""

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from loomlight.signal.errors import FileProblem

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

WAIT_S = 2.0
LOCK_NAME = ".lock"


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Keep other writers out; the system lets go of the lock even where the program is killed.

    Where the system or the disk knows no locks, the work goes on without one.

    Parameters
    ----------
    folder : Path
        Must be there.

    Raises
    ------
    FileProblem
        If another writer does not come to an end within two seconds.
    """
    handle = _opened(folder)
    try:
        if handle is not None:
            _wait(handle, folder)
        yield
    finally:
        if handle is not None:
            os.close(handle)


def _opened(folder: Path) -> int | None:
    try:
        if sys.platform == "win32":
            return os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT)
        return os.open(folder, os.O_RDONLY)
    except OSError:
        return None


def _wait(handle: int, folder: Path) -> None:
    until = time.monotonic() + WAIT_S
    while not _locked(handle):
        if time.monotonic() > until:
            raise FileProblem(
                "another window is writing it", file=folder, do="Wait until it is done and repeat the last entry"
            )
        time.sleep(0.01)


def _locked(handle: int) -> bool:
    """Whether the lock was taken, or there are no locks here."""
    try:
        if sys.platform == "win32":
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True
    return True
