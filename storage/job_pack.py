"""A job as one zip file to send: its record, captures, pictures and photos; private entries only where asked for."""

import hashlib
import zipfile
from dataclasses import dataclass, replace
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.signal.job import Job
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.disk_trouble import blocks_of
from loomlight.storage.job_folder import JSON_NAME, JobFolder
from loomlight.storage.job_json import to_json
from loomlight.storage.places import file_name
from loomlight.storage.safe_write import written_whole
from loomlight.storage.zip_members import member

PRIVATE = ("customer", "vin", "technician", "costs", "currency", "tax_percent")
"""Between the technician and the customer; nobody else needs them to check the work."""
REPORTS = ("report.pdf", "report.html")
"""They name the customer and the costs, so they are private too."""


@dataclass(frozen=True)
class Packed:
    """What became of a pack.

    Attributes
    ----------
    path : Path
        The zip file.
    names : tuple of str
        What is in it, in order.
    notes : tuple of str
        What is not in it, or was altered since it came into the job; one sentence each.
    """

    path: Path
    names: tuple[str, ...]
    notes: tuple[str, ...]


def pack_job(folder: JobFolder, out: Path, *, private: bool = False, progress: Progress = unwatched) -> Packed:
    """Write the zip file, whole or not at all.

    Parameters
    ----------
    folder : JobFolder
        The job; only what it lists is taken.
    out : Path
        Where to; nothing may stand there yet.
    private : bool
        With `PRIVATE` entries and the reports.
    progress : Progress
        0 to 1 over the bytes.

    Raises
    ------
    FileProblem
        If something stands at ``out``, or it cannot be written.
    """
    if out.exists():
        raise FileProblem("something stands there already", file=out, do="Choose another name for the zip file")
    job = folder.job if private else without_private(folder.job)
    files, notes = _files(folder, private=private)
    whole = sum(path.stat().st_size for _, path, _ in files) or 1
    top = file_name(job.title, otherwise="job")
    names, done = [f"{top}/{JSON_NAME}"], 0
    with written_whole(out) as partial, zipfile.ZipFile(partial, "w") as packed:
        packed.writestr(member(names[0]), to_json(job, {}), compresslevel=6)
        for inside, path, sha256 in files:
            name = f"{top}/{inside}"
            digest = hashlib.sha256()
            with packed.open(member(name), "w", force_zip64=True) as target:
                for block in blocks_of(path, do="Check the disk, and pack again"):
                    digest.update(block)
                    target.write(block)
                    done += len(block)
                    progress(min(done / whole, 1.0))
            names.append(name)
            if sha256 and digest.hexdigest() != sha256:
                notes.append(f"{inside} was altered since it came into the job: its check sum is another one.")
    return Packed(out, tuple(names), tuple(notes))


def without_private(job: Job) -> Job:
    """The job with its `PRIVATE` entries empty."""
    plain = Job(job.title)
    return replace(job, **{name: getattr(plain, name) for name in PRIVATE})


def _files(folder: JobFolder, *, private: bool) -> tuple[list[tuple[str, Path, str]], list[str]]:
    """Name inside, path and known check sum of what is there, in order; and a note for what is not."""
    job = folder.job
    wanted = [(f"captures/{one.file}", one.sha256) for one in job.captures]
    wanted += [(f"photos/{one.file}", one.sha256) for one in job.photos]
    wanted += [(f"snapshots/{name}", "") for name in job.snapshots]
    if private:
        wanted += [(name, "") for name in REPORTS if (folder.path / name).exists()]
    found, notes = [], []
    for inside, sha256 in sorted(set(wanted)):
        path = folder.path / inside
        if _is_own_file(path):
            found.append((inside, path, sha256))
        else:
            notes.append(f"{ascii(inside)[1:-1]} is not in the job's folder any more; it is not in the zip file.")
    return found, notes


def _is_own_file(path: Path) -> bool:
    """A plain file of the folder itself: a link may lead anywhere on this machine."""
    try:
        str(path).encode("utf-8")
        return path.is_file() and not path.is_symlink() and not path.parent.is_symlink()
    except (OSError, ValueError):
        return False
