"""One entry for every file that holds a capture, recognised by its content."""

from pathlib import Path

from loomlight.signal.capture import Capture
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.capture_file import is_capture_file, read_capture
from loomlight.storage.csv_reader import read_text
from loomlight.storage.foreign_hdf5 import read_foreign
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.text_bytes import read_head

HDF5_SIGNATURE = b"\x89HDF\r\n\x1a\n"


def open_capture(path: Path, progress: Progress = unwatched, *, reading: Reading | None = None) -> Capture:
    """Open a capture: our own ``.h5``, another HDF5 file, or a delimited text.

    Parameters
    ----------
    path : Path
        The file's name does not matter; its content does.
    progress : Progress
        0 to 1 over the bytes.
    reading : Reading or None
        What the user said about how a text is to be read.

    Raises
    ------
    FileProblem
        What is wrong, where in the file, what to do.
    """
    if not read_head(path).startswith(HDF5_SIGNATURE):
        return read_text(path, progress, reading=reading or NOTHING_SAID)
    return read_capture(path) if is_capture_file(path) else read_foreign(path)
