"""Pieces of a known-good laid over a suspect, each at its own place: by frame and by cycle no one shift fits all."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.samples import Times
from loomlight.signal.spans import Spans


@dataclass(frozen=True, eq=False)
class Laid:
    """Where each piece of the known-good stands on the suspect's axis.

    Attributes
    ----------
    pieces : ndarray of float64, shape (n, 4)
        Begin and end on the suspect's axis, begin on the known-good's, and known-good seconds a suspect second; in order
        on the suspect's axis, not overlapping.
    fair : ndarray of float64, shape (m, 2)
        Where on the suspect's axis the two ought to look alike; elsewhere they may say different things by right.
    pairs_s : ndarray of float64, shape (k, 2)
        Starts of the frames or cycles that were paired: suspect, known-good.
    in_time : bool
        Whether one shift and stretch fits all pairs; if not, each is laid by itself only.
    reference : Channel or None
        What the pieces are taken from, where that is not the known-good itself: its average cycle.
    deviation : Channel or None
        Standard deviation of that average, on the same axis.
    """

    pieces: npt.NDArray[np.float64] = field(repr=False)
    fair: Spans = field(repr=False)
    pairs_s: npt.NDArray[np.float64] = field(repr=False)
    in_time: bool
    reference: Channel | None = field(default=None, repr=False)
    deviation: Channel | None = field(default=None, repr=False)

    def on_good(self, suspect_s: Times) -> Times:
        """Times on the known-good's axis, shape as ``suspect_s``; not-a-number where no piece was laid."""
        found = np.full(suspect_s.size, np.nan)
        if not len(self.pieces):
            return found
        place = np.searchsorted(self.pieces[:, 0], suspect_s, side="right") - 1
        inside = np.flatnonzero((place >= 0) & (suspect_s < self.pieces[np.maximum(place, 0), 1]))
        start, _, good_s, stretch = self.pieces[place[inside]].T
        found[inside] = good_s + stretch * (suspect_s[inside] - start)
        return found

    def is_fair(self, suspect_s: Times) -> npt.NDArray[np.bool_]:
        """Whether the two ought to look alike at each time, shape as ``suspect_s``."""
        if not len(self.fair):
            return np.zeros(suspect_s.size, dtype=bool)
        place = np.searchsorted(self.fair[:, 0], suspect_s, side="right") - 1
        inside: npt.NDArray[np.bool_] = (place >= 0) & (suspect_s < self.fair[np.maximum(place, 0), 1])
        return inside
