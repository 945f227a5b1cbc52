"""One file opened as it was set up, into the job where there is one: for aside."""

from dataclasses import replace
from pathlib import Path

from loomlight.signal.channel_setup import with_setups
from loomlight.signal.job import Stage
from loomlight.signal.progress import Progress, part
from loomlight.storage.first_picture import FirstPicture, unseen
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.open_capture import open_capture
from loomlight.storage.reading import Reading
from loomlight.viewer.capture_keeping import bring_along, keep_reading, known_about, remember_structure, sort_of
from loomlight.viewer.choice import Opened


def opened_file(
    folder: JobFolder | None,
    path: Path,
    progress: Progress,
    *,
    stage: Stage = "other",
    reading: Reading | None = None,
    first_picture: FirstPicture = unseen,
) -> Opened:
    """Read a file as it was set up; with a job, copy it in first and read the job's own copy. For aside.

    ``reading`` is a new answer about how it is to be read, and is kept; None: as it was said before. ``first_picture`` takes
    coarse captures of a long file while it is read.
    """
    known = known_about(folder, path)
    said = known.reading if reading is None else reading
    if folder is not None and folder.capture_of(path) is None:
        # A file that cannot be read is refused before it is copied.
        open_capture(path, part(progress, 0.0, 0.5), reading=said, first_picture=first_picture)
        first_picture = unseen
        path = folder.capture_path(folder.add_capture(path, stage))
        bring_along(folder, path, replace(known, reading=said))
        known = known_about(folder, path)
        said = known.reading if reading is None else reading
    capture = open_capture(path, part(progress, 0.5, 1.0), reading=said, first_picture=first_picture)
    if reading is not None:
        keep_reading(folder, path, reading)
        remember_structure(path, reading)
    return Opened(path, with_setups(capture, known.setups), stage, said, sort_of(path))
