"""A channel in a few hundred numbers by which it is found again among many thousand others."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.run_traits import run_traits
from loomlight.signal.sketch import BEGINS, SKETCH_SIZE, Sketches, sketch
from loomlight.signal.spectrum_traits import BANDS, LAGS, correlation_traits, power_of, spectrum_traits
from loomlight.signal.telling_rows import TellingRows, telling_rows

VERSION = 1
"""Goes up whenever the same channel would give other numbers: kept fingerprints are then made anew."""

TRAITS: dict[str, int] = {
    "spectrum": BANDS,
    "corners": 5,
    "correlation": LAGS,
    "values": 9,
    "share": 1,
    "high runs": 7,
    "low runs": 7,
    "periods": 7,
    "edges": 1,
    "moments": 2,
    "sketch": SKETCH_SIZE,
}
"""Groups of numbers, in order, and how many each has."""


def _places() -> dict[str, slice]:
    stops = np.cumsum(list(TRAITS.values())).tolist()
    return {name: slice(stop - size, stop) for (name, size), stop in zip(TRAITS.items(), stops, strict=True)}


PLACES = _places()
"""Where each group stands in the vector."""
SIZE = sum(TRAITS.values())


@dataclass(frozen=True, eq=False)
class Fingerprint:
    """What a channel looks like, whatever its gain, offset, sample rate and the moment at which it was begun.

    Attributes
    ----------
    version : int
        Fingerprints of different versions are not to be compared.
    vector : ndarray of float32, shape (SIZE,)
        Not-a-number where the recording does not tell: too short, or too coarse.
    """

    version: int
    vector: npt.NDArray[np.float32] = field(repr=False)


def fingerprint(channel: Channel, progress: Progress = unwatched) -> Fingerprint:
    """Describe a channel by its spectrum, its likeness with itself later, its levels and runs, and a small sketch of it.

    Time is absolute: the same shape ten times as slow is another signal. Values are relative: gain and offset do not
    matter. Noise that is alike at all frequencies is taken off.

    Parameters
    ----------
    channel : Channel
        Any form and unit. It is read once, in blocks.
    progress : Progress
        0 to 1.

    Raises
    ------
    CannotUse
        If fewer than 50 samples are known, or nothing changes.
    """
    return fingerprint_of_rows(rows_to_tell(channel, progress))


def rows_to_tell(channel: Channel, progress: Progress = unwatched) -> TellingRows:
    """What a fingerprint is made from, read once; raises as `fingerprint`."""
    rows = telling_rows(channel, progress)
    reach = max(float(np.abs(part).max()) for part in (rows.whole, *rows.pieces))
    if all(float(np.ptp(part)) <= 1e-9 * max(reach, 1e-30) for part in (rows.whole, *rows.pieces)):
        raise CannotUse(f"Nothing changes on {channel.name!r}, so there is nothing to tell it by.")
    return rows


def sketches_of_query(rows: TellingRows) -> Sketches:
    """Sketches that begin at several shares of a window: what a query is laid on others with; shape (3, SKETCH_SIZE)."""
    power = power_of(rows)
    return np.array([sketch(rows, power, begin=begin) for begin in BEGINS], dtype=np.float32)


def fingerprint_of_rows(rows: TellingRows) -> Fingerprint:
    """`fingerprint` of what was read before."""
    power = power_of(rows)
    spectrum, corners = spectrum_traits(power)
    runs = run_traits(rows, power)
    vector = np.concatenate(
        [
            spectrum,
            corners,
            correlation_traits(rows, power),
            runs.values,
            [runs.share],
            runs.high,
            runs.low,
            runs.periods,
            [runs.edges],
            runs.moments,
            sketch(rows, power),
        ]
    )
    return Fingerprint(VERSION, vector.astype(np.float32))
