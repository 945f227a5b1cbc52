"""Answers about how files are read, remembered by the structure of the file."""

import json
from dataclasses import replace
from pathlib import Path

from loomlight.signal.capture import Capture
from loomlight.signal.channel_setup import stored_of, with_setups
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.capture_memory import CaptureMemory
from loomlight.storage.disk_trouble import disk_trouble
from loomlight.storage.kept_in_job import kept_in_job
from loomlight.storage.open_capture import is_text, open_capture
from loomlight.storage.places import data_folder
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.reading_preview import structure_of
from loomlight.storage.safe_write import write_text
from loomlight.storage.text_head import head_of

FORMAT, VERSION = "loomlight readings", 1
MOST_KEPT = 500


def readings_file() -> Path:
    """Where the answers are kept."""
    return data_folder() / "readings.json"


class ReadingMemory:
    """The answers that were given, by fingerprint of the structure (`reading_preview`).

    Parameters
    ----------
    path : Path or None
        The file; None for the user's own. A damaged one counts as empty: what was in it can be answered again.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = path or readings_file()

    def remembered(self, fingerprint: str) -> Reading:
        """The answers for a structure; nothing said where there are none."""
        if not fingerprint:
            return NOTHING_SAID
        try:
            return Reading.from_json(self._kept().get(fingerprint, {}))
        except ValueError:
            return NOTHING_SAID

    def remember(self, fingerprint: str, reading: Reading) -> None:
        """Keep the answers for a structure, the newest last; nothing said forgets them.

        Raises
        ------
        FileProblem
            If they cannot be saved.
        """
        if not fingerprint:
            return
        kept = self._kept()
        kept.pop(fingerprint, None)
        if not reading.is_empty:
            kept[fingerprint] = reading.to_json()
        newest = dict(list(kept.items())[-MOST_KEPT:])
        content = {"format": FORMAT, "version": VERSION, "readings": newest}
        with disk_trouble(
            "the folder cannot be made",
            file=self.path.parent,
            do="Check its place; the file is read as you said all the same",
        ):
            self.path.parent.mkdir(parents=True, exist_ok=True)
        write_text(self.path, json.dumps(content, indent=1, ensure_ascii=False) + "\n")

    def _kept(self) -> dict[str, object]:
        try:
            content = json.loads(self.path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        kept = content.get("readings") if isinstance(content, dict) and content.get("format") == FORMAT else None
        return dict(kept) if isinstance(kept, dict) else {}


def open_remembered(path: Path, progress: Progress = unwatched, *, reading: Reading | None = None) -> Capture:
    """Open a capture as was said; where nothing was said, as was said before. What was taken over stands in the notes.

    For a file in a job's folder what the job keeps counts, for any other what was said about this content, then about this
    structure. Channels are set up as they were before in any case.

    Parameters
    ----------
    path, progress, reading
        As for `open_capture`.

    Raises
    ------
    FileProblem
        As `open_capture`.
    """
    in_job = kept_in_job(path)
    known = in_job if in_job is not None else CaptureMemory().of(path)
    said, about = reading or NOTHING_SAID, ""
    if said.is_empty:
        said, about = known.reading, "this file"
    if said.is_empty and in_job is None:
        said, about = of_structure(path), "files of this structure"
    capture = open_capture(path, progress, reading=said)
    notes = [f"Read as you said for {about} before: {' '.join(said.options())}."] if about and not said.is_empty else []
    shown = with_setups(capture, known.setups)
    notes += [
        f"{setup.channel}: {setup.in_words(channel.unit)}."
        for setup, channel in ((stored_of(channel)[1], channel) for channel in shown.channels)
        if not setup.is_plain
    ]
    return replace(shown, notes=(*notes, *shown.notes))


def remembered_for(path: Path) -> Reading:
    """What was said before: in its job, or about a file of this content, else about files of its structure.

    Raises
    ------
    FileProblem
        If the file cannot be read.
    """
    kept = kept_in_job(path)
    if kept is not None:
        return kept.reading
    of_content = CaptureMemory().of(path).reading
    return of_structure(path) if of_content.is_empty else of_content


def of_structure(path: Path) -> Reading:
    """What was said about files of the same structure and may be taken over unasked.

    Step, start and scale belong to one record and are not taken over; nor is anything where no header word tells the
    structure from others.

    Raises
    ------
    FileProblem
        If the file cannot be read.
    """
    memory = ReadingMemory()
    if not memory.path.exists() or not is_text(path):
        return NOTHING_SAID
    try:
        fingerprint, has_words = structure_of(head_of(path))
    except FileProblem:  # no text after all: reading it says what is wrong
        return NOTHING_SAID
    return memory.remembered(fingerprint).of_the_structure() if has_words else NOTHING_SAID
