"""Many figures over time as a track that a screen can show."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.samples import Times
from loomlight.signal.track import Track

Row = npt.NDArray[np.float64]

MOST_POINTS = 4000


def track_of(name: str, unit: str, times_s: Times, values: Row, *, note: str = "", smallest: bool = False) -> Track:
    """A track of at most 4000 points; of more, each is the median (or the smallest) of its neighbours.

    Parameters
    ----------
    name, unit, note : str
        As in `Track`.
    times_s, values : ndarray, shape (n,)
        Times rising.
    smallest : bool
        Keep the smallest of each group: where dips matter.
    """
    if times_s.size <= MOST_POINTS:
        return Track(name, unit, times_s, values, note)
    group = -(-times_s.size // MOST_POINTS)
    whole = times_s.size // group * group
    rows = values[:whole].reshape(-1, group)
    known = np.isfinite(rows).any(axis=1)
    middle = np.full(len(rows), np.nan)
    middle[known] = np.nanmin(rows[known], axis=1) if smallest else np.nanmedian(rows[known], axis=1)
    told = f"each point the {'smallest' if smallest else 'median'} of {group}"
    return Track(
        name, unit, times_s[:whole].reshape(-1, group).mean(axis=1), middle, f"{note}; {told}" if note else told
    )
