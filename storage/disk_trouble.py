"""What the disk refuses, as a problem that the user can mend."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from loomlight.signal.errors import FileProblem

BLOCK = 1 << 20


@contextmanager
def disk_trouble(what: str, *, file: Path, do: str) -> Iterator[None]:
    """Around work on a file: an error of the system becomes a `FileProblem` with the system's own words in it.

    Parameters
    ----------
    what : str
        What could not be done: "it cannot be read".
    file : Path
        Which file.
    do : str
        What to do about it.

    Raises
    ------
    FileProblem
        In place of an OSError.
    """
    try:
        yield
    except OSError as error:
        raise FileProblem(f"{what} ({error.strerror or error})", file=file, do=do) from error


def blocks_of(file: Path, *, do: str) -> Iterator[bytes]:
    """A file's content, a megabyte at a time.

    Raises
    ------
    FileProblem
        If it cannot be read; ``do`` says what to do about it.
    """
    with disk_trouble("it cannot be read", file=file, do=do), file.open("rb") as opened:
        while block := opened.read(BLOCK):
            yield block
