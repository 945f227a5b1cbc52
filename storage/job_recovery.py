"""What stands in a job's folders and in no list: found again where the job came from an older copy."""

import hashlib
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from loomlight.signal.job import Job, JobCapture
from loomlight.signal.job_records import Photo


def with_what_is_there(job: Job, folder: Path) -> Job:
    """The job with the captures, snapshots and photos that lie in its folder and that it does not list, oldest first.

    Parameters
    ----------
    job : Job
        As an older copy of the job file has it.
    folder : Path
        The job's folder. Files that cannot be read are left where they are, unlisted.
    """
    listed = {one.file for one in job.captures}
    captures = tuple(
        found
        for path in _files(folder / "captures")
        if path.name not in listed and (found := _capture(path)) is not None
    )
    pictures = (path.name for path in _files(folder / "snapshots") if path.suffix.lower() == ".png")
    snapshots = tuple(name for name in pictures if name not in job.snapshots)
    photographed = {one.file for one in job.photos}
    photos = tuple(
        Photo(found.file, "", found.sha256, found.added)
        for path in _files(folder / "photos")
        if path.name not in photographed and (found := _capture(path)) is not None
    )
    return replace(
        job, captures=job.captures + captures, snapshots=job.snapshots + snapshots, photos=job.photos + photos
    )


def _files(folder: Path) -> list[Path]:
    """Files that a person can see, oldest first; none where the folder cannot be listed."""
    try:
        found = [(path.stat().st_mtime_ns, path) for path in folder.iterdir() if not path.name.startswith(".")]
        return [path for _, path in sorted(found) if path.is_file()]
    except OSError:
        return []


def _capture(path: Path) -> JobCapture | None:
    try:
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256")
        added = datetime.fromtimestamp(path.stat().st_mtime).astimezone()
    except OSError:
        return None
    return JobCapture(path.name, path.name, digest.hexdigest(), added.isoformat(timespec="seconds"))
