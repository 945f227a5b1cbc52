"""Answers about how files are read, remembered by the structure of the file."""

import json
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.storage.places import data_folder
from loomlight.storage.reading import NOTHING_SAID, Reading
from loomlight.storage.safe_write import write_text

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
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FileProblem(
                f"the folder cannot be made ({error.strerror or error})",
                file=self.path.parent,
                do="Check its place; the file is read as you said all the same",
            ) from error
        write_text(self.path, json.dumps(content, indent=1, ensure_ascii=False) + "\n")

    def _kept(self) -> dict[str, object]:
        try:
            content = json.loads(self.path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        kept = content.get("readings") if isinstance(content, dict) and content.get("format") == FORMAT else None
        return dict(kept) if isinstance(kept, dict) else {}
