"""What in the library is like a waveform: fingerprints kept beside the index, then the true line-up of the best few."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.entry import Entry
from loomlight.signal.errors import LoomlightError
from loomlight.signal.fingerprint import SIZE, VERSION, fingerprint
from loomlight.signal.match import Match, matches
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.storage.library import Library
from loomlight.storage.library_index import Listed
from loomlight.storage.library_search import Wanted

KEPT_AS = f"fingerprint {VERSION}"
BATCH = 200
"""Fingerprints that are made before they are kept: work that is given up loses no more."""


@dataclass(frozen=True)
class Like:
    """An entry that is like what was asked for."""

    entry: Entry
    match: Match


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
    listed = library.search(Wanted()).listed
    table = _fingerprints(library, listed, part(progress, 0.0, 0.7))
    kinds = [one.entry.kind for one in listed]

    def opener(row: int) -> Channel:
        entry = listed[row].entry
        return library.open(entry).channel(entry.channel)

    found = matches(channel, table, opener, kinds=kinds, kind=kind, most=most, progress=part(progress, 0.7, 1.0))
    return tuple(Like(listed[one.index].entry, one) for one in found)


def _fingerprints(library: Library, listed: tuple[Listed, ...], progress: Progress) -> npt.NDArray[np.float32]:
    """A row an entry; of those that tell nothing not-a-number."""
    known = library.made(KEPT_AS)
    missing = [one for one in listed if len(known.get(one.file, b"")) != 4 * SIZE]
    for start in range(0, len(missing), BATCH):
        made: dict[Listed, bytes] = {}
        for one in missing[start : start + BATCH]:
            progress((start + len(made)) / len(missing))
            made[one] = _made(library, one.entry)
        library.keep_made(KEPT_AS, made)
        known |= {one.file: content for one, content in made.items()}
    table = np.frombuffer(b"".join(known[one.file] for one in listed), dtype="<f4")
    return table.reshape(len(listed), SIZE).astype(np.float32)


def _made(library: Library, entry: Entry) -> bytes:
    try:
        vector = fingerprint(library.open(entry).channel(entry.channel)).vector
    except LoomlightError:  # damaged, or nothing to be told by: said elsewhere
        vector = np.full(SIZE, np.nan, dtype=np.float32)
    return vector.astype("<f4").tobytes()
