"""Which of many thousand known waveforms a waveform is."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.align import line_up
from loomlight.signal.alike import nearest
from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse, LoomlightError
from loomlight.signal.fingerprint import fingerprint_of_rows, rows_to_tell, sketches_of_query
from loomlight.signal.lineup import LineUp, refused
from loomlight.signal.match_sureness import away, surenesses
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quick_fit import noise_variance, quick_fit, speaks
from loomlight.signal.sketch import Sketches
from loomlight.signal.spectrum_traits import power_of
from loomlight.signal.telling_rows import TellingRows

Opener = Callable[[int], Channel]
"""Gives an entry's channel by its row in the table of fingerprints."""

MARGIN, TIMES = 60.0, 2.0
"""An entry this much further away than so many times the distance of the nearest is not looked at beside it."""
FEWEST, MOST = 16, 80
"""Entries that are opened for a glance, at least and at most."""
LINED_UP = 8
LEAST_SURE, ALIKE_IN_KIND = 0.05, 350.0
"""Below this sureness and beyond this distance nothing is alike, not even in kind; of 1000 made queries none is lost by it."""
GLANCE_COUNTS = 400.0
"""What a glance that speaks for nothing counts, beside the distance of the fingerprints."""


@dataclass(frozen=True)
class Match:
    """One entry that may be what was asked for.

    Attributes
    ----------
    index : int
        Row in the table of fingerprints.
    fit : float
        0 to 1, of the line-up.
    sureness : float
        0 to 1: how likely this is the same signal (tests/signal/match_calibration.md).
    lag_s, stretch : float
        ``t_entry = lag_s + stretch · t_query``.
    polarity : {1, -1}
        -1 where the query is upside down against the entry.
    lined_up : bool
        Whether the line-up is one to rely on; where it is not, the entry is alike in kind only.
    by : str
        How it was lined up.
    distance : float
        Of the fingerprints: 0 is the same.
    said : float
        0 to 1: how much the line-up speaks for the two being of one signal, as far as the query's noise lets it.
    reason : str
        One sentence on the line-up.
    """

    index: int
    fit: float
    sureness: float
    lag_s: float
    stretch: float
    polarity: Literal[1, -1]
    lined_up: bool
    by: str
    distance: float
    said: float
    reason: str


@dataclass(frozen=True, eq=False)
class _Query:
    """What was asked for, read once: rows, fingerprint, sketches, and the density of its noise."""

    channel: Channel
    rows: TellingRows
    vector: npt.NDArray[np.float32]
    sketches: Sketches
    noise: float


@dataclass(frozen=True, eq=False)
class _Seen:
    """An entry that was opened: its channel and rows, and how far it is."""

    index: int
    channel: Channel
    rows: TellingRows
    distance: float
    far: float


def matches(
    query: Channel,
    fingerprints: npt.NDArray[np.float32],
    opener: Opener,
    *,
    kinds: Sequence[str] = (),
    kind: str = "",
    most: int = 5,
    progress: Progress = unwatched,
) -> tuple[Match, ...]:
    """Find the known waveforms most alike to one.

    The nearest by fingerprint are opened and laid on the query at a glance, the best few of those are lined up.

    Parameters
    ----------
    query : Channel
        Any form.
    fingerprints : ndarray of float32, shape (n, SIZE)
        A row an entry, of the present version; rows of not-a-number (an entry that has none) are passed over.
    opener : callable
        Gives an entry's channel by its row; a `LoomlightError` from it leaves that entry out.
    kinds : sequence of str, shape (n,)
        Signal kind of each entry; needed with ``kind``.
    kind : str
        Only entries of this kind; empty for all.
    most : int
        How many to give, at least 1.
    progress : Progress
        0 to 1.

    Returns
    -------
    tuple of Match
        Best first; empty where nothing is alike.

    Raises
    ------
    CannotUse
        If the query has fewer than 50 known samples, or nothing changes on it.
    """
    if most < 1:
        raise ValueError(f"most must be at least 1, got {most}")
    rows = rows_to_tell(query, part(progress, 0.0, 0.2))
    asked = _Query(query, rows, fingerprint_of_rows(rows).vector, sketches_of_query(rows), power_of(rows).noise)
    seen = _seen(asked, _rows_of(fingerprints, kinds, kind), fingerprints, opener, part(progress, 0.2, 0.6))
    lined = []
    for place, one in enumerate(seen[: max(LINED_UP, most)]):
        progress(0.6 + 0.4 * place / max(LINED_UP, most))
        lined.append(_weighed(asked, one, _lined_up(query, one.channel)))
    return _told(lined, most)


def _rows_of(fingerprints: npt.NDArray[np.float32], kinds: Sequence[str], kind: str) -> npt.NDArray[np.int64]:
    if not kind:
        return np.arange(len(fingerprints))
    if len(kinds) != len(fingerprints):
        raise ValueError(f"{len(fingerprints)} fingerprints need as many kinds, got {len(kinds)}")
    return np.flatnonzero([one == kind for one in kinds])


def _seen(
    query: _Query,
    among: npt.NDArray[np.int64],
    fingerprints: npt.NDArray[np.float32],
    opener: Opener,
    progress: Progress,
) -> list[_Seen]:
    """The nearest entries, opened and laid on the query at a glance; best first."""
    table = fingerprints if among.size == len(fingerprints) else fingerprints[among]
    near, far = nearest(query.vector, query.sketches, table, most=MOST)
    if not near.size:
        return []
    count = max(FEWEST, int(np.searchsorted(far, TIMES * far[0] + MARGIN)))
    found: list[_Seen] = []
    for place, (index, distance) in enumerate(zip(among[near].tolist(), far.tolist(), strict=True)):
        progress(place / min(count, near.size))
        if len(found) >= count:
            break
        try:
            channel = opener(index)
            its = rows_to_tell(channel)
        except LoomlightError:  # damaged, gone, or not to be told by: said elsewhere, and no reason to find nothing
            continue
        glance = quick_fit(query.rows, its, query.noise)
        found.append(_Seen(index, channel, its, distance, distance + GLANCE_COUNTS * (1.0 - glance)))
    return sorted(found, key=lambda one: one.far)


def _lined_up(query: Channel, entry: Channel) -> LineUp:
    plain = replace(entry, unit=query.unit)  # a sensor's volts and a clamp's amperes may well be alike
    try:
        found = line_up(query, plain, any_rate=False)
    except CannotUse as error:
        return refused("shape", str(error))
    return found


@dataclass(frozen=True, eq=False)
class _Weighed:
    """An entry that was lined up: how much the line-up says, 0 to 1, and how far the entry is in all."""

    seen: _Seen
    found: LineUp
    said: float

    @property
    def far(self) -> float:
        return away(self.seen.distance, self.said)


def _weighed(query: _Query, one: _Seen, found: LineUp) -> _Weighed:
    rows, channel = query.rows, query.channel
    ends_s = sorted((found.on_suspect(one.channel.start_s), found.on_suspect(one.channel.stop_s)))
    begin, stop = (round((at_s - channel.start_s) / rows.step_s) for at_s in ends_s)
    inside = rows.whole[max(begin, 0) : max(stop, 0)]
    if found.fit <= 0 or inside.size < 2:
        return _Weighed(one, found, 0.0)
    whole = float(rows.whole.var())
    said = speaks(
        np.array([found.fit]),
        np.array([min(found.overlap_s / min(one.rows.length_s, rows.length_s), 1.0)]),
        np.array([float(inside.var())]),
        noise=noise_variance(query.noise, rows.step_s, whole),
        whole=whole,
    )
    return _Weighed(one, found, float(said[0]))


def _told(lined: list[_Weighed], most: int) -> tuple[Match, ...]:
    best = sorted(lined, key=lambda one: one.far)[:most]
    sure = surenesses([(one.seen.distance, one.said) for one in best])
    if not best or (max(sure) < LEAST_SURE and min(one.seen.distance for one in best) > ALIKE_IN_KIND):
        return ()
    return tuple(
        Match(
            index=one.seen.index,
            fit=one.found.fit,
            sureness=sureness,
            lag_s=one.found.lag_s,
            stretch=one.found.stretch,
            polarity=one.found.polarity,
            lined_up=one.found.accepted,
            by=one.found.by,
            distance=one.seen.distance,
            said=one.said,
            reason=one.found.reason,
        )
        for one, sureness in zip(best, sure, strict=True)
    )
