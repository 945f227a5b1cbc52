"""Supply, charging, cranking: three signals on one battery. Told apart by how it sags, pulses and ripples."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.wire_ripple import Ripple, ripple_of
from loomlight.signal.wire_sag import Sag, sag_of
from loomlight.signal.wire_sight import Sight

Row = npt.NDArray[np.float64]
Told = tuple[float, str]

LOWEST_SUPPLY_V, HIGHEST_SUPPLY_V = 6.5, 36.0
"""A 12 V supply in a start to a 24 V one while charging (ISO 16750-2, supply ranges)."""
SYSTEM_24_V = 18.0
"""Above, two batteries are in series."""
MOST_NOISE = 0.06
"""Of the level: what scatters more is no rail."""
FLAT_SHARE = 0.003
"""Of the level: what moves less stands still."""
LITTLE = 0.02
"""Of the level: a line that is shorted to the supply moves no more."""
CHARGED_V, NOT_CHARGED = 12.8, 0.58
"""A battery that is not charged stands below, and looks like any rail: never sure."""
STEADY = 0.5
"""A steady voltage may as well be a line that rests."""
IDLE_HUMPS_HZ = 900.0
"""Six humps a turn of six to eight pole pairs, geared up two to three times, at 750 turns a minute (arithmetic)."""
UNEVEN = 0.03
"""Of the humps: a rectifier's three phases are never quite alike (tried on made alternators)."""
MANY_EDGES = 60
MOST_STEP = 0.1
"""Of the level: what a load within an alternator's reach moves it by."""
SLOWEST_RATE = 8e3
"""Samples a second below which a ripple's frequency is not seen as it is."""
START_FALL_S = 6e-3
"""A start profile falls within 5 ms (ISO 16750-2); a starter's current takes longer to rise (common practice, no source)."""


def rails(sight: Sight) -> dict[str, Told]:
    """Likeness and reason for each of the three; empty where it is no rail."""
    levels = sight.levels
    if levels is None or not sight.slow.size:
        return {}
    if sight.channel.unit == "A":
        if levels.greatest < 60.0:
            return {}
        return {"cranking": (0.9, f"Up to {levels.greatest:.0f} A: only a starter takes that.")}
    if sight.channel.unit not in (None, "V"):
        return {}
    # What rests in the middle half of the time counts where a start or a cut-off fills most of the capture.
    usual = float(np.median(sight.slow))
    rest = float(np.median(sight.slow[: max(sight.slow.size // 50, 4)]))
    if not LOWEST_SUPPLY_V <= max(usual, rest) <= HIGHEST_SUPPLY_V:
        return {}
    sag = sag_of(sight)
    if sag is not None:
        return _sagging(sag)
    near = float(np.mean(np.abs(sight.slow - usual) < 0.3 * usual))
    if usual < LOWEST_SUPPLY_V or near < 0.35 or _switches(sight, usual):
        return {}
    if sight.noise > MOST_NOISE * usual:
        return {}
    if levels.greatest - levels.least <= max(FLAT_SHARE * usual, 12.0 * sight.noise):
        return {"supply": (STEADY, f"A steady {usual:.1f} V: a supply rail, or a line that rests.")}
    strength = 0.5 + 0.35 * near
    assert sight.channel.step_s is not None
    ripple = ripple_of(sight) if sight.channel.step_s * SLOWEST_RATE < 1.0 else None
    if ripple is not None and usual >= 10.5 and levels.greatest - levels.least < 0.5 * usual:
        return _rippling(ripple, usual, strength)
    return _moving(sight, usual, strength)


def _switches(sight: Sight, usual: float) -> bool:
    """Whether it spends time far from its level again and again: a wire that switches, and no rail with needles on it."""
    low, high = sight.level_below(6.0), sight.level_below(94.0)
    return sight.at_s.size > MANY_EDGES and (low < 0.7 * usual or high > 1.5 * usual)


def _sagging(sag: Sag) -> dict[str, Told]:
    told = f"from {sag.rest:.1f} V to {sag.lowest:.1f} V for {sag.seconds:.2g} s"
    if sag.straight and sag.fall_s < 2.0 * START_FALL_S and not sag.small:
        fall = f"falls straight within {1e3 * sag.fall_s:.1f} ms"
        return {
            "supply": (0.8, f"Dips {told} and {fall}: a start as a rail is tested with it (ISO 16750-2)."),
            "cranking": (0.55, f"Sags {told}, as with a starter, but {fall}."),
        }
    if sag.pulses_hz is not None:
        pulses = f"pulses {sag.pulses_hz:.1f} times a second"
        return {
            "cranking": (0.93, f"Sags {told} and {pulses}: a starter turning an engine."),
            "supply": (0.5, f"Sags {told}: a rail during a start."),
        }
    if sag.small:
        return {
            "cranking": (0.68, f"Drops {told} and sags on: a start switch pressed, and a starter that takes little."),
            "supply": (0.5, f"Drops {told}: a load on a rail."),
        }
    return {
        "cranking": (
            0.75,
            f"Sags {told} without a pulse, within {1e3 * sag.fall_s:.0f} ms: a starter that does not turn.",
        ),
        "supply": (0.5, f"Sags {told}: a rail under a heavy load."),
    }


def _rippling(ripple: Ripple, usual: float, strength: float) -> dict[str, Told]:
    """An alternator's own terminals, or a rail far from it: by how many humps a second there are, and how alike they are."""
    times = 2.0 if usual > SYSTEM_24_V else 1.0
    # Logarithm of how many times likelier an alternator is.
    odds = 0.4 if 13.0 <= usual / times <= 15.6 else -0.3
    whole = -0.72 < ripple.skew < -0.3 and 0.13 < ripple.second < 0.35
    odds += 3.0 if ripple.third_part > UNEVEN else -1.0 if whole and ripple.third_part < 0.5 * UNEVEN else 0.0
    if ripple.hz >= IDLE_HUMPS_HZ:
        odds += float(np.clip(8.0 * np.log(ripple.hz / (1.25 * IDLE_HUMPS_HZ)), -1.5, 4.0)) + (0.0 if whole else 2.0)
        shape = "humps uneven from phase to phase" if ripple.third_part > UNEVEN else "humps"
    elif whole:
        odds -= 2.5
        shape = "even humps, fewer than an alternator makes at idle"
    else:
        odds += 3.0
        shape = "humps unlike a whole rectifier's"
    share = float(1.0 / (1.0 + np.exp(-odds)))
    told = f"{usual:.1f} V with {ripple.height:.2g} V of {shape}, {ripple.hz:.4g} a second"
    return {
        "charging": (strength * share, f"{told}: ripple of an alternator."),
        "supply": (strength * (1.0 - share), f"{told}: ripple on a rail."),
    }


def _moving(sight: Sight, usual: float, strength: float) -> dict[str, Told]:
    """Neither sag nor ripple: a level that moves, or needles on one."""
    times = 2.0 if usual > SYSTEM_24_V else 1.0
    low, high = (float(one) / times for one in np.percentile(sight.slow, (5, 95)))
    seconds = sight.slow.size * sight.slow_step_s
    levels = sight.levels
    assert levels is not None
    if usual / times < CHARGED_V:
        told = f"Rests near {usual:.1f} V and moves little: a supply rail, or a battery that is not charged."
        rail = {"supply": (min(strength, NOT_CHARGED), told)}
    elif levels.greatest - levels.least < LITTLE * usual:
        told = f"Rests near {usual:.1f} V and hardly moves: a supply rail, or a line that rests there."
        rail = {"supply": (min(strength, NOT_CHARGED), told)}
    else:
        rail = {"supply": (strength, f"Rests near {usual:.1f} V and moves little, as a supply does.")}
    if seconds >= 8.0 and 12.2 <= low <= high <= 15.3 and high >= 13.2 and high - low >= 0.2:
        moves = f"Moves between {times * low:.1f} and {times * high:.1f} V over {seconds:.0f} s"
        return {"charging": (0.78, f"{moves}, as a controlled alternator does."), "supply": (0.45, f"{moves}.")}
    if seconds >= 8.0 and 13.2 <= low <= high <= 15.3:
        told = f"Held at {usual:.1f} V for {seconds:.0f} s"
        return {"charging": (0.6, f"{told}, as a regulator does."), "supply": (0.52, f"{told}: a rail while charged.")}
    recovered = _recoveries(sight) if levels.greatest - levels.least < MOST_STEP * usual else 0
    if recovered >= 1 and 11.0 <= usual / times <= 15.6:
        told = f"{usual:.1f} V, and {recovered} load step{'s' if recovered > 1 else ''} made up for within 0.3 s"
        return {"charging": (0.62, f"{told}: a regulator's work."), "supply": (0.52, f"{told}.")}
    return rail


def _recoveries(sight: Sight) -> int:
    """Steps of the level that come back most of the way by themselves, slowly, where a load's own end is a step too."""
    row, step_s = sight.slow, sight.slow_step_s
    wide = max(round(5e-3 / step_s), 1)
    if row.size < 40 * wide:
        return 0
    level = np.convolve(row, np.ones(wide) / wide, "valid")
    jump = level[2 * wide :] - level[: -2 * wide]
    least = max(6.0 * 1.4826 * float(np.median(np.abs(jump - np.median(jump)))), 0.004 * float(np.median(row)))
    count, place = 0, 0
    while place < jump.size:
        if abs(jump[place]) < least:
            place += 1
            continue
        last = min(place + 4 * wide, jump.size)
        top = place + int(np.argmax(np.abs(jump[place:last])))
        before, stepped = level[place], level[min(top + 2 * wide, level.size - 1)]
        later = level[top + 2 * wide : top + 2 * wide + round(0.12 / step_s)]
        if later.size > max(round(0.04 / step_s), 2) and abs(stepped - before) > 0.5 * least:
            back = (later - stepped) * -np.sign(jump[top]) / abs(stepped - before)
            rise = back[2 * wide :] - back[: -2 * wide]
            # Slowly: no single step makes up for much of it.
            if back[-1] > 0.35 and back.max() < 1.3 and rise.max() < 0.4:
                count += 1
        place = top + 4 * wide
    return count
