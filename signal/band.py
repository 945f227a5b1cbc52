"""The band around a known-good that a suspect has to keep to, and the stretches that leave it."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.laid_fit import own_values
from loomlight.signal.laid_values import deviation_values, good_times, good_values, reach
from loomlight.signal.lineup import LineUp
from loomlight.signal.noise import noise_of
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.runs import Runs, runs_above_zero
from loomlight.signal.samples import BLOCK, Times, Wave, evenly
from loomlight.signal.tolerance import settled_factor
from loomlight.signal.tolerance_band import Envelope

MOST_FINDINGS = 2000
"""Beyond this many, neighbours are joined: a list of thousands helps nobody."""
BY_CHANCE = 0.005
"""How likely noise alone may leave the band anywhere in a whole capture."""
ENVELOPE = 3.0
"""Standard deviations of the known-good's own cycles that belong to its band."""


@dataclass(frozen=True)
class Band:
    """How far a suspect may stand from the known-good.

    Attributes
    ----------
    half : float
        Either way, in the channels' unit: what the signal kind allows, and what noise makes of it.
    slack_s : float
        How much earlier or later an edge may come, seconds on the suspect's axis.
    gain : float
        The known-good is taken times this: its supply was another.
    """

    half: float
    slack_s: float
    gain: float = 1.0


def widened(half: float, suspect: Channel, good: Channel) -> float:
    """A half width with room for the noise of both channels.

    Wide enough that, of a capture this long, noise alone leaves it with a chance of 1 in 200: the normal distribution's
    tail, for as many samples as there are.
    """
    noise = math.hypot(noise_of(suspect), noise_of(good))
    return max(half, math.hypot(0.5 * half, _tail(suspect) * noise) if noise > 0 else half)


def _tail(suspect: Channel) -> float:
    """Deviations that noise alone leaves somewhere in a capture as long as this with a chance of 1 in 200."""
    from scipy import special

    return float(special.ndtri(1.0 - 0.5 * BY_CHANCE / max(suspect.intervals, 1)))


def out_of_band(
    suspect: Channel,
    good: Channel,
    lineup: LineUp,
    band: Band,
    *,
    severity: Severity = "mild",
    join_s: float = 0.0,
    progress: Progress = unwatched,
) -> list[Finding]:
    """Stretches of the suspect that leave the band around the known-good, as it is laid.

    The band follows the known-good's least and greatest value within the slack, so that an edge that comes a little
    earlier or later is inside it; where the known-good is an average of cycles, three of their standard deviations more.
    Where the line-up brings an envelope, that is the band, and what is allowed here only bounds how far it may reach beyond
    what was captured.

    Parameters
    ----------
    suspect, good : Channel
        In the same unit; the suspect of the form ``even`` or ``pairs``.
    lineup : LineUp
        Accepted.
    band : Band
        How far is allowed; ``half`` may be infinite where only an envelope is to count.
    severity : {"severe", "mild"}
        Of the findings.
    join_s : float
        Stretches nearer to each other than this are one.
    progress : Progress
        0 to 1.

    Returns
    -------
    list of Finding
        Kind ``out of band``; ``size`` is how far beyond the band it goes at most.
    """
    first, last = reach(suspect, good, lineup)
    if suspect.step_s is None or last <= first:
        return []
    rows = _excess(suspect, good, lineup, band, (first, last), progress)
    runs = _joined(runs_above_zero(rows, most=MOST_FINDINGS), round(join_s / suspect.step_s))
    unit = suspect.unit or ""
    envelope = envelope_along(lineup)
    rule = (
        f"more than {in_words(band.half, unit)} away from the known-good"
        if envelope is None
        else f"out of the envelope of {envelope.captures} good captures"
    )
    return [
        Finding(
            "out of band",
            suspect.name,
            suspect.start_s + begin * suspect.step_s,
            suspect.start_s + stop * suspect.step_s,
            worst,
            unit,
            rule,
            severity,
        )
        for begin, stop, worst in zip(runs.first.tolist(), runs.last.tolist(), runs.worst.tolist(), strict=True)
    ]


def envelope_along(lineup: LineUp) -> Envelope | None:
    """The line-up's envelope, where its axis is the one that times are laid on: an average cycle has its own."""
    return lineup.envelope if lineup.laid is None or lineup.laid.reference is None else None


def _excess(
    suspect: Channel, good: Channel, lineup: LineUp, band: Band, between: tuple[int, int], progress: Progress
) -> Iterator[tuple[int, Wave]]:
    """How far each instant is beyond the band; not-a-number where nothing is to be compared."""
    from scipy import ndimage

    assert suspect.step_s is not None
    first, last = between
    room = math.ceil(band.slack_s / suspect.step_s)
    envelope = envelope_along(lineup)
    louder = 0.0
    if envelope is not None:
        allowed = settled_factor(envelope.captures) * envelope.noise
        louder = max(0.0, _tail(suspect) * math.hypot(noise_of(suspect), envelope.noise) - allowed)
    for begin in range(first, last, BLOCK):
        progress((begin - first) / (last - first))
        stop = min(begin + BLOCK, last)
        times_s = evenly(suspect.start_s, suspect.step_s, begin - room, stop + room)
        there = np.float32(band.gain) * good_values(good, lineup, times_s)
        spread = np.float32(ENVELOPE) * deviation_values(lineup, times_s)
        known = np.isfinite(there)
        upper, lower = there + spread + np.float32(band.half), there - spread - np.float32(band.half)
        if envelope is not None:
            upper, lower = _within(envelope, lineup, band, times_s, (lower, upper), np.float32(louder))
        high = ndimage.maximum_filter1d(np.where(known, upper, -np.inf), 2 * room + 1)
        low = ndimage.minimum_filter1d(np.where(known, lower, np.inf), 2 * room + 1)
        own = slice(room, room + stop - begin)
        above, below = _ends(suspect, begin, stop)
        beyond = np.maximum(above - high[own], low[own] - below).astype(np.float32)
        fair = known[own]
        if lineup.laid is not None:
            fair &= lineup.laid.is_fair(times_s[own])
        yield begin, np.where(fair, beyond, np.float32(np.nan))


def _within(
    envelope: Envelope, lineup: LineUp, band: Band, times_s: Times, ends: tuple[Wave, Wave], louder: np.float32
) -> tuple[Wave, Wave]:
    """Upper and lower end by the envelope; as they were where it tells nothing."""
    half = band.half if math.isfinite(band.half) else None
    low, high = envelope.ends_at(good_times(lineup, times_s), half)
    if lineup.polarity < 0:
        low, high = -high, -low
    low, high = np.float32(band.gain) * low - louder, np.float32(band.gain) * high + louder
    known = np.isfinite(low) & np.isfinite(high)
    return np.where(known, high, ends[1]), np.where(known, low, ends[0])


def _ends(suspect: Channel, begin: int, stop: int) -> tuple[Wave, Wave]:
    """Greatest and least value of each instant: of minimum/maximum pairs each side counts."""
    if suspect.form != "pairs":
        values = own_values(suspect, begin, stop).astype(np.float32)
        return values, values
    pairs = suspect.samples.block(2 * begin, 2 * stop)
    return pairs[1::2], pairs[::2]


def _joined(runs: Runs, gap: int) -> Runs:
    if gap <= 0 or runs.first.size < 2:
        return runs
    starts = np.concatenate([[0], np.flatnonzero(runs.first[1:] - runs.last[:-1] > gap) + 1])
    ends = np.concatenate([starts[1:] - 1, [runs.first.size - 1]])
    return Runs(runs.first[starts], runs.last[ends], np.maximum.reduceat(runs.worst, starts))
