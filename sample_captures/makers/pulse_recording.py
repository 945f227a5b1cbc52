"""What an instrument makes of a made wire: noise, offset, converter steps; and wires that switch, edge by edge."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.samples import CountSamples

Row = npt.NDArray[np.float64]


def recorded(
    rng: np.random.Generator,
    values: Row,
    step_s: float,
    *,
    name: str,
    unit: str = "V",
    noise_db: float | None = None,
    start_s: float = 0.0,
) -> Channel:
    """Noise, a little offset and the steps of a converter of 8, 10 or 12 bits over a range that holds everything."""
    own = float(np.std(values))
    noise = own * 10.0 ** (-(noise_db if noise_db is not None else rng.uniform(38.0, 55.0)) / 20.0)
    offset = 0.004 * own * rng.normal()
    noisy = values + offset + rng.normal(0.0, max(noise, 1e-9), values.size)
    reach = 1.05 * float(np.abs(noisy).max())
    counts = 2 ** int(rng.choice([8, 10, 12]))
    scale = 2.0 * reach / counts
    found = np.clip(np.round(noisy / scale), -counts // 2, counts // 2 - 1).astype(np.int16)
    return Channel(name, unit, CountSamples(found, scale=scale, offset=0.0), start_s, step_s)


def captured(*channels: Channel) -> Capture:
    """Channels of one made capture."""
    return Capture("made", "made signal", channels, ("Invented data.",))


def switched(times_s: Row, edges_s: Row, levels: Row, tau_s: Row) -> Row:
    """A wire that goes from level to level through one pole.

    Parameters
    ----------
    times_s : ndarray, shape (n,)
        Where it is wanted.
    edges_s : ndarray, shape (m,)
        When it begins to go to the next level, in order.
    levels : ndarray, shape (m + 1,)
        Before the first edge, and after each.
    tau_s : ndarray, shape (m,)
        Time constant after each edge.
    """
    reached = np.empty(levels.size)
    reached[0] = levels[0]
    apart = np.diff(edges_s, append=np.inf)
    left = np.exp(-apart / tau_s)
    values = levels.tolist()
    now = values[0]
    starts = []
    for target, share in zip(values[1:], left.tolist(), strict=True):
        starts.append(now)
        now = target + (now - target) * share
    which = np.searchsorted(edges_s, times_s, side="right") - 1
    found = np.full(times_s.size, levels[0])
    after = which >= 0
    at = which[after]
    since = (times_s[after] - edges_s[at]) / tau_s[at]
    found[after] = levels[at + 1] + (np.asarray(starts)[at] - levels[at + 1]) * np.exp(-since)
    return found
