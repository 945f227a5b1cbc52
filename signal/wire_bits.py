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
REST_BITS = 6.9
"""After a flag the bus rests: eight bits of delimiter and three of intermission (ISO 11898-1)."""
MOST_FLAG_V = 4.2
"""Nodes that cannot move the pair far enough to hear themselves."""
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
    step_s = looks.sight.channel.step_s
    assert step_s is not None
    for look in looks:
        for found in (_flags(look), _bits(look, step_s)):
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
        known = [one for one in CAN_RATES if abs(rate / one - 1.0) < NEAR and look.high - look.low < MOST_FLAG_V]
        if not known or not LOWEST_FLAG_RATE <= known[0] <= HIGHEST_FLAG_RATE or share < FLAG_SHARE:
            continue
        rests = float(np.mean(between * rate > REST_BITS))
        middle = float(np.median(between))
        scatter = float(np.median(np.abs(between - middle))) / middle
        if rests < 0.65 or scatter < 0.1:
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


def _bits(look: Look, step_s: float) -> dict[str, Told]:
    up = _rests_low(look)
    found: dict[str, Told] = {}
    clocks = [one for one in (_clock(look.runs_s), *(_at_rate(look.runs_s, rate, step_s) for rate in CAN_RATES)) if one]
    for bit_s, share in clocks:
        rate = 1.0 / bit_s
        if share < WHOLE_SHARE or not any(abs(rate / one - 1.0) < NEAR for one in CAN_RATES):
            continue
        whole = f"No frame can be read, but {share:.0%} of the stretches are whole bits"
        if not all(_varies(look.runs_s[look.rising[:-1] == high] / bit_s) for high in (True, False)):
            continue  # pulses of one length, and spacings that vary: no bits
        for key, (likeness, words) in told_apart(_as_frames(look, bit_s, up=up)).items():
            told = 0.58 * share * likeness, f"{whole}: {words}."
            if key not in found or told > found[key]:
                found[key] = told
    if not found:
        found = _spikes(look, step_s, up=up)
    if clocks and clocks[0][1] >= WHOLE_SHARE and not up:
        found |= _uarts(look, *clocks[0])
    return found


def _spikes(look: Look, step_s: float, *, up: bool) -> dict[str, Told]:
    """A wire that is held fast: of each edge only a spike is left, and spikes are whole bits apart."""
    if np.percentile(look.runs_s, 25) > 0.25 * np.median(np.diff(look.at_s[look.rising])):
        return {}
    for rate in CAN_RATES:
        clock = _at_rate(np.diff(look.at_s[look.rising]), rate, step_s)
        if clock is not None and clock[1] >= 0.9:
            told = f"Spikes on a level, {clock[1]:.0%} of them whole bits apart at {rate / 1e3:.4g} kbit/s"
            kinds = told_apart(_as_frames(look, clock[0], up=up))
            return {key: (0.58 * likeness, f"{told}: a bus held fast.") for key, (likeness, _) in kinds.items()}
    return {}


def _varies(bits: Row) -> bool:
    """Whether stretches of one state have more than one length."""
    counts = np.unique(np.round(bits[bits < 12.0]), return_counts=True)[1]
    return bool(np.count_nonzero(counts > 0.06 * bits.size) >= 2)


def _uarts(look: Look, bit_s: float, share: float) -> dict[str, Told]:
    lows = look.runs_s[~look.rising[:-1]] / bit_s
    found: dict[str, Told] = {}
    for key, rates in UARTS.items():
        if any(low <= bit_s <= high for low, high in rates) and np.percentile(lows, 98) < LONGEST_LOW[key]:
            breaks = bool(np.any(lows > 12.0))
            whole = f"No frame can be read, but {share:.0%} of the stretches are whole bits at {1.0 / bit_s:.4g} bit/s"
            found[key] = (0.58 if breaks == (key == "lin") else 0.35) * share, f"{whole}, resting high."
    return found


def _at_rate(runs: Row, rate: float, step_s: float) -> tuple[float, float] | None:
    """The same at a given rate, spikes left out: where a lost wire adds edges of its own, no clock is found from the shortest."""
    bits = runs * rate
    bits = bits[(bits > 0.6) & (bits < 12.0)]
    if bits.size < max(FEWEST_RUNS, 0.5 * runs.size) or step_s * rate > 0.25:
        return None
    whole = np.abs(bits - np.round(bits)) < 0.2
    kinds = np.unique(np.round(bits[whole]), return_counts=True)[1]
    share = float(whole.mean())
    return (1.0 / rate, share) if share >= 0.8 and np.count_nonzero(kinds > 0.04 * bits.size) >= 3 else None


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
