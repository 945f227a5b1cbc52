"""Buses whose frames can no longer be read: what is left is a clock."""

from collections.abc import Callable

import numpy as np

from loomlight.signal.wire_levels import LEVELS
from loomlight.signal.wire_sight import Sight

Told = tuple[float, str]
FEWEST_RUNS = 40


def _bits(sight: Sight) -> tuple[float, float] | None:
    """Length of a bit, seconds, and the share of the stretches that last whole numbers of it; None where nothing is clocked."""
    runs = sight.runs_s
    if runs.size < FEWEST_RUNS:
        return None
    first = float(np.percentile(runs, 10))
    if first <= 0:
        return None
    near = runs[runs < 12.0 * first]
    counts = np.maximum(np.round(near / first), 1.0)
    bit_s = float(np.median(near / counts))
    multiples = near / bit_s
    whole = np.abs(multiples - np.round(multiples)) < 0.2
    kinds = np.unique(np.round(multiples[whole]), return_counts=True)[1]
    if np.count_nonzero(kinds > 0.04 * runs.size) < 3:
        return None
    return bit_s, float(whole.mean() * near.size / runs.size)


def clocked(key: str, bits_s: tuple[tuple[float, float], ...], what: str) -> Callable[[Sight], Told | None]:
    """A trait for a bus whose frames cannot be read any more: stretches of whole bits of a length that it uses.

    Parameters
    ----------
    key : str
        The signal kind, for the levels that it may have.
    bits_s : tuple of (float, float)
        Shortest and longest bit of each rate in use, seconds.
    what : str
        End of the sentence: "as a LIN bus has".
    """

    def trait(sight: Sight) -> Told | None:
        found = _bits(sight) if sight.channel.unit in (None, "V") else None
        if found is None or found[1] < 0.75 or not any(low <= found[0] <= high for low, high in bits_s):
            return None
        rate = 1.0 / found[0]
        told = f"No frame can be read, but {found[1]:.0%} of all stretches are whole bits at {rate:.4g} bit/s, {what}."
        return 0.55 * found[1] * LEVELS[key](sight), told

    return trait
