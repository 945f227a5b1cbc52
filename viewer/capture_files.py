"""Which files may be captures, by name: for dialogs, dropped folders and the watched folder. Any name can be opened."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from loomlight.storage.job_folder import JSON_NAME

ENDINGS = (".csv", ".txt", ".tsv", ".dat", ".h5", ".hdf5", ".npy", ".npz")
"""What instruments' software saves captures as; pictures and settings beside them are nobody's business."""
FILTER = f"Captures ({' '.join(f'*{ending}' for ending in ENDINGS)});;All files (*)"


@dataclass(frozen=True)
class Dropped:
    """What was dropped on the window.

    Attributes
    ----------
    job : Path or None
        Folder of a job.
    captures : tuple of Path
        Files to open; of a folder those that may be captures by their name.
    empty : tuple of Path
        Folders with none.
    """

    job: Path | None
    captures: tuple[Path, ...]
    empty: tuple[Path, ...] = ()


def dropped(paths: Sequence[Path]) -> Dropped:
    """Tell jobs, folders and captures apart; of several jobs the first is taken."""
    job: Path | None = None
    captures: list[Path] = []
    empty: list[Path] = []
    for path in paths:
        if path.name == JSON_NAME or (path / JSON_NAME).is_file():
            job = job or (path.parent if path.name == JSON_NAME else path)
        elif path.is_dir():
            inside = _captures_in(path)
            captures += inside
            empty += [] if inside else [path]
        else:
            captures.append(path)
    return Dropped(job, tuple(captures), tuple(empty))


def _captures_in(folder: Path) -> list[Path]:
    try:
        found = [path for path in folder.iterdir() if path.suffix.lower() in ENDINGS and path.is_file()]
    except OSError:
        return []
    return sorted(path for path in found if not path.name.startswith("."))
