"""A fresh copy of the sample job, with a library of its own: nothing of the person's is touched."""

import importlib.resources
from datetime import datetime
from pathlib import Path

from loomlight.storage.capture_file import read_capture, read_entry
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.library import Library
from loomlight.storage.places import data_folder, unused
from loomlight.storage.safe_write import write_bytes
from loomlight.viewer.sample_notes import TITLE, with_sample_notes

STAGES = (("before.csv", "suspect"), ("after.csv", "after repair"))


def make_demo() -> tuple[Path, Path]:
    """Copy the sample job into a new folder; gives the job's folder and the library's."""
    stamp = datetime.now().astimezone().strftime("%Y-%m-%d %H.%M.%S")
    place = unused(data_folder() / f"sample job {stamp}")
    (place / "library").mkdir(parents=True)
    source = importlib.resources.files("loomlight.sample_captures")
    for name in ("before.csv", "after.csv", "known_good.h5"):
        write_bytes(place / name, source.joinpath(name).read_bytes())
    folder = JobFolder.create(place / "job", title=TITLE)
    for name, stage in STAGES:
        folder.add_capture(place / name, stage)  # type: ignore[arg-type]  # two of `Stage`
        (place / name).unlink()
    folder.save(with_sample_notes(folder.job, folder.job.captures[0].file))
    kept = place / "known_good.h5"
    entry = read_entry(kept)
    assert entry is not None
    library = Library(place / "library")
    library.add(read_capture(kept), entry.channel, entry)
    kept.unlink()
    return folder.path, library.folder
