"""What can be chosen: the channels of opened captures and of library entries."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from loomlight.storage.reading import NOTHING_SAID, Reading

if TYPE_CHECKING:
    from loomlight.signal.capture import Capture, Channel
    from loomlight.signal.job import Stage
    from loomlight.viewer.capture_keeping import FileSort


@dataclass(frozen=True, eq=False)
class Choice:
    """One channel that can be chosen.

    Attributes
    ----------
    channel : Channel
        The channel itself.
    source : Path or str
        The file that it was read from, or the library entry's id.
    file : str
        Name of the file, or title of the entry.
    kind : str
        Key of the signal kind, where an entry tells it.
    reading : Reading
        How the file was said to be read.
    capture : Capture or None
        All that was recorded with it.
    further : tuple of Channel
        Of a library entry: its other captures that were confirmed, for the envelope.
    """

    channel: Channel
    source: Path | str
    file: str
    kind: str = ""
    reading: Reading = NOTHING_SAID
    capture: Capture | None = None
    further: tuple[Channel, ...] = ()

    @property
    def label(self) -> str:
        """How a list shows it."""
        where = f"library: {self.file}" if isinstance(self.source, str) else self.file
        return f"{self.channel.name}  ({where})"

    def is_same(self, other: Choice) -> bool:
        """Whether both are the same channel of the same file or entry."""
        return self.source == other.source and self.channel.name == other.channel.name

    @property
    def source_name(self) -> str:
        """The file's name, or the library entry's id."""
        return self.source if isinstance(self.source, str) else self.source.name

    @property
    def entry_id(self) -> str:
        """The library entry's id; empty for a file."""
        return self.source if isinstance(self.source, str) else ""

    def is_beside(self, other: Choice) -> bool:
        """Whether both were recorded together, into one file."""
        return isinstance(self.source, Path) and self.source == other.source


@dataclass(frozen=True, eq=False)
class Opened:
    """A capture that was opened."""

    path: Path
    capture: Capture
    stage: Stage = "other"
    reading: Reading = NOTHING_SAID
    sort: FileSort = "own"

    def choices(self) -> list[Choice]:
        """One for each channel."""
        return [
            Choice(channel, self.path, self.path.name, reading=self.reading, capture=self.capture)
            for channel in self.capture.channels
        ]
