"""Is it a 12 V or a 24 V system, and could the channel be a supply at all?"""

import math

import numpy as np

from loomlight.signal import sanity
from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions, Doubt
from loomlight.signal.outline import Outline
from loomlight.signal.setting import Setting

SYSTEM = Setting(
    "system",
    "nominal voltage of the vehicle",
    "V",
    None,
    "12 or 24; found from the level where it is not given",
    lowest=12.0,
    highest=24.0,
    hint="The limits of a 24 V vehicle are other ones.",
)
BETWEEN_V = (17.5, 20.5)
"""A level that is too high for 12 V and too low for 24 V."""
MOVES_V = 0.15
"""An input that is AC coupled shows at least a supply's own ripple and load steps."""
MOST_24_V = 32.0
"""A battery of 24 V under charge stands below (ISO 16750-2, supply codes E to G, from memory)."""
SUPPLIES = (10.5, 15.5), (22.0, 30.0)
HIGH_VOLTAGE_V = 60.0
"""More than this is high voltage (UN Regulation No. 100, direct current; from memory)."""
LEAST_V, MOST_V = 4.0, 40.0
"""Outside this no level of a supply holds for long (24 V systems to 36 V, ISO 16750-2)."""


def system_volts(outline: Outline, conditions: Conditions) -> float:
    """12.0 or 24.0: as given, else as the level says, and where that is a long dip, both ends of the capture."""
    given = conditions.figure(SYSTEM)
    if given is not None:
        return 24.0 if given > 18.0 else 12.0
    border = 0.5 * (BETWEEN_V[0] + BETWEEN_V[1])
    return 24.0 if outline.level() > border or min(outline.end_levels()) > border else 12.0


def usual_level(outline: Outline, lowest_v: float, highest_v: float) -> float:
    """What the rail holds: most of the time, or at an end of the capture where most of it is a dip or a peak."""
    held = outline.level()
    for one in (held, *outline.end_levels()):
        if lowest_v <= one <= highest_v:
            return one
    return held


def level_doubts(channel: Channel, level_v: float, outline: Outline, conditions: Conditions) -> list[Doubt]:
    """What speaks against taking the channel for a supply, the most telling first.

    Parameters
    ----------
    channel : Channel
        The one judged.
    level_v : float
        What it holds most of the time, volts.
    outline : Outline
        Of the channel.
    conditions : Conditions
        With the nominal voltage where it was given.
    """
    if not math.isfinite(level_v):
        return [sanity.no_samples(channel)]
    if not LEAST_V <= level_v <= MOST_V:
        return [_no_supply(channel.name, level_v, outline)]
    which = _which_system(channel.name, level_v, outline) if conditions.figure(SYSTEM) is None else None
    return list(sanity.doubts_among([which, sanity.unit_unknown(channel)]))


def _which_system(name: str, level_v: float, outline: Outline) -> Doubt | None:
    """The level, or that at an end of the capture, leaves open whether it is a 12 V or a 24 V vehicle."""
    ends = outline.end_levels()
    do = "Say which of the two the vehicle has."
    if level_v <= BETWEEN_V[0] and BETWEEN_V[1] <= max(ends) <= MOST_24_V:
        text = (
            f"{name!r} stands at {level_v:.3g} V and at one end of the capture at {max(ends):.3g} V: 24 V with a long "
            "dip, or 12 V with a jump start of 24 V."
        )
        return Doubt("system voltage", text, do)
    settled = max(ends) <= BETWEEN_V[0] or min(ends) >= BETWEEN_V[1]
    if BETWEEN_V[0] < level_v < BETWEEN_V[1] and not settled:
        text = f"{name!r} stands at {level_v:.3g} V: too high for 12 V and too low for 24 V."
        return Doubt("system voltage", text, do)
    return None


def _high_voltage(name: str, level_v: float) -> Doubt:
    """A factor that is ten times off, or a wire that nobody may touch: the second is said first."""
    factor, setting = next(one for one in sanity.FACTORS if one[0] < 1.0)
    off = ""
    if any(low <= factor * level_v <= high for low, high in SUPPLIES):
        off = f" Or is it {setting}? A supply of {factor * level_v:.3g} V would show so."
    text = (
        f"{name!r} stands at {level_v:.3g} V. If the factor is set right that is high voltage (above 60 V DC, UN Regulation No. "
        f"100) and can kill.{off}"
    )
    do = (
        "Stop and keep clear: only people trained and equipped for high voltage go on, after the maker's procedure. Check the "
        "probe's factor on a 12 V battery."
    )
    return Doubt("high voltage", text, do)


def _no_supply(name: str, level_v: float, outline: Outline) -> Doubt:
    """Why a level that no supply holds may stand there."""
    if abs(level_v) > HIGH_VOLTAGE_V:
        return _high_voltage(name, level_v)
    if level_v > MOST_V:
        text = f"{name!r} stands at {level_v:.3g} V: no 12 V or 24 V system holds that; 48 V systems are not judged."
        return Doubt(
            "another voltage", text, "Check the probe's factor; at a 48 V system follow its maker's procedure."
        )
    if level_v < 0 and -MOST_V <= level_v <= -LEAST_V:
        return Doubt(
            "upside down",
            f"{name!r} stands at {level_v:.3g} V, below 0 V: probe and ground lead seem to be swapped.",
            "Connect the ground lead to battery negative, set the input not to invert, and repeat the capture.",
        )
    for factor, setting in sanity.FACTORS:
        if any(low <= level_v * factor <= high for low, high in SUPPLIES):
            return sanity.factor_off(name, f"stands at {level_v:.3g} V", factor, "a supply", setting)
    known = outline.mean[np.isfinite(outline.mean)]
    if abs(level_v) < 0.5 and float(np.ptp(known)) > MOVES_V:
        return Doubt(
            "AC coupling",
            f"{name!r} lies around 0 V ({level_v:.2g} V) and moves: the input seems to be AC coupled, or nothing is "
            "connected.",
            "Set the input to DC coupling and repeat the capture.",
        )
    return Doubt(
        "no supply",
        f"{name!r} stands at {level_v:.3g} V: the supply does not arrive here, or the probe does not touch.",
        "Touch battery positive with the same probe to see that it works, then measure this point again.",
    )
