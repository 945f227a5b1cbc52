"""All jobs of a folder, read for a list."""

from dataclasses import dataclass
from pathlib import Path

from loomlight.signal.errors import LoomlightError
from loomlight.signal.job import Job
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.disk_trouble import disk_trouble
from loomlight.storage.job_folder import JSON_NAME, PREVIOUS_NAME
from loomlight.storage.job_json import from_json


@dataclass(frozen=True)
class ListedJob:
    """One job of a list.

    Attributes
    ----------
    path : Path
        Its folder.
    job : Job or None
        None where it cannot be read.
    problem : str
        Why it cannot, one line; else empty.
    """

    path: Path
    job: Job | None
    problem: str = ""


def jobs_in(folders: tuple[Path, ...], progress: Progress = unwatched) -> tuple[ListedJob, ...]:
    """The jobs that stand in some folders, the one changed last first; damaged ones at the end.

    Parameters
    ----------
    folders : tuple of Path
        Each is a job itself, or holds jobs. What is not there is passed over: a stick may be out.
    progress : Progress
        0 to 1 over the jobs.

    Raises
    ------
    FileProblem
        If a folder is there and cannot be listed.
    """
    places = list(dict.fromkeys(place for folder in folders for place in _places(folder)))
    found = []
    for number, place in enumerate(places):
        progress(number / len(places))
        found.append(_read(place))
    return tuple(sorted(found, key=lambda one: one.job.changed if one.job is not None else "", reverse=True))


def _places(folder: Path) -> list[Path]:
    with disk_trouble("the folder cannot be read", file=folder, do="Check that it may be read"):
        if _is_job(folder):
            return [folder.resolve()]
        return [one.resolve() for one in sorted(folder.iterdir()) if _is_job(one)] if folder.is_dir() else []


def _is_job(folder: Path) -> bool:
    return any((folder / name).is_file() for name in (JSON_NAME, PREVIOUS_NAME))


def _read(folder: Path) -> ListedJob:
    file = folder / JSON_NAME
    try:
        return ListedJob(folder, from_json(file.read_bytes(), file)[0])
    except OSError as error:
        return ListedJob(folder, None, f"{file}: it cannot be read ({error.strerror or error})")
    except LoomlightError as error:
        return ListedJob(folder, None, str(error))
