"""Write an HDF5 file so that a full disk is one error and not the end of the program.

The HDF5 library cannot close a file that the disk had no room for, and takes the process down at its end. So it writes
through a file object of ours, which keeps the first error and takes everything after it for written.
"""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import h5py

from loomlight.signal.progress import Progress


class KeptErrors:
    """A new file whose write errors are kept, for the HDF5 library to write through."""

    def __init__(self, path: Path) -> None:
        self._file = path.open("w+b", buffering=0)
        self.error: OSError | None = None

    def _kept(self, work: Callable[[], object]) -> None:
        if self.error is not None:
            return
        try:
            work()
        except OSError as error:
            self.error = error

    def write(self, content: bytes | memoryview) -> int:
        """All of it, or nothing any more after an error."""
        left = memoryview(content)
        size = left.nbytes

        def all_of_it() -> None:
            done = 0
            while done < size:
                done += self._file.write(left[done:]) or 0

        self._kept(all_of_it)
        return size

    def truncate(self, size: int | None = None) -> int:
        """Set the length; the library ends its files so."""
        self._kept(lambda: self._file.truncate(size))
        return size or 0

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        """Move to a place."""
        return self._file.seek(offset, whence)

    def tell(self) -> int:
        """The place."""
        return self._file.tell()

    def read(self, size: int = -1) -> bytes | None:
        """By this h5py tells a file object from a file's name."""
        return self._file.read(size)

    def readinto(self, buffer: bytearray | memoryview) -> int | None:
        """Read back what was written."""
        return self._file.readinto(buffer)

    def flush(self) -> None:
        """Nothing is held back."""

    def close(self) -> None:
        """Close the file itself."""
        self._kept(self._file.close)

    def require_written(self) -> None:
        """Raise the error that was kept, if there is one."""
        if self.error is not None:
            raise self.error


@dataclass(frozen=True)
class Writing:
    """An HDF5 file that is being written: the file, and the check to make between its parts."""

    file: h5py.File
    written: KeptErrors

    def watching(self, progress: Progress) -> Progress:
        """The same progress, which also stops where the disk took no more."""

        def watched(share: float) -> None:
            self.written.require_written()
            progress(share)

        return watched


@contextmanager
def hdf5_written(path: Path) -> Iterator[Writing]:
    """Hand out a new HDF5 file; an error of the disk is raised once the library has let go of it.

    Raises
    ------
    OSError
        What the disk said first.
    """
    written = KeptErrors(path)
    try:
        with h5py.File(written, "w") as file:
            yield Writing(file, written)
    finally:
        written.close()
    written.require_written()
