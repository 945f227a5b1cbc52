"""Traits of a signal's levels: how they are distributed, and how long it stays above and below its middle."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.signal.spectrum_traits import Power
from loomlight.signal.telling_rows import Row, TellingRows

VALUE_SHARES = (0.02, 0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9, 0.98)
RUN_SHARES = (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95)
FEWEST_RUNS = 3
SWING = 0.2
"""Of the way between the levels: how far beyond the middle a signal has to go on either side."""
CALM = 5.0
"""Standard deviations of the noise that have to fit into a quarter of the reach; it is averaged until they do."""
WHOLE_TELLS = 0.9
"""Share of the power that means have to show for the runs to be taken from them."""
MAD_TO_SIGMA = 1.4826


@dataclass(frozen=True, eq=False)
class RunTraits:
    """Levels and runs.

    Attributes
    ----------
    values : ndarray, shape (9,)
        Quantiles of the values, of mean 0 and deviation 1.
    share : float
        Of the time above the middle.
    high, low, periods : ndarray, shape (7,)
        Quantiles of the logarithm to base 2 of how long it stays above, below, and from one rise to the next, seconds.
    edges : float
        Logarithm to base 2 of the edges a second.
    moments : ndarray, shape (2,)
        Cube root of the skewness, fourth root of the kurtosis.
    """

    values: Row = field(repr=False)
    share: float
    high: Row = field(repr=False)
    low: Row = field(repr=False)
    periods: Row = field(repr=False)
    edges: float
    moments: Row = field(repr=False)


def run_traits(rows: TellingRows, power: Power) -> RunTraits:
    """Measure the runs above and below the middle, after the noise was averaged out as far as the signal allows."""
    by_whole = rows.factor == 1 or power.in_whole >= WHOLE_TELLS
    parts, step_s = ((rows.whole,), rows.step_s) if by_whole else (rows.pieces, rows.fine_step_s)
    corner_hz = max(power.corner_hz(0.9), 4.0 / rows.length_s)
    smooth = [_averaged(part, _width(part, 0.25 / (corner_hz * step_s))) for part in parts]
    joined = np.concatenate(smooth)
    ends = np.quantile(joined, VALUE_SHARES)
    low, high = _levels(joined, float(ends[0]), float(ends[-1]))
    middle = 0.5 * (low + high)
    found = [_runs(part, middle, SWING * (high - low)) for part in smooth]
    above, below, periods = (np.concatenate([one[place] for one in found]) * step_s for place in range(3))
    count = sum(one[3] for one in found)
    span_s = joined.size * step_s
    deviation = float(joined.std())
    turned = (joined - joined.mean()) / (deviation or 1.0)
    square = turned * turned
    return RunTraits(
        values=(ends - ends.mean()) / (float(ends.std()) or 1.0),
        share=float((joined > middle).mean()),
        high=_quantiles(above),
        low=_quantiles(below),
        periods=_quantiles(periods),
        edges=float(np.log2(count / span_s)) if count else float("nan"),
        moments=np.array([np.cbrt((square * turned).mean()), (square * square).mean() ** 0.25]),
    )


def _width(part: Row, most: float) -> int:
    """Samples to average so that noise makes no edges, as far as the signal itself is not averaged away."""
    bends = np.abs(part[2:] - 2.0 * part[1:-1] + part[:-2])
    noise = float(np.median(bends)) * MAD_TO_SIGMA / np.sqrt(6.0) if bends.size else 0.0
    low, high = np.quantile(part, (0.01, 0.99))
    wanted = (CALM * noise / max(0.25 * float(high - low), 1e-300)) ** 2
    return int(max(1.0, min(wanted, most, part.size / 8)))


def _averaged(part: Row, width: int) -> Row:
    if width <= 1:
        return part
    running = np.concatenate([[0.0], np.cumsum(part - part[0])])
    means: Row = (running[width:] - running[:-width]) / width + part[0]
    return means


def _levels(row: Row, low: float, high: float) -> tuple[float, float]:
    """Medians of what lies above and below the middle between them."""
    for _ in range(3):
        above = row > 0.5 * (low + high)
        low = float(np.median(row[~above])) if not above.all() else low
        high = float(np.median(row[above])) if above.any() else high
    return low, high


def _runs(row: Row, middle: float, swing: float) -> tuple[Row, Row, Row, int]:
    """Lengths above, below and from rise to rise, in points, and the number of edges."""
    state = (row > middle + swing).astype(np.int8) - (row < middle - swing).astype(np.int8)
    decided = np.flatnonzero(state)
    states = state[decided]
    turns = np.flatnonzero(states[1:] != states[:-1]) + 1
    none = np.empty(0)
    if turns.size < 2:
        return none, none, none, turns.size
    above = row > middle
    crossings = np.flatnonzero(above[1:] != above[:-1])
    before, after = row[crossings], row[crossings + 1]
    places = crossings + (middle - before) / (after - before)
    # The last passage of the middle before each decision.
    at = places[np.maximum(np.searchsorted(crossings, decided[turns]) - 1, 0)]
    rising = states[turns] > 0
    lengths = np.diff(at)
    return lengths[rising[:-1]], lengths[~rising[:-1]], np.diff(at[rising]), turns.size


def _quantiles(lengths_s: Row) -> Row:
    if lengths_s.size < FEWEST_RUNS:
        return np.full(len(RUN_SHARES), np.nan)
    found: Row = np.log2(np.maximum(np.quantile(lengths_s, RUN_SHARES), 1e-12))
    return found
