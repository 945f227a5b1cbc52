"""Small pictures of entries for lists: least and greatest value in a few dozen columns, kept beside the index."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.errors import LoomlightError
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.pyramid import columns, pyramid_of
from loomlight.storage.library import Library
from loomlight.storage.library_rows import Listed

COLUMNS = 96
KEPT_AS = "picture 1"
LOOKED_AT = 131_072
"""Samples in which a stretch with a few changes is looked for."""
TELLING, MOST_CHANGES = 14, 60
"""Changes that a small picture shows well; a capture with more than the second is shown by a stretch with the first."""
TOP = 255


@dataclass(frozen=True, eq=False)
class SmallPicture:
    """What a waveform reaches in each column: 0 at its least value, 255 at its greatest.

    Attributes
    ----------
    low, high : ndarray of uint8, shape (COLUMNS,)
        Low above high where there is nothing.
    """

    low: npt.NDArray[np.uint8]
    high: npt.NDArray[np.uint8]


def small_pictures(
    library: Library, listed: Sequence[Listed], progress: Progress = unwatched
) -> dict[str, SmallPicture]:
    """Pictures of some entries by file name; those not known yet are made and kept; damaged entries have none.

    Raises
    ------
    FileProblem
        If the library's folder cannot be listed.
    """
    kept = {one.file: one.content for one in library.made(KEPT_AS) if one.content and len(one.content) == 2 * COLUMNS}
    made: list[tuple[str, str, bytes]] = []
    for number, one in enumerate(listed):
        progress(number / max(len(listed), 1))
        if one.problem or one.file in kept:
            continue
        try:
            picture = picture_of(library.open(one.entry).channel(one.entry.channel))
        except LoomlightError:
            continue  # what is the matter with it is told when it is chosen
        kept[one.file] = picture.low.tobytes() + picture.high.tobytes()
        made.append((one.file, one.stamp, kept[one.file]))
    if made:
        library.keep_made(KEPT_AS, made)
    return {one.file: _unpacked(kept[one.file]) for one in listed if one.file in kept}


def _unpacked(content: bytes) -> SmallPicture:
    row = np.frombuffer(content, dtype=np.uint8)
    return SmallPicture(row[:COLUMNS], row[COLUMNS:])


def picture_of(channel: Channel) -> SmallPicture:
    """A channel as a whole, or a telling stretch of it where it changes all the time."""
    first, last = _stretch(channel)
    size = last - first
    if size < 2:
        return SmallPicture(np.full(COLUMNS, TOP, np.uint8), np.zeros(COLUMNS, np.uint8))
    if size <= 4 * COLUMNS:
        values = channel.samples.block(first, last)
        edges = np.unique(np.linspace(0, size, COLUMNS + 1).astype(int)[:-1])
        low, high = np.fmin.reduceat(values, edges), np.fmax.reduceat(values, edges)
    else:
        found = columns(channel.samples, pyramid_of(channel.samples), first, last, COLUMNS)
        low, high = found.low, found.high
    places = np.linspace(0, low.size - 1, COLUMNS).round().astype(int)
    return _scaled(low[places], high[places])


def _scaled(low: npt.NDArray[np.float32], high: npt.NDArray[np.float32]) -> SmallPicture:
    known = np.isfinite(low) & np.isfinite(high)
    if not known.any():
        return SmallPicture(np.full(COLUMNS, TOP, np.uint8), np.zeros(COLUMNS, np.uint8))
    least, most = float(low[known].min()), float(high[known].max())
    span = (most - least) or 1.0
    ends = [np.where(known, np.round(TOP * (row - least) / span), empty) for row, empty in ((low, TOP), (high, 0))]
    return SmallPicture(ends[0].astype(np.uint8), ends[1].astype(np.uint8))


def _stretch(channel: Channel) -> tuple[int, int]:
    """First and last sample (half open) of what is shown."""
    samples = channel.samples
    if channel.form != "even" or samples.size < 2 * COLUMNS:
        return 0, samples.size
    head = samples.block(0, min(samples.size, LOOKED_AT))
    known = head[np.isfinite(head)]
    if not known.size:
        return 0, samples.size
    middle, half = float(known.max() + known.min()) / 2, float(np.ptp(known)) / 8
    # Only crossings from well above to well below count: noise around the middle is no change.
    states = np.where(head > middle + half, 1, np.where(head < middle - half, -1, 0))
    at = np.flatnonzero(states)
    changes = at[1:][np.diff(states[at]) != 0]
    if changes.size * samples.size / head.size <= MOST_CHANGES or changes.size < TELLING + 2:
        return 0, samples.size
    begin, end = int(changes[1]), int(changes[1 + TELLING])
    room = max((end - begin) // 20, COLUMNS // 8)
    return max(begin - room, 0), min(end + room, samples.size)
