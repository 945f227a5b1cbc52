"""What in the library is like a waveform: fingerprints kept beside the index, then the true line-up of the best few."""

from dataclasses import dataclass, replace

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.entry import Entry
from loomlight.signal.errors import LoomlightError
from loomlight.signal.fingerprint import SIZE, VERSION, fingerprint
from loomlight.signal.match import Match, matches
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.storage.capture_file import read_entry
from loomlight.storage.library import Library
from loomlight.storage.library_rows import Listed, Made

KEPT_AS = f"fingerprint {VERSION}"
BATCH = 200
"""Fingerprints that are made before they are kept: work that is given up loses no more."""


@dataclass(frozen=True)
class Like:
    """A file of the library that is like what was asked for."""

    listed: Listed
    match: Match

    @property
    def entry(self) -> Entry:
        """What is known about it."""
        return self.listed.entry


def like(
    library: Library, channel: Channel, *, kind: str = "", most: int = 5, progress: Progress = unwatched
) -> tuple[Like, ...]:
    """The entries most alike to a channel, best first.

    Parameters
    ----------
    library : Library
        Entries without a fingerprint of this version get one first.
    channel : Channel
        Suspect or good.
    kind : str
        Only entries of this kind; empty: all.
    most : int
        How many at most.
    progress : Progress
        0 to 1.

    Raises
    ------
    LoomlightError
        If the library cannot be read, or the channel is too short to tell anything.
    """
    rows = _with_fingerprints(library, part(progress, 0.0, 0.7))
    if not rows:
        return ()
    table = np.frombuffer(b"".join(one.content or b"" for one in rows), dtype="<f4").reshape(len(rows), SIZE)
    found = matches(
        channel,
        table.astype(np.float32),
        lambda row: _channel(library, rows[row].file),
        kinds=[one.kind for one in rows],
        kind=kind,
        most=most,
        progress=part(progress, 0.7, 1.0),
    )
    listed = library.by_files([rows[one.index].file for one in found])
    return tuple(Like(listed[name], one) for one in found if (name := rows[one.index].file) in listed)


def _with_fingerprints(library: Library, progress: Progress) -> list[Made]:
    """Each sound file with its fingerprint; of those that tell nothing not-a-number."""
    rows = library.made(KEPT_AS)
    missing = [place for place, one in enumerate(rows) if one.content is None or len(one.content) != 4 * SIZE]
    for start in range(0, len(missing), BATCH):
        batch = missing[start : start + BATCH]
        for done, place in enumerate(batch, start=start):
            progress(done / len(missing))
            rows[place] = replace(rows[place], content=_fingerprint(library, rows[place].file))
        made = [(rows[place].file, rows[place].stamp, rows[place].content or b"") for place in batch]
        library.keep_made(KEPT_AS, made)
    return rows


def _fingerprint(library: Library, file: str) -> bytes:
    try:
        vector = fingerprint(_channel(library, file)).vector
    except LoomlightError:  # damaged, or nothing to be told by: said elsewhere
        vector = np.full(SIZE, np.nan, dtype=np.float32)
    return vector.astype("<f4").tobytes()


def _channel(library: Library, file: str) -> Channel:
    """The known-good channel of a file, without a look at the whole folder."""
    path = library.folder / file
    entry = read_entry(path)
    if entry is None:
        raise LoomlightError(f"{file} is no library entry any more.")
    return library.open(replace(entry, id=path.stem)).channel(entry.channel)
