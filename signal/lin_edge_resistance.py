"""Series resistance from how slowly an end of the wire falls behind it, where that is slower than any driver."""

import math

import numpy as np

from loomlight.signal.lin_case import Case
from loomlight.signal.lin_rise import ALL, FAR_F, SPAN, EdgeConstants, TimeConstant, edge_constants, through_capacitance
from loomlight.signal.measure import Measure
from loomlight.signal.series_resistance import RESPONDER_SIDE, Ohms

NAME = "series resistance by the fall's time constant"


def fall_behind(case: Case) -> TimeConstant | None:
    """The suspect's fall beside the slope that the known-good's end shows at the same moments; None where that is not known."""
    if not case.together or case.good is None or case.line.is_flat or case.good.line.is_flat:
        return None
    there = edge_constants(case.good.channel, case.good.line).of(ALL, rising=False)
    if there is None:
        return None
    found: EdgeConstants = edge_constants(case.suspect.channel, case.suspect.line, slope_s=_whole_slope_s(there))
    return found.of(ALL, rising=False)


def _whole_slope_s(fall: TimeConstant) -> float:
    """A straight ramp's way from rail to rail, from what it looks like as a time constant."""
    return fall.tau_s * float(np.log((1.0 - SPAN[0]) / (1.0 - SPAN[1]))) / (SPAN[1] - SPAN[0])


def ohms_behind(fall: TimeConstant) -> Ohms:
    """Resistance between the driver and an end that falls so; its own pull-ups stand beside the resistance."""
    both = through_capacitance(fall, FAR_F)
    high = 1.0 / (1.0 / both.high - 1.0 / RESPONDER_SIDE.high) if both.high < RESPONDER_SIDE.high else math.inf
    return Ohms(both.best, both.low if fall.is_resolved else 0.0, high)


def edge_resistance_measures(case: Case) -> tuple[Measure, ...]:
    """One line; a bound where the fall is a driver's."""
    fall = fall_behind(case)
    if fall is None:
        return ()
    ohms = ohms_behind(fall)
    assumed = f"assumed {FAR_F[0] * 1e9:g} to {FAR_F[1] * 1e9:g} nF at the suspect's end"
    note = f"time constant {fall.tau_s * 1e6:.3g} µs over {fall.edges} edges; {assumed}"
    if not fall.is_resolved:
        note = f"the suspect's end falls no slower than a driver: only a bound; {assumed}"
    high = ohms.high if math.isfinite(ohms.high) else None
    return (Measure("edges", NAME, ohms.best if fall.is_resolved else None, "Ω", note=note, low=ohms.low, high=high),)
