"""Writing whole or not at all: a new file beside the old one, synced, then moved over it."""

import errno
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from uuid import uuid4

from loomlight.signal.errors import FileProblem

PARTIAL = ".partial"


@contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """Hand out a new file's path beside ``path``; move it there once it is complete and on the disk.

    Parameters
    ----------
    path : Path
        Where the content shall stand; an older file there stays whole until the new one takes its place.

    Raises
    ------
    FileProblem
        If the folder is missing or cannot be written, the disk is full, or ``path`` is a folder. The old file is untouched.
    """
    try:
        is_folder, has_place = path.is_dir(), path.parent.is_dir()
    except OSError as error:  # a name longer than the system takes, a folder that must not be entered
        raise _explained(error, path) from error
    if is_folder:
        raise FileProblem("this is a folder", file=path, do="Choose a file name inside it")
    if not has_place:
        raise FileProblem(f"the folder {path.parent} is not there", file=path, do="Create it or choose another place")
    # Cut, because the name while it is written must not be longer than the system takes either.
    partial = path.with_name(f".{path.name[:40]}.{uuid4().hex}{PARTIAL}")
    try:
        yield partial
        with partial.open("rb+") as file:
            os.fsync(file.fileno())
        os.replace(partial, path)
        _sync_folder(path.parent)
    except OSError as error:
        raise _explained(error, path) from error
    finally:
        with suppress(OSError):  # where the stick was pulled, the error above is the one to tell
            partial.unlink(missing_ok=True)


def require_space(path: Path, needed: int) -> None:
    """Refuse before anything is written where ``needed`` bytes do not fit beside an older ``path``.

    Raises
    ------
    FileProblem
        If the disk is too full.
    """
    if path.parent.is_dir() and shutil.disk_usage(path.parent).free < needed:
        raise _explained(OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)), path)


def write_bytes(path: Path, content: bytes) -> None:
    """Write ``content`` whole; errors as `written_whole`."""
    with written_whole(path) as partial:
        partial.write_bytes(content)


def write_text(path: Path, content: str) -> None:
    """Write ``content`` whole, UTF-8 with plain line feeds; errors as `written_whole`."""
    write_bytes(path, content.encode("utf-8"))


def _sync_folder(folder: Path) -> None:
    """Make the move itself survive a dead battery, where the system lets a folder be synced."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EBADF):
            raise
    finally:
        os.close(handle)


def _explained(error: OSError, path: Path) -> FileProblem:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return FileProblem("the disk is full", file=path, do="Free some space and save again; nothing was changed")
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return FileProblem(
            f"the folder {path.parent} cannot be written", file=path, do="Choose another place; nothing was changed"
        )
    return FileProblem(
        f"it could not be saved ({error.strerror or error})", file=path, do="Choose another place; nothing was changed"
    )
