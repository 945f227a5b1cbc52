"""In which jobs an entry was the known-good."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from loomlight.signal.entry import Entry
from loomlight.signal.job import Job, JobVerdict
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.job_list import jobs_in
from loomlight.viewer.entry_words import day_of


@dataclass(frozen=True)
class Use:
    """One job that an entry was used in: its folder, title and state, and what was compared with the entry."""

    folder: Path
    job: str
    text: str


def uses_of(entry: Entry, folders: Sequence[Path], progress: Progress = unwatched) -> tuple[Use, ...]:
    """Jobs in which an entry was the known-good, the one changed last first.

    Jobs of before verdicts noted the entry's id are found by the title that the entry has, or had before an edit.

    Raises
    ------
    FileProblem
        If a folder is there and cannot be listed.
    """
    titles = {entry.title, *(str(one.before) for edit in entry.history for one in edit.changes if one.field == "title")}
    found = []
    for listed in jobs_in(tuple(folders), progress):
        if listed.job is None:
            continue
        verdicts = [one for one in listed.job.verdicts if _is_of(one, entry, titles)]
        if verdicts:
            found.append(Use(listed.path, listed.job.title, _text(listed.job, verdicts)))
    return tuple(found)


def _is_of(verdict: JobVerdict, entry: Entry, titles: set[str]) -> bool:
    if verdict.good_entry:
        return verdict.good_entry == entry.id
    return any(verdict.good.endswith(f"(library: {title})") for title in titles)


def _text(job: Job, verdicts: Sequence[JobVerdict]) -> str:
    told = ", ".join(dict.fromkeys(f"{one.channel} of {one.file}: {one.verdict.state}" for one in verdicts))
    vehicle = f"{job.vehicle} · " if job.vehicle else ""
    return f"{day_of(job.changed)[:10]}  {job.title}  ({vehicle}{job.state})\n    {told}"
