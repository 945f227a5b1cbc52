"""What a supply rail would show with resistance in its wire, cut off for moments, at a start, or struck by a transient."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Examination
from loomlight.signal.quantity import in_words
from loomlight.signal.resample import values_at
from loomlight.signal.start_profile import LEVELS_12, StartProfile, levels_for
from loomlight.signal.supply_examination import SupplyExamination, SupplyReading
from loomlight.signal.supposal import Supposal, SupposedFault, Supposer, nobody
from loomlight.signal.supposed_stretch import Stretch, stretch_of, supposed_channel

Row = npt.NDArray[np.float64]

SERIES, CUT_OFF, DUMP, INDUCTIVE, STOPPED = (
    "series resistance",
    "cut off for moments",
    "clamped load dump",
    "pulse 1 (inductive load cut off)",
    "pulse 2a (current stopped)",
)
STARTS = {f"start, level {one.name}": one.name for one in LEVELS_12}
FAULTS = (
    Supposal(SERIES, "Ω", 0.1),
    Supposal(CUT_OFF, "s", 0.01),
    *(Supposal(one) for one in STARTS),
    Supposal(DUMP, "V", 21.0),
    Supposal(INDUCTIVE, "V", 75.0),
    Supposal(STOPPED, "V", 37.0),
)
"""Sizes of the pulses: ISO 7637-2:2004, level III, as a data sheet prints it; of the load dump: ISO 16750-2, test B, clamped
at 35 V."""
CUTS = (0.25, 0.5, 0.75)
"""Of the stretch: where it is cut off."""
AT = 0.25
"""Of the stretch: where a start or a transient begins."""
DUMP_OPEN_V, DUMP_S, DUMP_RISE_S = 65.0, 0.35, 7.5e-3
"""Open source above the supply, duration and rise (ISO 16750-2, test B; rise of 5 to 10 ms from memory)."""
PULSE_S = {INDUCTIVE: 2e-3, STOPPED: 50e-6}
"""ISO 7637-2:2004, duration of the pulses from 10 % to 10 %."""
TENTH = float(np.log(10.0))


def supposed(good: Examination, fault: SupposedFault, start_s: float, stop_s: float) -> Channel:
    """The known-good's rail as the fault would leave it.

    Parameters
    ----------
    good : SupplyExamination
        A known-good.
    fault : SupposedFault
        One of `FAULTS`.
    start_s, stop_s : float
        Stretch on the known-good's axis, seconds.

    Raises
    ------
    CannotUse
        If there is no current to make a drop from, or the stretch or its sampling does not show the fault.
    """
    assert isinstance(good, SupplyExamination)
    rail = good.rail
    if rail is None:
        raise CannotUse(f"{good.channel.name!r} is no supply, so nothing can be supposed from it.")
    stretch = stretch_of(good.channel, start_s, stop_s)
    if fault.kind in STARTS:
        return supposed_channel(stretch, fault, _start(stretch, rail, STARTS[fault.kind]))
    size = fault.size
    if size is None or not size > 0:
        raise CannotUse(f"A size must be above 0, got {size}.")
    ways: dict[str, Callable[[Stretch, SupplyReading, float], Row]] = {
        SERIES: _series,
        CUT_OFF: _cut_off,
        DUMP: _dump,
        INDUCTIVE: lambda one, _, volts: one.values - volts * _dying(one, INDUCTIVE),
        STOPPED: lambda one, _, volts: one.values + volts * _dying(one, STOPPED),
    }
    return supposed_channel(stretch, fault, ways[fault.kind](stretch, rail, size))


def _series(stretch: Stretch, rail: SupplyReading, ohm: float) -> Row:
    """Current times resistance, as far as the current was recorded; the load is taken to draw the same."""
    if rail.current is None:
        raise CannotUse("The current in this wire was not recorded with the known-good: put a clamp on it and name it.")
    amperes = np.abs(values_at(rail.current, stretch.times_s).astype(np.float64))
    lost: Row = ohm * np.where(np.isfinite(amperes), amperes, 0.0)
    return stretch.values - lost


def _cut_off(stretch: Stretch, rail: SupplyReading, long_s: float) -> Row:
    since = stretch.times_s - stretch.start_s
    whole_s = stretch.values.size * stretch.step_s
    if not 2.0 * stretch.step_s <= long_s <= 0.2 * whole_s:
        raise CannotUse(
            f"{in_words(long_s, 's')} cannot be shown in a stretch of {in_words(whole_s, 's')}: zoom, or choose another length."
        )
    gone = np.zeros(since.size, dtype=bool)
    for place in CUTS:
        gone |= (since >= place * whole_s) & (since < place * whole_s + long_s)
    return np.where(gone, 0.0, stretch.values)


def _start(stretch: Stretch, rail: SupplyReading, level: str) -> Row:
    """The lower of the rail and the profile, which begins where the rail would stand with the engine off."""
    profile = next((one for one in levels_for(rail.limits.system_v) if one.name == level), None)
    if profile is None:
        raise CannotUse(f"ISO 16750-2 has no level {level} for {rail.limits.system_v:.0f} V.")
    whole_s = stretch.values.size * stretch.step_s
    if (1.0 - AT) * whole_s < profile.fall_s + profile.lowest_s + profile.rise_s:
        raise CannotUse(
            f"Zoom out: the start's first dip alone takes {in_words(profile.lowest_s + profile.rise_s, 's')}."
        )
    own = stretch.values - rail.level_v
    return own + np.minimum(rail.level_v, _profile(profile, stretch.times_s - stretch.start_s - AT * whole_s))


def _profile(profile: StartProfile, since_s: Row) -> Row:
    ends = np.cumsum([0.0, profile.fall_s, profile.lowest_s, profile.rise_s, profile.plateau_s, profile.recovery_s])
    volts = [profile.top_v, profile.lowest_v, profile.lowest_v, profile.plateau_v, profile.plateau_v, profile.top_v]
    found: Row = np.interp(since_s, ends, volts, left=np.inf, right=np.inf)
    return found


def _dump(stretch: Stretch, rail: SupplyReading, clamp_v: float) -> Row:
    since = stretch.times_s - stretch.start_s - AT * stretch.values.size * stretch.step_s
    open_v = DUMP_OPEN_V * rail.limits.system_v / 12.0
    dying = open_v * np.exp(-np.clip(since, 0.0, None) * TENTH / DUMP_S) * np.clip(since / DUMP_RISE_S, 0.0, 1.0)
    return stretch.values + np.minimum(dying, clamp_v)


def _dying(stretch: Stretch, pulse: str) -> Row:
    """A pulse of height 1 that is down to a tenth after its time."""
    long_s = PULSE_S[pulse]
    if stretch.step_s > 0.2 * long_s:
        told = f"one sample is {in_words(stretch.step_s, 's')}"
        raise CannotUse(f"The pulse lasts {in_words(long_s, 's')} and {told}: this capture would not show it.")
    since = stretch.times_s - stretch.start_s - AT * stretch.values.size * stretch.step_s
    found: Row = np.where(since >= 0, np.exp(-np.clip(since, 0.0, None) * TENTH / long_s), 0.0)
    return found


def ready(good: Examination) -> bool:
    """Whether the known-good is a supply."""
    return isinstance(good, SupplyExamination) and good.rail is not None


SUPPOSER = Supposer(FAULTS, nobody, ready, supposed)
