"""One visit as a folder that a person can read: ``job.json``, ``captures/``, ``snapshots/``, ``photos/``."""

import hashlib
import threading
from collections.abc import Callable, Collection
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

from loomlight.signal.channel_setup import ChannelSetup
from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.job import Job, JobCapture, JobVerdict, Note, Stage
from loomlight.storage.alone import LOCK_NAME, alone_in
from loomlight.storage.disk_trouble import blocks_of, disk_trouble
from loomlight.storage.job_json import DamagedJob, from_json, to_json
from loomlight.storage.job_recovery import with_what_is_there
from loomlight.storage.places import copy_name, file_name, unused
from loomlight.storage.safe_write import PARTIAL, write_bytes, written_whole

JSON_NAME = "job.json"
PREVIOUS_NAME = "job.previous.json"
DAMAGED_NAME = "job.damaged.json"
FOLDERS = ("captures", "snapshots", "photos")
TYPED = (
    "title",
    "customer",
    "vehicle",
    "vin",
    "odometer",
    "complaint",
    "symptoms",
    "fault_codes",
    "tests_made",
    "readings",
    "cause",
    "place",
    "wire",
    "repair",
    "after_check",
    "costs",
    "currency",
    "tax_percent",
    "technician",
    "time_spent",
    "state",
    "cautions_seen",
)
"""What `JobFolder.save` takes from a job; captures, verdicts, snapshots and photos have methods of their own."""


class ChangedElsewhere(LoomlightError):
    """Another window wrote something else in the same place."""


def now() -> str:
    """Local time, ISO 8601 with offset."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


class JobFolder:
    """A job that is open. Every change is on the disk when the method returns.

    Several windows and threads may hold the same job: each change is made to what stands on the disk at that moment.

    Attributes
    ----------
    path : Path
        The folder.
    job : Job
        Its content; what was typed as this window last read or saved it.
    problem : str
        One line for the user where the job was opened from an older copy; else empty.
    """

    def __init__(self, path: Path, job: Job, read: dict[str, Any], on_disk: bytes, problem: str = "") -> None:
        self.path, self.job, self.problem = path, job, problem
        self._stored, self._read, self._on_disk = job, read, on_disk
        self._lock = threading.Lock()

    @classmethod
    def create(cls, path: Path, *, title: str, vehicle: str = "", complaint: str = "") -> "JobFolder":
        """Make a new job.

        Raises
        ------
        FileProblem
            If the folder holds something already, or cannot be made.
        LoomlightError
            If the title is empty.
        """
        if not title.strip():
            raise LoomlightError("A job needs a title. Give it a few words.")
        with disk_trouble("the folder cannot be made", file=path, do="Choose another place"):
            if path.exists() and not _is_free(path):
                raise FileProblem("something stands there already", file=path, do="Choose a new folder for the job")
            for name in FOLDERS:
                (path / name).mkdir(parents=True, exist_ok=True)
        made = now()
        job = Job(title=title.strip(), vehicle=vehicle, complaint=complaint, created=made, changed=made)
        folder = cls(path, job, {}, b"")
        with alone_in(path):
            if (path / JSON_NAME).exists():
                raise FileProblem("something stands there already", file=path, do="Choose a new folder for the job")
            folder._write(job)
        return folder

    @classmethod
    def open(cls, path: Path) -> "JobFolder":
        """Open a job by its folder or by its ``job.json``.

        Where that file is damaged or gone, the copy from before the last change is opened, with every capture and snapshot
        that lies in the folder, and `problem` says so; the damaged file is kept beside it.

        Raises
        ------
        FileProblem
            If there is no job, or none that can be read.
        """
        folder = path.parent if path.name == JSON_NAME else path
        file = folder / JSON_NAME
        try:
            content = file.read_bytes()
            job, read = from_json(content, file)
        except (FileNotFoundError, NotADirectoryError):
            absent = FileProblem("there is no job in this folder", file=folder, do="Choose a folder with a job.json")
            return cls._from_previous(folder, absent)
        except DamagedJob as error:
            return cls._from_previous(folder, error)
        except OSError as error:
            raise FileProblem(f"it cannot be read ({error.strerror or error})", file=file, do="Try a copy") from error
        return cls(folder, job, read, content)

    @classmethod
    def _from_previous(cls, folder: Path, reason: FileProblem) -> "JobFolder":
        previous = folder / PREVIOUS_NAME
        try:
            job, read = from_json(previous.read_bytes(), previous)
        except (OSError, FileProblem):
            if isinstance(reason, DamagedJob):
                raise FileProblem(
                    reason.what, file=reason.file, where=reason.where, do="There is no older copy; mend it in an editor"
                ) from reason
            raise reason from None
        problem = (
            f"{reason.file.name}{', ' if reason.where else ''}{reason.where}: {reason.what}. The job is shown as it was before "
            f"the last change; look through it. A damaged file is kept as {DAMAGED_NAME}."
        )
        return cls(folder, with_what_is_there(job, folder), read, b"", problem)

    def save(self, job: Job) -> Job:
        """Keep what was typed (`TYPED`); captures, verdicts, snapshots and photos stay as they are on the disk.

        Raises
        ------
        ChangedElsewhere
            If another window changed the same entry in another way since; nothing is overwritten.
        FileProblem
            If it cannot be written; the old one is untouched.
        """

        def typed(stored: Job) -> Job:
            mine = {name: getattr(job, name) for name in TYPED if getattr(job, name) != getattr(self.job, name)}
            for name, value in mine.items():
                theirs = getattr(stored, name)
                if theirs not in (getattr(self.job, name), value):
                    raise ChangedElsewhere(
                        f"{self.path.name}: {name.replace('_', ' ')} was changed by another window to {theirs!r}. Open the "
                        "job again and repeat your last entry; nothing was overwritten."
                    )
            return replace(stored, **mine)

        self.change(typed)
        self.job = self._stored
        return self.job

    def change(self, change: Callable[[Job], Job]) -> None:
        """Change what stands on the disk now, with every other writer kept out.

        Parameters
        ----------
        change : callable
            Gives the new job for the one that stands on the disk.

        Raises
        ------
        FileProblem
            If it cannot be read or written; the old one is untouched.
        """
        with self._lock, alone_in(self.path):
            self._look()
            changed = change(self._stored)
            if changed != self._stored or not self._on_disk:
                self._write(replace(changed, changed=now()))
            # What was typed stays as this window saw it, so that `save` can tell whose change is whose.
            self.job = replace(self._stored, **{name: getattr(self.job, name) for name in TYPED})

    def _look(self) -> None:
        """Take up what another window wrote."""
        file = self.path / JSON_NAME
        try:
            there = file.read_bytes()
        except FileNotFoundError:
            there = b""
        except OSError as error:
            raise FileProblem(
                f"it cannot be read ({error.strerror or error})", file=file, do="Check the disk and save again"
            ) from error
        if there == self._on_disk:
            return
        try:
            if there:
                self._stored, self._read = from_json(there, file)
        except DamagedJob:
            write_bytes(unused(self.path / DAMAGED_NAME), there)
            there = b""
        self._on_disk = there

    def _write(self, job: Job) -> None:
        content = to_json(job, self._read)
        if self._on_disk:
            write_bytes(self.path / PREVIOUS_NAME, self._on_disk)
        write_bytes(self.path / JSON_NAME, content)
        self._stored, self._read = from_json(content, self.path / JSON_NAME)
        self._on_disk = content

    def add_capture(self, source: Path, stage: Stage = "other") -> JobCapture:
        """Copy a capture in at once: the stick may be pulled.

        The same content is the same capture, and takes the new stage; the same name with other content is a new one.

        Raises
        ------
        FileProblem
            If the source cannot be read or the copy not written.
        """
        inside = self.path / "captures"
        self.make(inside)
        copy = inside / f".{uuid4().hex}{PARTIAL}"
        try:
            # Copied before anyone is kept out: a slow stick must not hold up what is typed meanwhile.
            digest = _copied(source, copy)
            self.change(lambda job: self._with_capture(job, source, copy, digest, stage))
        finally:
            copy.unlink(missing_ok=True)
        return next(one for one in self.job.captures if one.sha256 == digest and (inside / one.file).exists())

    def _with_capture(self, job: Job, source: Path, copy: Path, digest: str, stage: Stage) -> Job:
        for known in job.captures:
            if known.sha256 == digest and self.capture_path(known).exists():
                return _with_stage(job, known.file, stage if stage != "other" else known.stage)
        target = unused(copy.with_name(copy_name(source.name)))
        with disk_trouble("it could not be saved", file=target, do="Check the disk and add it again"):
            copy.replace(target)
        added = JobCapture(target.name, source.name, digest, now(), stage)
        return replace(job, captures=(*job.captures, added))

    def make(self, folder: Path) -> None:
        """Make one of the job's own folders where it is not there.

        Raises
        ------
        FileProblem
            If that cannot be done.
        """
        with disk_trouble(
            "it cannot be made", file=folder, do="Check that the job's folder is there and can be written"
        ):
            folder.mkdir(exist_ok=True)

    def capture_path(self, capture: JobCapture) -> Path:
        """Where the job's own copy stands."""
        return self.path / "captures" / capture.file

    def capture_of(self, path: Path) -> JobCapture | None:
        """The job's capture whose own copy stands at ``path``, or None."""
        for capture in self.job.captures:
            if self.capture_path(capture) == path:
                return capture
        return None

    def set_stage(self, file: str, stage: Stage) -> None:
        """Say what a capture is for."""
        self.change(lambda job: _with_stage(job, file, stage))

    def set_notes(self, file: str, notes: tuple[Note, ...]) -> None:
        """Keep the notes that were placed on a capture's picture."""
        self.change(
            lambda job: replace(
                job, captures=tuple(replace(one, notes=notes) if one.file == file else one for one in job.captures)
            )
        )

    def set_setups(self, file: str, setups: tuple[ChannelSetup, ...], notes: tuple[Note, ...]) -> None:
        """Keep what was said about a capture's channels, and its notes, which name them."""
        self.change(
            lambda job: replace(
                job,
                captures=tuple(
                    replace(one, setups=setups, notes=notes) if one.file == file else one for one in job.captures
                ),
            )
        )

    def set_reading(self, file: str, reading: str) -> None:
        """Keep how a capture's text is to be read."""
        self.change(
            lambda job: replace(
                job,
                captures=tuple(replace(one, reading=reading) if one.file == file else one for one in job.captures),
            )
        )

    def set_part_of(self, files: Collection[str], joined: str) -> None:
        """Say that captures were joined into another one; an empty name lets them stand for themselves again."""
        self.change(
            lambda job: replace(
                job,
                captures=tuple(replace(one, part_of=joined) if one.file in files else one for one in job.captures),
            )
        )

    def keep_verdict(self, verdict: JobVerdict) -> None:
        """Keep a verdict; one about the same channel, known-good and kind gives way to it."""

        def about(one: JobVerdict) -> tuple[str, str, str, str]:
            return one.file, one.channel, one.good, one.kind

        def kept(job: Job) -> Job:
            others = tuple(one for one in job.verdicts if about(one) != about(verdict))
            return replace(job, verdicts=(*others, verdict))

        self.change(kept)

    def add_snapshot(self, name: str, png: bytes) -> str:
        """Save a picture under a name of its own, and give that name."""
        inside = self.path / "snapshots"
        self.make(inside)
        made: list[str] = []

        def with_snapshot(job: Job) -> Job:
            target = unused(inside / f"{file_name(name, otherwise='snapshot')}.png")
            write_bytes(target, png)
            made.append(target.name)
            return replace(job, snapshots=(*job.snapshots, target.name))

        self.change(with_snapshot)
        return made[0]


def _is_free(path: Path) -> bool:
    """Whether nothing stands in a folder but what an interrupted `JobFolder.create` leaves."""

    def is_left_over(inside: Path) -> bool:
        if inside.is_dir():
            return inside.name in FOLDERS and not any(inside.iterdir())
        return inside.name.endswith(PARTIAL) or inside.name == LOCK_NAME

    return path.is_dir() and all(map(is_left_over, path.iterdir()))


def _with_stage(job: Job, file: str, stage: Stage) -> Job:
    captures = tuple(replace(one, stage=stage) if one.file == file else one for one in job.captures)
    return replace(job, captures=captures)


def _copied(source: Path, target: Path) -> str:
    """Copy block by block; gives the SHA-256 of what was copied."""
    digest = hashlib.sha256()
    with written_whole(target) as partial, partial.open("wb") as copy:
        for block in blocks_of(source, do="Check the name, and that the stick is in"):
            digest.update(block)
            copy.write(block)
    return digest.hexdigest()
