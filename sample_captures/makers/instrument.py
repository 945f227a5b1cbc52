"""What an oscilloscope makes of volts or amperes: its scatter, its offset, its converter's steps."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.samples import FloatSamples

Row = npt.NDArray[np.float64]


def times(seconds: float, samples_per_s: float) -> Row:
    """Times of the samples from 0 on."""
    found: Row = np.arange(round(seconds * samples_per_s)) / samples_per_s
    return found


def recorded(
    rng: np.random.Generator,
    name: str,
    values: Row,
    samples_per_s: float,
    *,
    unit: str = "V",
    noise_db: float | None = None,
    ranges: tuple[float, ...] = (20.0, 50.0, 100.0, 200.0),
    start_s: float = 0.0,
    bits: tuple[int, int] = (8, 12),
) -> Channel:
    """One channel through the instrument's input.

    Parameters
    ----------
    rng : Generator
        Draws bits, offset, gain and noise.
    name, unit : str
        Of the channel.
    values : ndarray
        At the wire.
    samples_per_s : float
        Rate.
    noise_db : float or None
        The signal's standard deviation against the noise's; None: a thousandth of the range.
    ranges : tuple of float
        Either way of zero; the smallest that holds the values is taken.
    start_s : float
        Time of the first sample.
    bits : (int, int)
        Least and most of the converter.
    """
    reach = next((one for one in ranges if np.abs(values).max() < 0.95 * one), ranges[-1])
    step = 2.0 * reach / 2 ** int(rng.integers(bits[0], bits[1] + 1))
    noise = 5e-4 * reach if noise_db is None else max(float(values.std()) * 10.0 ** (-noise_db / 20.0), 5e-4 * reach)
    seen = values * (1.0 + rng.normal(0.0, 0.002)) + rng.normal(0.0, 5e-4 * reach)
    seen = np.clip(np.round((seen + rng.normal(0.0, noise, values.size)) / step) * step, -reach, reach)
    return Channel(name, unit, FloatSamples(seen), start_s, 1.0 / samples_per_s)
