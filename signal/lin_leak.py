"""A resting LIN line that is too low, or at the supply itself, while it still talks: a leak to ground or to battery."""

from loomlight.signal.lin_case import Case
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import COMMANDER_SIDE, leak_beside
from loomlight.signal.verdict import Verdict

TIED_V = 0.15
"""Closer to the supply than any diode leaves it (LIN 2.2, parameter 21: at least 0.4 V, less a meter's doubt)."""


def judge_leak(case: Case, top_v: float) -> Verdict | None:
    """A resting level that is low while the dominant one and the rise are right: a leak to ground (see `lin_pull_up`)."""
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
        picture="leak to ground",
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
            picture="leak to battery",
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
