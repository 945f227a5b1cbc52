"""A resting LIN line that is too low while it still talks: a leak to ground, or the commander's pull-up lost."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.lin_case import Case
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import COMMANDER_SIDE, leak_beside
from loomlight.signal.verdict import Verdict

SLOWER_S = 10e-6
"""Rise and fall of a healthy bus differ by some 5 µs at most (driver data sheets to LIN 2.x); twice that is no driver's."""
TIED_V = 0.15
"""Closer to the supply than any diode leaves it (LIN 2.2, parameter 21: at least 0.4 V, less a meter's doubt)."""
FEWEST_EDGES, MOST_EDGES = 5, 200


def judge_leak(case: Case, top_v: float) -> Verdict | None:
    """A resting level that is low while the dominant one is right: a leak to ground, or the commander's pull-up lost."""
    good_v = case.good_line.recessive_v if case.good_line is not None and not case.good_line.is_flat else None
    supply = case.line.supply
    assert supply is not None
    expected_v = None
    if supply.source == "given":
        expected_v = supply.volts - 0.7
    elif good_v is not None and case.together:
        expected_v = good_v
    if case.conditions.supply_v is not None and top_v > case.conditions.supply_v - TIED_V:
        lifted = any(one.kind == "weak dominant" for one in case.suspect.findings)
        return _tied_to_battery(top_v, case.conditions.supply_v, lifted=lifted)
    weak = [one for one in case.findings if one.kind == "weak recessive" and one.channel == case.suspect.channel.name]
    if expected_v is None or not weak or expected_v - top_v < 0.8:
        return None
    ohms = leak_beside(top_v, top_v=expected_v, pull=COMMANDER_SIDE, doubt_v=0.4)
    if _slow_rise(case):
        return Verdict(
            "faulty",
            "open",
            (
                f"The line rests at {top_v:.2f} V instead of about {expected_v:.2f} V, and it rises slowly: the commander's "
                "1 kΩ pull-up seems not to reach this wire.",
            ),
            next_step="Check the commander's supply and its pull-up, and the wire from the commander to the first splice.",
        )
    return Verdict(
        "faulty",
        "short",
        (
            f"The line rests at {top_v:.2f} V instead of about {expected_v:.2f} V while its dominant level and its edges are "
            f"right: a leak to ground of {in_words(ohms.low, 'Ω')} to {in_words(ohms.high, 'Ω')}.",
            "Assumed: the commander's pull-up is whole (900 to 1100 Ω).",
        ),
        next_step="Unplug the nodes one by one; where the level comes back, look at that branch for water or a chafed wire.",
        short_to="ground",
    )


def _tied_to_battery(top_v: float, supply_v: float, *, lifted: bool) -> Verdict:
    if lifted:
        return Verdict(
            "faulty",
            "short",
            (
                f"The line rests at {top_v:.2f} V, the supply itself ({supply_v:.2f} V), and no driver brings it down as "
                "far as it has to: a path to battery pulls against them.",
            ),
            next_step="Unplug the nodes one by one; if it stays, look along the loom for a chafe against a supply wire.",
            short_to="battery",
        )
    return Verdict(
        "cannot tell",
        "unknown",
        (
            f"The line rests at {top_v:.2f} V, no lower than the supply itself ({supply_v:.2f} V), and still talks; a healthy "
            "line rests about two diode drops below. Either a leak to battery pulls it up, or that supply is not the nodes'.",
        ),
        next_step="Measure the supply at the node's own pin and give that; if the line still rests at it, unplug node by node.",
    )


def _slow_rise(case: Case) -> bool:
    """Whether the line takes clearly longer up, where the pull-ups bring it, than down, where a driver does."""
    traffic = case.line.seen
    if traffic is None or traffic.bit_s is None or len(traffic.dominant) < FEWEST_EDGES:
        return False
    falls = _edge_times(case, traffic.dominant[:MOST_EDGES, 0], traffic.bit_s, rising=False)
    rises = _edge_times(case, traffic.dominant[:MOST_EDGES, 1], traffic.bit_s, rising=True)
    return bool(falls and rises) and float(np.median(rises) - np.median(falls)) > SLOWER_S


def _edge_times(case: Case, places_s: npt.NDArray[np.float64], bit_s: float, *, rising: bool) -> list[float]:
    """Time from a quarter to three quarters of the way, for each edge that gets that far."""
    levels, channel = case.line.levels, case.suspect.channel
    assert levels is not None
    assert channel.step_s is not None
    longest, found = round(2 * bit_s / channel.step_s), []
    near, far = (levels.low + share * levels.amplitude for share in ((0.25, 0.75) if rising else (0.75, 0.25)))
    for place_s in places_s:
        first = channel.index_at(float(place_s - 0.5 * bit_s))
        values = channel.samples.block(first, min(first + longest, channel.samples.size))
        passed = [values > level if rising else values < level for level in (near, far)]
        if passed[0].any() and passed[1].any():
            found.append(float(np.argmax(passed[1]) - np.argmax(passed[0])) * channel.step_s)
    return found
