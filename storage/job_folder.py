"""One visit as a folder that a person can read: ``job.json``, ``captures/``, ``snapshots/``, ``photos/``."""

import hashlib
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.job import Job, JobCapture, JobVerdict, Note, Stage
from loomlight.storage.job_json import from_json, to_json
from loomlight.storage.places import file_name, unused
from loomlight.storage.safe_write import write_bytes

JSON_NAME = "job.json"
PREVIOUS_NAME = "job.previous.json"
FOLDERS = ("captures", "snapshots", "photos")


class ChangedElsewhere(LoomlightError):
    """The job on the disk is not the one that was read: another window wrote it."""


def now() -> str:
    """Local time, ISO 8601 with offset."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


class JobFolder:
    """A job that is open. Every change is on the disk when the method returns.

    Attributes
    ----------
    path : Path
        The folder.
    job : Job
        Its content as last read or written.
    """

    def __init__(self, path: Path, job: Job, unknown: dict[str, Any], on_disk: bytes) -> None:
        self.path, self.job = path, job
        self._unknown, self._on_disk = unknown, on_disk

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
        try:
            if path.exists() and (not path.is_dir() or any(path.iterdir())):
                raise FileProblem("something stands there already", file=path, do="Choose a new folder for the job")
            for name in FOLDERS:
                (path / name).mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FileProblem(
                f"the folder cannot be made ({error.strerror or error})", file=path, do="Choose another place"
            ) from error
        made = now()
        job = Job(title=title.strip(), vehicle=vehicle, complaint=complaint, created=made, changed=made)
        folder = cls(path, job, {}, b"")
        folder._write(job)
        return folder

    @classmethod
    def open(cls, path: Path) -> "JobFolder":
        """Open a job by its folder or by its ``job.json``.

        Raises
        ------
        FileProblem
            If there is none, or it is damaged.
        """
        folder = path.parent if path.name == JSON_NAME else path
        file = folder / JSON_NAME
        try:
            content = file.read_bytes()
        except (FileNotFoundError, NotADirectoryError) as error:
            raise FileProblem(
                "there is no job in this folder", file=folder, do="Choose a folder with a job.json"
            ) from error
        except OSError as error:
            raise FileProblem(f"it cannot be read ({error.strerror or error})", file=file, do="Try a copy") from error
        job, unknown = from_json(content.decode("utf-8", errors="replace"), file)
        return cls(folder, job, unknown, content)

    def save(self, job: Job) -> Job:
        """Write a changed job.

        Raises
        ------
        ChangedElsewhere
            If another window wrote it since; nothing is overwritten.
        FileProblem
            If it cannot be written; the old one is untouched.
        """
        file = self.path / JSON_NAME
        try:
            there = file.read_bytes()
        except OSError:
            there = b""
        if there and there != self._on_disk:
            raise ChangedElsewhere(
                f"{self.path.name}: the job was changed by another window. Open it again and repeat the last entry; nothing "
                "was overwritten."
            )
        return self._write(replace(job, changed=now()))

    def _write(self, job: Job) -> Job:
        content = to_json(job, self._unknown).encode("utf-8")
        if self._on_disk:
            write_bytes(self.path / PREVIOUS_NAME, self._on_disk)
        write_bytes(self.path / JSON_NAME, content)
        self.job, self._on_disk = job, content
        return job

    def add_capture(self, source: Path, stage: Stage = "other") -> JobCapture:
        """Copy a capture in at once: the stick may be pulled.

        The same content is the same capture, and takes the new stage; the same name with other content is a new one.

        Raises
        ------
        FileProblem
            If the source cannot be read or the copy not written.
        """
        try:
            content = source.read_bytes()
        except OSError as error:
            raise FileProblem(
                f"it cannot be read ({error.strerror or error})",
                file=source,
                do="Check the name, and that the stick is in",
            ) from error
        digest = hashlib.sha256(content).hexdigest()
        for known in self.job.captures:
            if known.sha256 == digest and (self.path / "captures" / known.file).exists():
                changed = replace(known, stage=stage if stage != "other" else known.stage)
                if changed != known:
                    self._replace_capture(changed)
                return changed
        name = file_name(source.stem) + source.suffix.lower()
        target = unused(self.path / "captures" / name)
        target.parent.mkdir(exist_ok=True)
        write_bytes(target, content)
        added = JobCapture(target.name, source.name, digest, now(), stage)
        self.save(replace(self.job, captures=(*self.job.captures, added)))
        return added

    def _replace_capture(self, changed: JobCapture) -> None:
        captures = tuple(changed if one.file == changed.file else one for one in self.job.captures)
        self.save(replace(self.job, captures=captures))

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
        known = next(one for one in self.job.captures if one.file == file)
        self._replace_capture(replace(known, stage=stage))

    def set_notes(self, file: str, notes: tuple[Note, ...]) -> None:
        """Keep the notes that were placed on a capture's picture."""
        known = next(one for one in self.job.captures if one.file == file)
        if known.notes != notes:
            self._replace_capture(replace(known, notes=notes))

    def keep_verdict(self, verdict: JobVerdict) -> None:
        """Keep a verdict; one about the same channel, known-good and kind gives way to it."""

        def about(one: JobVerdict) -> tuple[str, str, str, str]:
            return one.file, one.channel, one.good, one.kind

        others = tuple(one for one in self.job.verdicts if about(one) != about(verdict))
        self.save(replace(self.job, verdicts=(*others, verdict)))

    def add_snapshot(self, name: str, png: bytes) -> str:
        """Save a picture under a name of its own, and give that name."""
        (self.path / "snapshots").mkdir(exist_ok=True)
        target = unused(self.path / "snapshots" / f"{file_name(name, otherwise='snapshot')}.png")
        write_bytes(target, png)
        self.save(replace(self.job, snapshots=(*self.job.snapshots, target.name)))
        return target.name
