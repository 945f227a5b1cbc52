"""The files of the known-good library: one self-contained ``.h5`` an entry, added, edited, opened, moved to the bin and back."""

import os
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from uuid import uuid4

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.entry import Entry, FurtherCapture, Value, edited, last_edit, undone
from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.alone import alone_in
from loomlight.storage.capture_file import close_captures, read_captures, read_entry, write_capture
from loomlight.storage.check_sum import soundness
from loomlight.storage.clock_notes import clock_left_out
from loomlight.storage.disk_trouble import disk_trouble
from loomlight.storage.job_folder import now
from loomlight.storage.library_bin import Binned, binned, copy_to_bin, deleted_at, move_to_bin, restore, tidy
from loomlight.storage.library_index import ENDING, LibraryIndex, Read, stamp_of
from loomlight.storage.library_rows import Listed

CHECKED_AT_ONCE = 1 << 18
"""Files up to so many bytes have their check sum looked at when they are indexed, longer ones when they are opened."""
IN_MEMORY_BELOW = 1 << 25


class NoSuchEntry(LoomlightError):
    """No entry, or more than one, goes by that name."""


class LibraryFiles:
    """Entries as files of a folder.

    Parameters
    ----------
    folder : Path
        Made with the first entry if it is not there.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._index = LibraryIndex(folder)

    # Adding and changing

    def add(self, capture: Capture, channel_name: str, known: Entry, *, progress: Progress = unwatched) -> Entry:
        """Keep one channel as a known-good.

        Parameters
        ----------
        capture : Capture
            Where it comes from; only the one channel is kept, with the notes on how it was read, and no clock time.
        channel_name : str
            As `Capture.channel` takes it.
        known : Entry
            What is known about it; ``id``, ``channel``, ``added`` and ``source_name`` are filled in. The same title
            may stand on several entries, as on several cars; they are then told apart by their ids.
        progress : Progress
            0 to 1.

        Raises
        ------
        LoomlightError
            If the title is empty, or there is no such channel.
        FileProblem
            If the folder cannot be written.
        """
        title = _title(known.title)
        kept = _one_channel(capture, channel_name)
        entry = replace(
            known,
            id=str(uuid4()),
            title=title,
            channel=kept.channels[0].name,
            added=now(),
            source_name=capture.source_name,
            changed="",
            more=(),
            history=(),
        )
        self.make_folder()
        write_capture(self.path_of(entry), kept, entry=entry, created=entry.added, progress=progress)
        return entry

    def make_folder(self) -> None:
        """Make the library's folder where it is not there.

        Raises
        ------
        FileProblem
            If it cannot be made.
        """
        with disk_trouble(
            "the library's folder cannot be made", file=self.folder, do="Choose another folder for the library"
        ):
            self.folder.mkdir(parents=True, exist_ok=True)

    def add_capture(
        self, entry: Entry, capture: Capture, channel_name: str, *, note: str = "", progress: Progress = unwatched
    ) -> Entry:
        """Keep one more good capture of an entry; it does not widen the envelope until it is confirmed.

        Raises
        ------
        LoomlightError
            If there is no such channel, or the entry cannot be read or written.
        """
        kept = _one_channel(capture, channel_name)
        further = FurtherCapture(kept.channels[0].name, now(), capture.source_name, note)
        return self._written_anew(
            entry, lambda current: replace(current, more=(*current.more, further)), (kept,), progress=progress
        )

    def confirm(self, entry: Entry, number: int, *, confirmed: bool = True) -> Entry:
        """Say whether further capture ``number`` (from 0) may widen the envelope."""

        def changed(current: Entry) -> Entry:
            more = tuple(
                replace(one, confirmed=confirmed) if place == number else one for place, one in enumerate(current.more)
            )
            return replace(current, more=more)

        return self._written_anew(entry, changed)

    def edit(self, entry: Entry, values: Mapping[str, Value]) -> Entry:
        """Change what is known about an entry, field by field; other fields stay as they now are on the disk.

        Raises
        ------
        LoomlightError
            If the title would be empty, or the entry cannot be read or written.
        """
        if "title" in values:
            values = {**values, "title": _title(str(values["title"]))}
        return self._written_anew(entry, lambda current: edited(current, values, at=now()))

    def undo(self, entry: Entry) -> Entry:
        """Take an entry's last edit back.

        Raises
        ------
        LoomlightError
            If there is none, or the entry cannot be read or written.
        """

        def back(current: Entry) -> Entry:
            if last_edit(current) is None:
                raise LoomlightError(f"“{current.title}” was not edited; there is nothing to take back.")
            return undone(current, at=now())

        return self._written_anew(entry, back)

    def _written_anew(
        self,
        entry: Entry,
        change: Callable[[Entry], Entry],
        further: tuple[Capture, ...] = (),
        *,
        progress: Progress = unwatched,
    ) -> Entry:
        """Write an entry's file anew with what changed about the one that stands on the disk at that moment."""
        path = self.path_of(entry)
        with alone_in(self.folder):
            self.require_sound(path)
            before = read_entry(path)
            if before is None:
                raise NoSuchEntry(f"{path.name} is no library entry any more.")
            after = change(before)
            if after == before and not further:
                return replace(after, id=path.stem)
            captures = read_captures(path, in_memory_below=IN_MEMORY_BELOW)
            stamp = path.stat().st_mtime_ns
            write_capture(
                path,
                captures[0],
                entry=after,
                more=(*captures[1:], *further),
                created=after.added,
                progress=progress,
                release=lambda: close_captures(captures),
            )
            # A stick may note times to two seconds only; the index tells by time and size that a file changed.
            if path.stat().st_mtime_ns <= stamp:
                with suppress(OSError):
                    os.utime(path, ns=(stamp + 2 * 10**9, stamp + 2 * 10**9))
        return replace(after, id=path.stem)

    def path_of(self, entry: Entry) -> Path:
        """The entry's file."""
        plain, large = (self.folder / f"{entry.id}{ending}" for ending in (ENDING, ENDING.upper()))
        return large if not plain.exists() and large.exists() else plain

    # Deleting

    def delete(self, entry: Entry) -> Binned:
        """Move an entry to the bin, where it is kept for 30 days.

        Raises
        ------
        FileProblem
            If it cannot be moved.
        """
        with alone_in(self.folder):
            moved = move_to_bin(self.folder, self.path_of(entry), datetime.now(UTC))
        return Binned(moved, entry.id, deleted_at(moved), entry)

    def binned(self) -> tuple[Binned, ...]:
        """What lies in the bin, deleted last first."""
        return binned(self.folder)

    def restore(self, one: Binned) -> None:
        """Bring a deleted entry back; errors as `delete`."""
        with alone_in(self.folder):
            restore(self.folder, one)

    def tidy(self) -> int:
        """Take away what has lain in the bin for 30 days; how many entries went."""
        return tidy(self.folder, datetime.now(UTC))

    def keep_copy(self, copy: Listed) -> None:
        """Let a copy under another name take the place of its entry, which goes to the bin.

        Raises
        ------
        FileProblem
            If one of the two cannot be moved.
        """
        path, own = self.folder / copy.file, self.folder / f"{copy.copy_of}{ENDING}"
        with alone_in(self.folder):
            if own.exists():
                copy_to_bin(self.folder, own, datetime.now(UTC))
            with disk_trouble("it cannot be renamed", file=path, do="Close it elsewhere and try again"):
                path.replace(own)

    # Opening

    def open(self, entry: Entry) -> Capture:
        """The entry's first capture; errors as `captures`."""
        return self.captures(entry)[0]

    def captures(self, entry: Entry, progress: Progress = unwatched) -> tuple[Capture, ...]:
        """All captures of an entry, the first one first; `Entry.more` tells about the others.

        Raises
        ------
        FileProblem
            If its file is gone or damaged.
        """
        path = self.path_of(entry)
        self.require_sound(path, progress)
        return read_captures(path, in_memory_below=IN_MEMORY_BELOW)

    def require_sound(self, path: Path, progress: Progress = unwatched) -> None:
        """Refuse a file whose check sum is another one; looked at once for each state of the file.

        Raises
        ------
        FileProblem
            If it is damaged or gone.
        """
        try:
            status = path.stat()
        except OSError:
            status = None  # `soundness` says better what is the matter
        long = status is not None and status.st_size > CHECKED_AT_ONCE
        stamp = stamp_of(status) if status is not None else ""
        if long and self._index.is_checked(path.name, stamp):
            return
        if soundness(path, progress) == "damaged":
            error = _damaged(path)
            self._index.note_checked(path.name, stamp, str(error))
            raise error
        if long:
            self._index.note_checked(path.name, stamp)


def read_for_index(path: Path) -> Read:
    """What the index holds of a file."""
    try:
        checked = False
        if path.is_file() and path.stat().st_size <= CHECKED_AT_ONCE:
            state = soundness(path)
            if state == "damaged":
                return Read(None, str(_damaged(path)), checked=True)
            checked = state == "sound"
        entry = read_entry(path)
    except (FileProblem, OSError) as error:
        return Read(None, str(error))
    if entry is None:
        return Read(None, f"{path.name}: a capture, but no library entry. Add it with a title, or move it away.")
    return Read(entry, checked=checked)


def confirmed_channels(entry: Entry, captures: Sequence[Capture]) -> tuple[Channel, ...]:
    """The known-good channel of the first capture, then those of the further ones that were confirmed.

    Raises
    ------
    NoSuchChannel
        If a capture has no channel of the name that the entry says.
    """
    further = zip(entry.more, captures[1:], strict=False)
    confirmed = (capture.channel(one.channel) for one, capture in further if one.confirmed)
    return (captures[0].channel(entry.channel), *confirmed)


def _damaged(path: Path) -> FileProblem:
    return FileProblem(
        "it is damaged: its check sum is another one than when it was kept",
        file=path,
        do="Take it again from another copy; the rest of the library is not touched by it",
    )


def _title(text: str) -> str:
    title = " ".join(text.split())
    if not title:
        raise LoomlightError("An entry needs a title. Say what the waveform is, in a few words.")
    return title


def _one_channel(capture: Capture, channel_name: str) -> Capture:
    channel = capture.channel(channel_name)
    return Capture(capture.source_name, capture.layout, (channel,), _notes_on(channel.name, capture))


def _notes_on(name: str, capture: Capture) -> tuple[str, ...]:
    """What was assumed while reading, without what is about the other channels, and without the recording's clock time."""
    others = tuple(f"{one.name}{end}" for one in capture.channels if one.name != name for end in (":", " "))
    return tuple(clock_left_out(one) for one in capture.notes if not one.startswith(others))
