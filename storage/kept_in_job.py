"""What a job keeps about one of its captures, found from the capture's own path."""

import json
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.storage.capture_memory import Remembered
from loomlight.storage.job_folder import JSON_NAME, JobFolder
from loomlight.storage.reading import NOTHING_SAID, Reading


def kept_in_job(path: Path) -> Remembered | None:
    """Reading and set-ups of a file that lies in a job's ``captures``; None where it lies in no job.

    A job that cannot be read keeps nothing: the file is then shown as it is.
    """
    folder = path.absolute().parent
    if folder.name != "captures" or not (folder.parent / JSON_NAME).is_file():
        return None
    try:
        job = JobFolder.open(folder.parent)
    except FileProblem:
        return None
    for kept in job.job.captures:
        if kept.file == path.name:
            return Remembered(kept.setups, reading_from(kept.reading))
    return None


def reading_from(text: str) -> Reading:
    """The answers from what a job keeps; nothing said where that cannot be used, the file then tells what it can."""
    try:
        return Reading.from_json(json.loads(text)) if text else NOTHING_SAID
    except ValueError:
        return NOTHING_SAID
