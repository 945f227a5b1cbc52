"""Buses whose frames can no longer be read: what is left is their clock, and the flags by which they break off."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.wire_can import told_apart
from loomlight.signal.wire_frames import Frames
from loomlight.signal.wire_looks import Look, Looks

Row = npt.NDArray[np.float64]
Told = tuple[float, str]

FEWEST_RUNS = 40
WHOLE_SHARE = 0.7
"""Of the stretches, those that last whole bits."""
CAN_RATES = (1e6, 500e3, 250e3, 125e3, 100e3, 83_333.0, 33_333.0)
NEAR = 0.035
FLAG_BITS = 7.0
"""A start bit that its own sender does not hear, and the six bits of the error flag that follows (ISO 11898-1)."""
FEWEST_FLAGS, FLAG_SHARE = 5, 0.6
REST_BITS = 9.5
"""After a flag the bus rests: eight bits of delimiter and three of intermission (ISO 11898-1)."""
HIGHEST_FLAG_RATE, LOWEST_FLAG_RATE = 1e6, 100e3
UARTS: dict[str, tuple[tuple[float, float], ...]] = {
    "lin": ((49e-6, 54e-6), (100e-6, 108e-6)),
    "k-line": ((93e-6, 99e-6), (102e-6, 106e-6)),
}
"""Shortest and longest bit of the rates in use: 19.2 and 9.6 kbit/s; 10.4 and 9.6."""
LONGEST_LOW = {"lin": 30.0, "k-line": 9.6}
"""Bits: a LIN break is thirteen and more low, a byte nine at most."""


def clocked(looks: Looks) -> dict[str, Told]:
    """Likeness and reason of each bus whose clock can be seen; never sure."""
    best: dict[str, Told] = {}
    if looks.sight.channel.unit not in (None, "V"):
        return best
    for look in looks:
        for found in (_flags(look), _bits(look)):
            for key, told in found.items():
                if key not in best or told[0] > best[key][0]:
                    best[key] = told
        if any(likeness >= 0.55 for likeness, _ in best.values()):
            break
    return best


def _flags(look: Look) -> dict[str, Told]:
    """CAN nodes that do not hear themselves: each try is broken off by a flag of the same length."""
    found: dict[str, Told] = {}
    for up in (True, False):
        pulled = look.runs_s[look.rising[:-1] == up]
        between = look.runs_s[look.rising[:-1] != up]
        if pulled.size < FEWEST_FLAGS:
            continue
        usual = float(np.median(pulled))
        rate = FLAG_BITS / usual
        share = float(np.mean(np.abs(pulled / usual - 1.0) < 0.05))
        known = [one for one in CAN_RATES if abs(rate / one - 1.0) < NEAR]
        if not known or not LOWEST_FLAG_RATE <= known[0] <= HIGHEST_FLAG_RATE or share < FLAG_SHARE:
            continue
        rests = float(np.mean(between * rate > REST_BITS))
        middle = float(np.median(between))
        scatter = float(np.median(np.abs(between - middle))) / middle
        if rests < 0.7 or scatter < 0.1:
            continue
        told = (
            f"{share:.0%} of its {pulled.size} pulses last seven bits at {known[0] / 1e3:.4g} kbit/s: "
            "a start bit and an error flag, of nodes that do not hear themselves"
        )
        for key, (likeness, _) in told_apart(_as_frames(look, 1.0 / known[0], up=up)).items():
            found[key] = 0.75 * likeness, f"{told}."
    return found


def _as_frames(look: Look, bit_s: float, *, up: bool) -> Frames:
    rest, active = (look.low, look.high) if up else (look.high, look.low)
    return Frames("can", 0, 0.0, bit_s, rest, active, active, look)


def _bits(look: Look) -> dict[str, Told]:
    clock = _clock(look.runs_s)
    if clock is None or clock[1] < WHOLE_SHARE:
        return {}
    bit_s, share = clock
    up = _rests_low(look)
    rate = 1.0 / bit_s
    whole = f"No frame can be read, but {share:.0%} of all stretches are whole bits at {rate:.4g} bit/s"
    found: dict[str, Told] = {}
    if any(abs(rate / one - 1.0) < NEAR for one in CAN_RATES):
        for key, (likeness, words) in told_apart(_as_frames(look, bit_s, up=up)).items():
            found[key] = 0.58 * share * likeness, f"{whole}: {words}."
    lows = look.runs_s[~look.rising[:-1]] / bit_s
    for key, rates in UARTS.items():
        if not up and any(low <= bit_s <= high for low, high in rates) and np.percentile(lows, 98) < LONGEST_LOW[key]:
            breaks = bool(np.any(lows > 12.0))
            found[key] = (0.58 if breaks == (key == "lin") else 0.35) * share, f"{whole}, resting high."
    return found


def _clock(runs: Row) -> tuple[float, float] | None:
    """Length of a bit, seconds, and the share of the stretches that last whole numbers of it; None where nothing is clocked."""
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


def _rests_low(look: Look) -> bool:
    """Whether the line stands low in its longest pauses."""
    longest = np.argsort(look.runs_s)[-3:]
    return bool(np.count_nonzero(~look.rising[:-1][longest]) >= 2)
