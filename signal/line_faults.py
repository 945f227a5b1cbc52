"""What two-state wires share: spikes beyond both levels, releases at odd times, how sure a level is."""

import math
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.errors import CannotUse
from loomlight.signal.finding import Finding, FindingKind, Severity
from loomlight.signal.levels import StateLevels, levels_of, state_levels
from loomlight.signal.line_states import LineStates
from loomlight.signal.noise import noise_of
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import BLOCK, FloatSamples, Samples, blocks
from loomlight.signal.series_resistance import Ohms

Floats = npt.NDArray[np.float64]

FEWEST_STEPS, FEWEST_SIGMAS = 3.0, 6.0
"""What an amplitude has to be at least, in converter steps and in standard deviations of the noise."""
SPIKE_SHARE = 0.2
"""Beyond a level by more than this share of the amplitude: no ringing of a sound wire (common practice, no source)."""
SPIKE_SIGMAS = 7.0
"""Noise passes this many of its standard deviations less than once in 10¹¹ samples."""
LEAST_SPIKES = 5
"""From this many on interference is spoken of (common practice, no source)."""
MOST_FINDINGS = 400
OUTERMOST = 2.0
OUTER = (1.0, 99.0)
"""Percentiles between which levels are looked for where bursts reach far beyond them."""


def require_even(channel: Channel, title: str) -> None:
    """Refuse what is not evenly spaced.

    Raises
    ------
    CannotUse
        With what to do.
    """
    if channel.form != "even" or channel.step_s is None:
        raise CannotUse(
            f"{channel.name!r} has {channel.form} samples; a {title} is judged from evenly spaced ones. "
            "Export the capture again with every sample."
        )


def stands_out(levels: StateLevels, *, least_v: float, converter_v: float, noise_v: float) -> bool:
    """Whether two states stand far enough apart to be a signal and neither noise nor converter steps."""
    return levels.two_states and levels.amplitude > max(least_v, FEWEST_STEPS * converter_v, FEWEST_SIGMAS * noise_v)


def noise_above_steps(channel: Channel, converter_v: float) -> float:
    """Standard deviation of the noise; half a converter step where the converter hides it."""
    return max(noise_of(channel), 0.5 * converter_v)


def smoothed(channel: Channel, width: int) -> Channel:
    """Mean of each ``width`` samples around a sample, an odd number: noise is less by its root, and edges stay in place.

    Parameters
    ----------
    channel : Channel
        Evenly spaced.
    width : int
        Odd; a small part of a bit.
    """
    half = width // 2
    found = np.empty(channel.samples.size, dtype=np.float32)
    for start, values in blocks(channel.samples):
        first, last = max(start - half, 0), min(start + values.size + half, channel.samples.size)
        around = channel.samples.block(first, last).astype(np.float64)
        padded = np.pad(around, (half - (start - first), half - (last - start - values.size)), mode="edge")
        running = np.concatenate([[0.0], np.cumsum(padded)])
        found[start : start + values.size] = (running[width:] - running[:-width]) / width
    return replace(channel, samples=FloatSamples(found, copy=False))


def line_levels(samples: Samples, progress: Progress = unwatched) -> StateLevels | None:
    """State levels, also where bursts of interference widen the range so far that no two states stand out in it.

    Parameters
    ----------
    samples : Samples
        Any length.
    progress : Progress
        0 to 1.
    """
    whole = state_levels(samples, progress)
    if whole is None or whole.two_states or whole.least == whole.greatest:
        return whole
    step = max(samples.size // BLOCK, 1)
    values = np.concatenate([part[::step] for _, part in blocks(samples)])
    values = values[np.isfinite(values)]
    low, high = np.percentile(values, OUTER)
    inner = levels_of(values[(values >= low) & (values <= high)])
    if inner is None or not inner.two_states:
        return whole
    return replace(inner, least=whole.least, greatest=whole.greatest)


def with_reached_low(samples: Samples, levels: StateLevels) -> StateLevels:
    """Levels with the low one held against where the samples end: pulses that never settle leave no mode at their low level.

    Parameters
    ----------
    samples : Samples
        Any length; a few hundred thousand of them, evenly spread, are looked at.
    levels : StateLevels
        By modes.

    Returns
    -------
    StateLevels
        As it was, where its low level stands near the 2nd percentile, or that lies below zero as bursts make it.
    """
    step = max(samples.size // BLOCK, 1)
    values = np.concatenate([part[::step] for _, part in blocks(samples)])
    low = float(np.percentile(values[np.isfinite(values)], OUTERMOST))
    far = levels.low - low > 0.25 * (levels.high - low)
    if not levels.two_states or not far or low < -0.1 * levels.high:
        return levels
    return replace(levels, low=low)


def thresholds(levels: StateLevels, noise_v: float, low_share: float, high_share: float) -> tuple[float, float]:
    """Shares of the amplitude as levels, kept clear of the noise on either state where there is room.

    Returns
    -------
    tuple of float
        Low and high threshold, in the channel's unit.
    """
    margin = min(5.0 * noise_v, 0.3 * levels.amplitude)
    low = max(levels.low + low_share * levels.amplitude, levels.low + margin)
    high = min(levels.low + high_share * levels.amplitude, levels.high - margin)
    if low > high:
        low = high = 0.5 * (levels.low + levels.high)
    return low, high


def spikes(
    channel: Channel,
    levels: StateLevels,
    *,
    floor_v: float,
    top_v: float,
    noise_v: float,
    longest_s: float,
    progress: Progress = unwatched,
) -> list[Finding]:
    """Short excursions beyond what any talker settles at.

    Parameters
    ----------
    channel : Channel
        Evenly spaced.
    levels : StateLevels
        Of that channel.
    floor_v, top_v : float
        Lowest and highest level that a talker settles at, volts.
    noise_v : float
        Standard deviation of its noise.
    longest_s : float
        What lasts longer is no spike.
    progress : Progress
        0 to 1.
    """
    assert channel.step_s is not None
    beyond = max(SPIKE_SHARE * levels.amplitude, SPIKE_SIGMAS * noise_v)
    found = []
    for number, (limit, is_above) in enumerate(((top_v + beyond, True), (floor_v - beyond, False))):
        walk = part(progress, 0.5 * number, 0.5 + 0.5 * number)
        if not (levels.greatest > limit if is_above else levels.least < limit):
            continue
        back = limit - 0.5 * beyond if is_above else limit + 0.5 * beyond
        edges = find_edges(channel.samples, low=min(limit, back), high=max(limit, back), level=limit, progress=walk)
        times = channel.start_s + edges.at * channel.step_s
        enters, leaves = times[edges.rising == is_above], times[edges.rising != is_above]
        leaves = leaves[np.searchsorted(leaves, enters[0]) :] if enters.size else leaves
        side = "above" if is_above else "below"
        rule = f"more than {in_words(beyond, 'V', digits=2)} {side} the line's own level"
        for start_s, stop_s in zip(enters[:MOST_FINDINGS].tolist(), leaves.tolist(), strict=False):
            if stop_s - start_s <= longest_s:
                values = channel.samples.block(channel.index_at(start_s), channel.index_at(stop_s) + 1)
                peak = float(np.nanmax(values) if is_above else np.nanmin(values))
                found.append(Finding("spike", channel.name, start_s, stop_s, abs(peak - limit), "V", rule, "mild"))
    return found


def level_doubt_v(levels: StateLevels, *, noise_v: float, converter_v: float, count: int) -> float:
    """How far a median of settled levels may be off: offset and gain of the instrument, its steps, noise.

    Parameters
    ----------
    levels : StateLevels
        Of the channel.
    noise_v, converter_v : float
        Standard deviation of the noise and the converter's step, volts.
    count : int
        Stretches behind the median, each a median itself.
    """
    instrument_v = 0.015 * max(abs(levels.high), abs(levels.low)) + 0.5 * converter_v
    # The median of nine samples scatters by 0.41 of one sample's deviation; three deviations are allowed for.
    return instrument_v + 1.25 * noise_v / math.sqrt(max(count, 1))


def steady(
    channel: Channel, kind: FindingKind, size: float, rule: str, *, unit: str = "V", severity: Severity = "severe"
) -> Finding:
    """A state and not an event: one finding over the whole capture."""
    return Finding(kind, channel.name, channel.start_s, channel.stop_s, size, unit, rule, severity)


def time_constant_s(states: LineStates, *, rising: bool) -> tuple[float, int]:
    """Time constant of the rises or falls, and how many: from 20 % to 80 % take 1.386 of it (ln 0.8/0.2)."""
    took = states.edge_s[(states.high == rising) & np.isfinite(states.edge_s)]
    return median(took) / 1.386, int(took.size)


def median(values: Floats) -> float:
    """Median, or NaN of nothing."""
    return float(np.median(values)) if values.size else float("nan")


def weighted_median(states: LineStates, *, high: bool, otherwise: float) -> float:
    """Level of one sense at which the line stands half of its time; what bursts leave lasts too short to count."""
    known = (states.high == high) & np.isfinite(states.level_v)
    levels, weights = states.level_v[known], states.length_s[known]
    if not levels.size:
        return otherwise
    order = np.argsort(levels)
    share = np.cumsum(weights[order])
    return float(levels[order][np.searchsorted(share, 0.5 * share[-1])])


def ohms_in_words(ohms: Ohms) -> str:
    """An interval of a resistance."""
    if math.isinf(ohms.high):
        return f"{in_words(ohms.low, 'Ω', digits=2)} or more"
    return f"{in_words(ohms.low, 'Ω', digits=2)} to {in_words(ohms.high, 'Ω', digits=2)}"


def finite(value: float) -> float | None:
    """None for what has no bound."""
    return value if math.isfinite(value) else None
