"""State levels of a two-state signal, from its histogram."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.samples import FloatSamples, Samples, blocks, finite_range

FINE_BINS = 4096
COARSE = 32
"""Fine bins a coarse one: a converter's steps leave combs in the fine histogram, not in the coarse one."""
TAIL_SHARE = 5e-4
"""Share of the samples at either end that may be spikes and does not set the range."""
LEAST_SEPARATION = 0.4
"""Two states stand at least this share of the range apart; modes of one noisy state stand near its middle."""
RARE_STATE_SAMPLES = 200
"""From this many samples at one level on, the outermost 0.05 % are a state seen seldom and not spikes."""
RARE_STATE_APART = 50.0
"""Two levels this many times nearer to each other than the whole range are one state's noise or converter steps."""


@dataclass(frozen=True)
class StateLevels:
    """Low and high state of a signal.

    Attributes
    ----------
    two_states : bool
        Whether two states were found; if not, both levels are the one state's.
    low, high : float
        State levels, in the channel's unit.
    low_spread, high_spread : float
        Standard deviation of the samples that belong to each state.
    least, greatest : float
        Range of the finite samples, spikes included.
    """

    two_states: bool
    low: float
    high: float
    low_spread: float
    high_spread: float
    least: float
    greatest: float

    @property
    def amplitude(self) -> float:
        """High minus low."""
        return self.high - self.low


def state_levels(samples: Samples, progress: Progress = unwatched) -> StateLevels | None:
    """State levels by the histogram's modes.

    The range, without the outermost 0.05 % at either end, is split in two; each half's most frequent level is that
    state's. Overshoot and spikes are rare and do not move a mode. Where that leaves one state, what was left out is a
    second one if most of it stands at one lower level: a bus that talks once in a long capture.

    Parameters
    ----------
    samples : Samples
        Any length; not-a-number is passed over.
    progress : Progress
        0 to 1 over three walks of the samples.

    Returns
    -------
    StateLevels or None
        None where no sample is finite.

    References
    ----------
    .. [1] IEEE Std 181-2011, "Transitions, Pulses, and Related Waveforms": state levels by histogram modes.
    """
    reach = finite_range(samples, part(progress, 0.0, 0.3))
    if reach is None:
        return None
    least, greatest = reach
    if greatest == least:
        return StateLevels(False, least, least, 0.0, 0.0, least, greatest)
    counts = _histogram(samples, least, greatest, part(progress, 0.3, 0.6))
    low, high = _without_tails(counts, least, greatest)
    whole = _from_histogram(counts, least, greatest, least, greatest)
    if high - low >= 0.9 * (greatest - least):
        return whole
    common = _from_histogram(_histogram(samples, low, high, part(progress, 0.6, 1.0)), low, high, least, greatest)
    if common.two_states and common.amplitude * RARE_STATE_APART >= greatest - least:
        return common
    return whole if whole.two_states and _is_rare_state(counts) else common


def levels_of(values: npt.ArrayLike) -> StateLevels | None:
    """`state_levels` of an array, shape (n,)."""
    return state_levels(FloatSamples(values))


def _histogram(samples: Samples, low: float, high: float, progress: Progress) -> npt.NDArray[np.int64]:
    counts = np.zeros(FINE_BINS, dtype=np.int64)
    for _, values in blocks(samples, progress):
        # In float64: neighbouring float32 values leave no room for bins between them.
        finite = values[np.isfinite(values)].astype(np.float64)
        counts += np.histogram(finite, bins=FINE_BINS, range=(low, high))[0]
    return counts


def _without_tails(counts: npt.NDArray[np.int64], least: float, greatest: float) -> tuple[float, float]:
    share = np.cumsum(counts) / counts.sum()
    width = (greatest - least) / FINE_BINS
    first = int(np.searchsorted(share, TAIL_SHARE))
    last = int(np.searchsorted(share, 1.0 - TAIL_SHARE))
    return least + first * width, least + (last + 1) * width


def _is_rare_state(counts: npt.NDArray[np.int64]) -> bool:
    """Whether the lower half is the rare one and holds most of its samples at one level.

    The upper half never is: lines rest high, and what is rare above that are spikes, often cut off at one level.
    """
    side, other = np.split(counts, 2)
    running = np.concatenate([[0], np.cumsum(side)])
    fullest = int((running[2 * COARSE :] - running[: -2 * COARSE]).max())
    return bool(side.sum() < other.sum()) and fullest >= RARE_STATE_SAMPLES and 2 * fullest >= int(side.sum())


def _from_histogram(
    counts: npt.NDArray[np.int64], low: float, high: float, least: float, greatest: float
) -> StateLevels:
    width = (high - low) / FINE_BINS
    centres: npt.NDArray[np.float64] = low + (np.arange(FINE_BINS, dtype=np.float64) + 0.5) * width
    half = FINE_BINS // 2
    low_mode = _mode(counts[:half], centres[:half])
    high_mode = _mode(counts[half:], centres[half:])
    if low_mode is None or high_mode is None or high_mode - low_mode < LEAST_SEPARATION * (high - low):
        mean, spread = _mean_and_spread(counts, centres)
        return StateLevels(False, mean, mean, spread, spread, least, greatest)
    below = centres < 0.5 * (low_mode + high_mode)
    near_low = below & (centres < low_mode + 0.25 * (high_mode - low_mode))
    near_high = ~below & (centres > high_mode - 0.25 * (high_mode - low_mode))
    _, low_spread = _mean_and_spread(counts[near_low], centres[near_low])
    _, high_spread = _mean_and_spread(counts[near_high], centres[near_high])
    return StateLevels(True, low_mode, high_mode, low_spread, high_spread, least, greatest)


def _mode(counts: npt.NDArray[np.int64], centres: npt.NDArray[np.float64]) -> float | None:
    """Most frequent level: the fullest window of two coarse bins, then the mean of what lies around its middle."""
    if not counts.any():
        return None
    window = 2 * COARSE
    running = np.concatenate([[0], np.cumsum(counts)])
    fullest = int(np.argmax(running[window:] - running[:-window]))
    mean, _ = _mean_and_spread(counts[fullest : fullest + window], centres[fullest : fullest + window])
    return mean


def _mean_and_spread(counts: npt.NDArray[np.int64], centres: npt.NDArray[np.float64]) -> tuple[float, float]:
    total = counts.sum()
    if not total:
        return float("nan"), 0.0
    mean = float(counts @ centres / total)
    return mean, float(np.sqrt(counts @ (centres - mean) ** 2 / total))
