"""What was said about a capture: kept with the job's capture, else remembered by the file's content or structure."""

import json
from pathlib import Path
from typing import Literal

from loomlight.signal.errors import FileProblem
from loomlight.storage.capture_file import is_capture_file
from loomlight.storage.capture_memory import CaptureMemory, Remembered
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.kept_in_job import reading_from
from loomlight.storage.open_capture import is_text
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.reading_memory import ReadingMemory, of_structure
from loomlight.storage.reading_preview import structure_of
from loomlight.storage.text_head import head_of

FileSort = Literal["text", "numbers", "own"]


def known_about(folder: JobFolder | None, path: Path) -> Remembered:
    """What was said about a file. Reads from disk: for aside.

    What was said about this very capture comes first; else what was said about files of the same structure, without what
    belongs to one record (step, start, scale).

    Raises
    ------
    LoomlightError
        If the file cannot be read.
    """
    kept = folder.capture_of(path) if folder is not None else None
    if kept is not None:
        return Remembered(kept.setups, reading_from(kept.reading))
    known = CaptureMemory().of(path)
    if known.reading.is_empty:
        return Remembered(known.setups, of_structure(path))
    return known


def stored_answers(path: Path) -> Reading:
    """Answers to begin with where a person looks at a file: those for its structure, header words or not. For aside."""
    try:
        return ReadingMemory().remembered(structure_of(head_of(path))[0]).of_the_structure()
    except FileProblem:
        return NOTHING_SAID


def sort_of(path: Path) -> FileSort:
    """What sort of file it is: our own capture files tell all themselves, about others it can be said how to read them."""
    if is_text(path):
        return "text"
    return "own" if is_capture_file(path) else "numbers"


def keep_reading(folder: JobFolder | None, path: Path, reading: Reading) -> None:
    """Keep how a capture is read: with the job's capture, else by content. For aside.

    Raises
    ------
    LoomlightError
        If it cannot be written.
    """
    kept = folder.capture_of(path) if folder is not None else None
    if folder is None or kept is None:
        CaptureMemory().keep_reading(path, reading)
        return
    folder.set_reading(kept.file, "" if reading.is_empty else json.dumps(reading.to_json(), ensure_ascii=False))


def remember_structure(path: Path, reading: Reading) -> None:
    """Keep answers for every file of the same structure. For aside.

    Raises
    ------
    LoomlightError
        If they cannot be written.
    """
    if not is_text(path):
        return
    fingerprint, _ = structure_of(head_of(path))
    ReadingMemory().remember(fingerprint, reading.of_the_structure())


def bring_along(folder: JobFolder, copy: Path, known: Remembered) -> None:
    """What was said about a file before it was copied into the job is kept there. For aside.

    Raises
    ------
    LoomlightError
        If the job cannot be written.
    """
    kept = folder.capture_of(copy)
    if kept is None:
        return
    if known.setups and not kept.setups:
        folder.set_setups(kept.file, known.setups, kept.notes)
    if not known.reading.is_empty and not kept.reading:
        keep_reading(folder, copy, known.reading)
