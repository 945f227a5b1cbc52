"""Photos in a job: the corroded pin beside the waveform."""

import hashlib
from dataclasses import replace
from pathlib import Path

from loomlight.signal.job import Job
from loomlight.signal.job_records import Photo
from loomlight.storage.job_folder import JobFolder, now
from loomlight.storage.photo import read_photo, suffix_of
from loomlight.storage.places import copy_name, unused
from loomlight.storage.safe_write import write_bytes


def add_photo(folder: JobFolder, source: Path, caption: str = "") -> Photo:
    """Copy a photo in, without the place where it was taken; the same picture is the same photo.

    Raises
    ------
    FileProblem
        If it cannot be read, is no JPEG or PNG, or the copy cannot be written.
    """
    picture = read_photo(source)
    digest = hashlib.sha256(picture).hexdigest()
    inside = folder.path / "photos"
    folder.make(inside)

    def with_photo(job: Job) -> Job:
        if any(one.sha256 == digest and (inside / one.file).exists() for one in job.photos):
            return job
        target = unused((inside / copy_name(source.name)).with_suffix(suffix_of(picture)))
        write_bytes(target, picture)
        return replace(job, photos=(*job.photos, Photo(target.name, caption, digest, now())))

    folder.change(with_photo)
    return next(one for one in folder.job.photos if one.sha256 == digest and (inside / one.file).exists())


def set_caption(folder: JobFolder, file: str, caption: str) -> None:
    """Say what a photo shows."""
    folder.change(
        lambda job: replace(
            job, photos=tuple(replace(one, caption=caption) if one.file == file else one for one in job.photos)
        )
    )


def leave_out(folder: JobFolder, file: str) -> None:
    """Take a photo off the job's list; its file stays in the folder."""
    folder.change(lambda job: replace(job, photos=tuple(one for one in job.photos if one.file != file)))
