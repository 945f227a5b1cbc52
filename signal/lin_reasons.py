"""Reasons for a fault in a LIN wire, in the trade's words with the numbers behind them."""

from loomlight.signal.lin_case import Case
from loomlight.signal.lin_dropout_statistics import places_of_dropouts, statistics_reasons
from loomlight.signal.lin_ground import EITHER_PICTURE, HOW, own_ground, wire_or_ground
from loomlight.signal.lin_parts import COMMANDER
from loomlight.signal.lin_resistance import Lift, SeriesResistance
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import Ohms
from loomlight.signal.spans import total


def dropout_reasons(case: Case) -> list[str]:
    """How often and how long the line lets go, on which side, who was driving, and whether that is chance."""
    statistics = case.statistics
    if statistics is None:
        return []
    spans, groups = statistics.spans, statistics.episodes
    longest = float((spans[:, 1] - spans[:, 0]).max())
    beside = ""
    if case.comparable:
        beside = " where the other channel stays dominant" if case.together else " where the known-good is dominant"
    reasons = [
        f"{counted(len(spans), 'dropout')} in {counted(len(groups), 'episode')}{beside}: the line lets go for "
        f"{in_words(total(spans), 's')} in all ({100 * total(spans) / statistics.seen_s:.2g} % of the time that it is driven), "
        f"{in_words(longest, 's')} at the longest."
    ]
    talkers = _talker_of_dropouts(case)
    if talkers:
        reasons.append(talkers)
    if len(case.good_dropouts):
        reasons.append(
            f"{counted(len(case.good_dropouts), 'dropout')} of these on the known-good's channel, while a node at the "
            "suspect's end drives: the wire between the two probes lets go."
        )
    return [*reasons, *statistics_reasons(statistics)]


def counted(count: int, what: str) -> str:
    """A count with its noun: "1 dropout", "3 dropouts"."""
    return f"{count} {what}{'' if count == 1 else 's'}"


def _talker_of_dropouts(case: Case) -> str:
    held = sum(place is not None and place.talker == COMMANDER for place in places_of_dropouts(case))
    if not held:
        return ""
    return f"{held} of them stand in headers, which the commander drives: the fault lies between it and this probe."


def series_reasons(case: Case, series: SeriesResistance | None) -> list[str]:
    """Which level is lifted on which side, and what resistance that makes; with what was assumed."""
    if series is None:
        return []
    reasons = []
    for lift, ohms in _telling(series):
        driver = "the commander" if lift.talker == COMMANDER else f"the node that gives {lift.talker}"
        shown = f"{in_words(ohms.low, 'Ω')} to {in_words(ohms.high, 'Ω')}"
        if case.together and lift.is_lowered:
            reasons.append(
                f"While {driver} drives, the known-good channel stands at {lift.good_v:.2f} V and the suspect at "
                f"{lift.suspect_v:.2f} V: the resistance is between the two probes, {shown} by this level."
            )
        elif case.together:
            reasons.append(
                f"While {driver} drives, the suspect stands at {lift.suspect_v:.2f} V and the known-good at "
                f"{lift.good_v:.2f} V: the resistance is between the two probes, {shown} by this level."
            )
        else:
            against = (
                "the known-good has" if case.good_line is not None and case.good_line.parts else "a driver would leave"
            )
            reasons.append(
                f"While {driver} drives, the suspect stands at {lift.suspect_v:.2f} V where {against} about "
                f"{lift.good_v:.2f} V: the resistance is between that node and this probe, {shown} by this level."
            )
    picture = wire_or_ground(case, series)
    if picture == EITHER_PICTURE:
        reasons.append(f"A bad ground of that node would look the same. {HOW}")
    elif not case.together and COMMANDER not in {lift.talker for lift, _ in series.evidence}:
        ground = own_ground(case, series.evidence[0][0].talker)
        if ground is not None:
            reasons.append(
                f"That node's own ground stands at {ground.driving_v:.2f} V while it drives: it is sound, so the joint is in the "
                "bus wire."
            )
    reasons.append(
        "Assumed: commander pull-up 900 to 1100 Ω beside at most five responders, and 20 to 60 kΩ of one to three "
        "responders on the far side."
    )
    return reasons


def _telling(series: SeriesResistance) -> list[tuple[Lift, Ohms]]:
    """The sharpest evidence of each direction, the sharper one first: more of the same adds nothing."""
    sharpest: dict[bool, tuple[Lift, Ohms]] = {}
    for one in sorted(series.evidence, key=lambda pair: (pair[1].high + 1.0) / (pair[1].low + 1.0)):
        sharpest.setdefault(one[0].is_lifted, one)
    return list(sharpest.values())


def where_to_look(case: Case, series: SeriesResistance | None) -> str:
    """What to do next, by the side on which the fault lies."""
    if series is not None and series.suspect_is == "on the commander's side":
        return (
            "Follow the wire from this probe towards the node whose level is lifted: open its connectors, look for "
            "corrosion and a loose pin, mend, and repeat the capture."
        )
    between = "between the two probe points" if case.together else "between the commander and this probe"
    return (
        f"Follow the wire {between}: move the loom and each connector while watching, open the one that changes it, "
        "look for corrosion and a loose pin, mend, and repeat the capture."
    )
