"""What a charged battery would show with a rectifier or winding at fault: the known-good's ripple put in another shape."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.charging_examination import ChargingExamination, ChargingReading
from loomlight.signal.charging_findings import sound_likeness
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Examination
from loomlight.signal.quantity import in_words
from loomlight.signal.rectifier_cycles import (
    HUMPS,
    POINTS,
    CycleModel,
    RectifierFault,
    charging_current,
    cycle_models,
    smoothed,
)
from loomlight.signal.ripple_cycle import line_turns, mean_cycle
from loomlight.signal.supposal import Supposal, SupposedFault, Supposer, nobody
from loomlight.signal.supposed_stretch import stretch_of, supposed_channel

Row = npt.NDArray[np.float64]

RECTIFIER: tuple[RectifierFault, ...] = ("open diode", "shorted diode", "lost phase")
SLIP = "belt slip"
FAULTS = (*(Supposal(one) for one in RECTIFIER), Supposal(SLIP, "%", 30.0))
FEWEST_LINES = 8.0
"""Humps of the ripple that have to be in sight before it can be taken away."""
SLIP_S = 0.06
"""How long a supposed slip takes down, and up again."""


def supposed(good: Examination, fault: SupposedFault, start_s: float, stop_s: float) -> Channel:
    """The known-good's battery as the fault would leave it.

    Parameters
    ----------
    good : ChargingExamination
        A known-good whose ripple is a sound rectifier's.
    fault : SupposedFault
        One of `FAULTS`.
    start_s, stop_s : float
        Stretch on the known-good's axis, seconds.

    Raises
    ------
    CannotUse
        If the known-good shows no sound ripple, or the stretch holds too little or too much of it.

    Notes
    -----
    The ripple's own cycle is taken away and the fault's put in its place, at the same electrical angle and the same
    windings, battery and leads: as much higher as the circuit makes it. The mean is left where it is: the regulator makes
    up for what is lost as far as it can. Its height is right within some four tenths, as far as one hump tells the load; which
    diode, and with it the angle, is arbitrary.
    """
    assert isinstance(good, ChargingExamination)
    charge = good.charge
    if charge is None or charge.cycle is None or not ready(good):
        raise CannotUse(f"{good.channel.name!r} shows no sound rectifier's ripple, so nothing can be supposed from it.")
    stretch = stretch_of(good.channel, start_s, stop_s)
    volts, step_s = stretch.values, stretch.step_s
    if volts.size * step_s * charge.cycle.hz < FEWEST_LINES:
        raise CannotUse(
            f"Zoom out to {in_words(FEWEST_LINES / charge.cycle.hz, 's')} or more: the ripple is not in sight."
        )
    turns = line_turns(volts, step_s, charge.cycle.hz)
    known = np.isfinite(volts)
    hump = mean_cycle(np.where(known, volts, 0.0) - float(volts[known].mean()), turns, known)
    hump = hump - hump.mean()
    rest = volts - _at(hump, turns)
    shown = rest + (
        _slipping(hump, turns, step_s, fault) if fault.kind == SLIP else _faulty(hump, turns, fault, charge)
    )
    return supposed_channel(stretch, fault, shown)


def _at(cycle: Row, turns: Row) -> Row:
    found: Row = np.interp(np.mod(turns, 1.0) * cycle.size, np.arange(cycle.size) + 0.5, cycle, period=cycle.size)
    return found


def _faulty(hump: Row, turns: Row, fault: SupposedFault, charge: ChargingReading) -> Row:
    """The fault's cycle over six humps, as high as battery and leads make it."""
    kind = next(one for one in RECTIFIER if one == fault.kind)
    model = _nearest(hump)
    sound = smoothed(charging_current("", model.drive, points=HUMPS * POINTS), model.smoothing)
    bent = smoothed(charging_current(kind, model.drive, points=HUMPS * POINTS), model.smoothing)
    ohms = float(np.ptp(hump)) / max(float(np.ptp(sound)), 1e-12)
    return _at(ohms * (bent - bent.mean()), turns / HUMPS)


def _nearest(hump: Row) -> CycleModel:
    """The sound rectifier whose hump is most like this one."""
    spectrum = np.fft.rfft(hump)

    def likeness(model: CycleModel) -> float:
        return float(np.fft.irfft(spectrum * np.conj(np.fft.rfft(model.shape)), hump.size).max())

    return max((one for one in cycle_models() if not one.fault), key=likeness)


def _slipping(hump: Row, turns: Row, step_s: float, fault: SupposedFault) -> Row:
    """The same humps, whose alternator loses speed in the middle of the stretch and catches up."""
    share = min((fault.size or 0.0) / 100.0, 0.95)
    since = np.abs(np.arange(turns.size) * step_s - 0.5 * turns.size * step_s)
    speed = 1.0 - share * np.clip(1.0 - since / SLIP_S, 0.0, 1.0)
    slowed = turns[0] + np.concatenate([[0.0], np.cumsum(np.diff(turns) * speed[1:])])
    return _at(hump, slowed)


def ready(good: Examination) -> bool:
    """Whether the ripple is a sound rectifier's."""
    if not isinstance(good, ChargingExamination) or good.charge is None or good.charge.cycle is None:
        return False
    sound = sound_likeness(good.charge)
    return sound is not None and (
        good.charge.cycle.is_sixth or sound >= max(one.likeness for one in good.charge.cycle.matches)
    )


SUPPOSER = Supposer(FAULTS, nobody, ready, supposed)
