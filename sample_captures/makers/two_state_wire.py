"""A wire with two states, worked out stretch by stretch, and the instrument that records it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.samples import CountSamples

Volts = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Step:
    """From ``at_s`` on the wire goes to ``to_v`` with the time constant ``tau_s``."""

    at_s: float
    to_v: float
    tau_s: float


def laid(steps: Sequence[Step], *, start_v: float, times_s: Volts, ringing: float = 0.0, ring_s: float = 1e-6) -> Volts:
    """Volts at the given times: each step begins where the one before had got to.

    Parameters
    ----------
    steps : sequence of Step
        In order of time.
    start_v : float
        Before the first.
    times_s : ndarray, shape (n,)
        Even, rising.
    ringing : float
        Share of each step's height that rings after it.
    ring_s : float
        Period of the ringing; it has died away after some three.
    """
    volts = np.full(times_s.size, start_v)
    places = np.searchsorted(times_s, [one.at_s for one in steps])
    ends = np.append(places[1:], times_s.size)
    now_v = start_v
    for number, (one, first, last) in enumerate(zip(steps, places.tolist(), ends.tolist(), strict=True)):
        gone = times_s[first:last] - one.at_s
        volts[first:last] = one.to_v + (now_v - one.to_v) * np.exp(-gone / one.tau_s)
        if ringing:
            near = gone < 4.0 * ring_s
            volts[first:last][near] += (
                ringing * (one.to_v - now_v) * np.exp(-gone[near] / ring_s) * np.sin(2 * np.pi * gone[near] / ring_s)
            )
        if number + 1 < len(steps):
            now_v = one.to_v + (now_v - one.to_v) * float(np.exp(-(steps[number + 1].at_s - one.at_s) / one.tau_s))
    return volts


def recorded(
    rng: np.random.Generator,
    name: str,
    volts: Volts,
    *,
    start_s: float,
    step_s: float,
    reach_v: float,
    noise_db: float | None,
) -> Channel:
    """What an instrument makes of it: an offset, a gain that is off a little, noise, and a converter of 8 to 12 bits."""
    bits = int(rng.choice([8, 10, 12]))
    step_v = 2.0 * reach_v / 2**bits
    noise_v = float(volts.std()) * 10 ** (-noise_db / 20) if noise_db is not None else reach_v * rng.uniform(2e-4, 2e-3)
    seen = volts * rng.uniform(0.995, 1.005) + rng.normal(0.0, 0.002 * reach_v)
    seen = seen + rng.normal(0.0, noise_v, volts.size)
    counts = np.clip(np.rint(seen / step_v), -(2 ** (bits - 1)), 2 ** (bits - 1) - 1).astype(np.int16)
    return Channel(name, "V", CountSamples(counts, scale=step_v, offset=0.0), start_s, step_s)


def with_bursts(
    rng: np.random.Generator, volts: Volts, *, step_s: float, size_v: float, count: int, length_s: float
) -> Volts:
    """Noise bursts: short trains of a decaying oscillation of either sign."""
    found = volts.copy()
    length = max(round(length_s / step_s), 3)
    for first in rng.integers(0, max(volts.size - length, 1), count).tolist():
        gone = np.arange(length)
        found[first : first + length] += (
            size_v * rng.uniform(0.7, 1.3) * rng.choice([-1, 1], length) * np.exp(-gone / length)
        )
    return found
