"""Several one-channel files that were opened together become one capture, where the user wants that."""

import tempfile
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from loomlight.signal.joined import joined
from loomlight.signal.progress import Progress, part
from loomlight.storage.capture_file import write_capture
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.places import copy_name, data_folder, unused
from loomlight.viewer.choice import Opened
from loomlight.viewer.opened_file import opened_file

FOLDER_NAME = "joined captures"


def join_files(folder: JobFolder | None, opened: Sequence[Opened], progress: Progress) -> Opened:
    """Write the joined capture, into the job where one is open, and open it. For aside.

    Raises
    ------
    LoomlightError
        If they are not of one recording, or it cannot be written.
    """
    whole = joined([one.capture for one in opened])
    name = copy_name(f"{whole.source_name}.h5")
    if folder is None:
        place = data_folder() / FOLDER_NAME
        with suppress(OSError):  # writing says what is wrong with the place
            place.mkdir(parents=True, exist_ok=True)
        path = unused(place / name)
        write_capture(path, whole, progress=part(progress, 0.0, 0.8))
        return opened_file(None, path, part(progress, 0.8, 1.0))
    with tempfile.TemporaryDirectory(prefix="loomlight-") as beside:
        path = Path(beside) / name
        write_capture(path, whole, progress=part(progress, 0.0, 0.6))
        kept = folder.add_capture(path)
    parts = [found.file for one in opened if (found := folder.capture_of(one.path)) is not None]
    folder.set_part_of(parts, kept.file)
    return opened_file(folder, folder.capture_path(kept), part(progress, 0.6, 1.0))
