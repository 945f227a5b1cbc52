"""One entry for every file that holds a capture, recognised by its content."""

from pathlib import Path

from loomlight.signal.capture import Capture
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.csv_reader import read_text
from loomlight.storage.first_picture import FirstPicture, unseen
from loomlight.storage.numpy_files import is_numpy, read_numpy
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.text_bytes import read_head

HDF5_SIGNATURE = b"\x89HDF\r\n\x1a\n"


def is_text(path: Path) -> bool:
    """Whether a file is read as text: rows and columns that a person can look at.

    Raises
    ------
    FileProblem
        If it cannot be read.
    """
    head = read_head(path)
    return not is_numpy(head) and not head.startswith(HDF5_SIGNATURE)


def open_capture(
    path: Path,
    progress: Progress = unwatched,
    *,
    reading: Reading | None = None,
    first_picture: FirstPicture = unseen,
) -> Capture:
    """Open a capture: our own ``.h5``, another HDF5 file, NumPy arrays, or a delimited text.

    Parameters
    ----------
    path : Path
        The file's name does not matter; its content does.
    progress : Progress
        0 to 1 over the bytes.
    reading : Reading or None
        What the user said about how the file is to be read.
    first_picture : callable
        Takes coarse captures of a long file while it is read, on this thread; the last one may be far from whole.

    Raises
    ------
    FileProblem
        What is wrong, where in the file, what to do.
    """
    head = read_head(path)
    if is_numpy(head):
        return read_numpy(path, progress, reading=reading or NOTHING_SAID)
    if not head.startswith(HDF5_SIGNATURE):
        return read_text(path, progress, reading=reading or NOTHING_SAID, first_picture=first_picture)
    from loomlight.storage.capture_file import is_capture_file, read_capture
    from loomlight.storage.foreign_hdf5 import read_foreign

    if is_capture_file(path):
        return read_capture(path)
    return read_foreign(path, progress, reading=reading or NOTHING_SAID, first_picture=first_picture)
