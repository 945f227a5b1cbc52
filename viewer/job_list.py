"""What a list of jobs shows, worked out aside."""

from dataclasses import dataclass
from pathlib import Path

from loomlight.signal.job import Job
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.seen_before import holds_words, likeness
from loomlight.storage.job_list import ListedJob, jobs_in
from loomlight.viewer.wording import STATE_SIGNS


@dataclass(frozen=True)
class Seen:
    """An earlier job that is like the one at hand."""

    path: Path
    title: str
    words: str
    weight: int


def seen_before(job: Job, own: Path, folders: tuple[Path, ...], progress: Progress = unwatched) -> tuple[Seen, ...]:
    """Earlier jobs like this one, the most alike first.

    Raises
    ------
    FileProblem
        If a folder of jobs is there and cannot be listed.
    """
    found = []
    for one in jobs_in(folders, progress):
        if one.job is None or one.path == own.resolve():
            continue
        alike = likeness(job, one.job)
        if alike.weight:
            words = "; ".join(filter(None, (alike.in_words(), one.job.place, one.job.created[:10])))
            found.append(Seen(one.path, one.job.title, words, alike.weight))
    return tuple(sorted(found, key=lambda one: -one.weight))


def listed(jobs: tuple[ListedJob, ...], words: str) -> list[tuple[Path, str]]:
    """Folder and line of each job that holds all the words; damaged ones are always shown, with what is wrong."""
    found = []
    for one in jobs:
        if one.job is None:
            found.append((one.path, f"✗  {one.problem}"))
        elif holds_words(one.job, words):
            facts = "   ".join(filter(None, (one.job.vehicle, one.job.customer, one.job.place, one.job.changed[:10])))
            found.append((one.path, f"{STATE_SIGNS[one.job.state]}  {one.job.title}\n{facts}"))
    return found
