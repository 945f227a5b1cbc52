"""Series resistance of a wire, from how far a pull-up lifts the dominant level behind it.

Where a driver holds one end of a wire at ``source_v`` and a pull-up R_p to ``top_v`` hangs on the other end, the current
through both is the same, so (lifted_v - source_v) / R_x = (top_v - lifted_v) / R_p (Ohm's law). The pull-up's diode drops
more while it carries that current than at rest, so the pull-up then pulls to a little less than the resting level.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Ohms:
    """A resistance with its interval; ``high`` is infinite where there is no bound."""

    best: float
    low: float
    high: float


COMMANDER_SIDE = Ohms(1.0 / (1 / 1000 + 2 / 30e3), 1.0 / (1 / 900 + 5 / 20e3), 1100.0)
"""Pull-up on the commander's side: 900 to 1100 Ω, beside it none to five responders of 20 to 60 kΩ (LIN 2.x; ISO 17987-4)."""
RESPONDER_SIDE = Ohms(30e3, 20e3 / 3, 60e3)
"""Pull-up on the side away from the commander: one to three responders of 20 to 60 kΩ (LIN 2.2, parameter 26)."""


@dataclass(frozen=True)
class Knee:
    """How much less a pull-up pulls to under load than at rest, volts."""

    best_v: float
    low_v: float
    high_v: float


NO_KNEE = Knee(0.0, 0.0, 0.0)
KNEE = Knee(0.16, 0.0, 0.30)
"""How much more a pull-up's diode drops at 0.1 to 10 mA than at the microampere of a resting line, volts: some 60 mV for each
tenfold current (Shockley's diode law), up to twice that in a real part; nothing where a transistor stands for the diode."""


def behind_pull_up(
    lifted_v: float, *, source_v: float, top_v: float, pull: Ohms, doubt_v: float, knee: Knee = KNEE
) -> Ohms:
    """Series resistance between a driver's level and a lifted one.

    Parameters
    ----------
    lifted_v, source_v, top_v : float
        Level behind the resistance, at the driver, and where the pull-up pulls to at rest, volts.
    pull : Ohms
        The pull-up behind the resistance, with what is assumed of it.
    doubt_v : float
        How far the difference of the two levels may be off, volts.
    knee : Knee
        What the pull-up's diode takes off ``top_v`` under load.
    """
    lift, rest = lifted_v - source_v, top_v - lifted_v
    best = pull.best * max(lift, 0.0) / (rest - knee.best_v) if rest > knee.best_v else math.inf
    low = pull.low * max(lift - doubt_v, 0.0) / max(rest - knee.low_v + doubt_v, 1e-9)
    least = rest - knee.high_v - doubt_v
    high = pull.high * max(lift + doubt_v, 0.0) / least if least > 0 else math.inf
    return Ohms(best, low, high)


def leak_beside(recessive_v: float, *, top_v: float, pull: Ohms, doubt_v: float) -> Ohms:
    """Resistance of a leak to ground that pulls the recessive level down from ``top_v``."""
    fallen = top_v - recessive_v
    best = pull.best * recessive_v / fallen if fallen > 0 else math.inf
    low = pull.low * max(recessive_v - doubt_v, 0.0) / (fallen + doubt_v)
    high = pull.high * (recessive_v + doubt_v) / (fallen - doubt_v) if fallen > doubt_v else math.inf
    return Ohms(best, low, high)


def agreed(estimates: list[Ohms]) -> Ohms | None:
    """What all estimates allow: their common interval; the narrowest one where they have nothing in common.

    Returns
    -------
    Ohms or None
        None without estimates.
    """
    if not estimates:
        return None
    low, high = max(one.low for one in estimates), min(one.high for one in estimates)
    narrowest = min(estimates, key=lambda one: (one.high + 1.0) / (one.low + 1.0))
    if low > high:
        return narrowest
    return Ohms(min(max(narrowest.best, low), high), low, high)
