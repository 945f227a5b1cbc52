"""Ground shift and supply shift between the nodes of a LIN bus, as far as its levels bound them."""

from loomlight.signal.lin_case import Case
from loomlight.signal.lin_examination import SUPPLY_DIODE_V, LineReading
from loomlight.signal.lin_parts import COMMANDER
from loomlight.signal.lin_resistance import NEEDLE_V
from loomlight.signal.measure import Measure
from loomlight.signal.setting import Setting

GROUP = "shifts"
SHIFT = Setting(
    "shift",
    "greatest ground or supply shift between two nodes",
    "× battery",
    0.115,
    "LIN 2.1 and 2.2, parameters 22 and 23 (from memory); LIN 1.3 and 2.0 had 0.10",
    0.0,
    0.5,
    "Share of the battery voltage by which two nodes' grounds or supplies may differ.",
)
DRIVERS_APART_V = 0.6
"""How far two drivers' own dominant levels may lie apart (data sheets to LIN 2.x: 0.6 to 1.2 V)."""
DIODES_APART_V = 1.2
"""How far two nodes' diodes may: two in each way, 0.4 to 1.0 V each (LIN 2.2, parameter 21)."""


def shift_measures(case: Case) -> tuple[Measure, ...]:
    """Between the two channels of one recording, and between the talkers of the suspect's."""
    supply = case.line.supply
    share = case.conditions.figure(SHIFT)
    if supply is None or share is None or (case.line.is_flat and not case.together):
        return ()
    most_v = share * (supply.volts + SUPPLY_DIODE_V)
    found = _between_channels(case, most_v) if case.together else []
    return (*found, *_between_talkers(case.line, most_v))


def _row(name: str, value_v: float, half_v: float, most_v: float, note: str) -> Measure:
    low_v, high_v = value_v - half_v, value_v + half_v
    surely = max(abs(low_v), abs(high_v)) <= most_v
    surely_not = min(abs(low_v), abs(high_v)) > most_v and low_v * high_v > 0
    return Measure(
        GROUP,
        name,
        value_v,
        "V",
        f"at most {most_v:.2f} V either way",
        SHIFT.source,
        True if surely else False if surely_not else None,
        note,
        low_v,
        high_v,
    )


def _between_channels(case: Case, most_v: float) -> list[Measure]:
    own, good = case.line, case.good_line
    if good is None or own.levels is None or good.levels is None or good.is_flat:
        return []
    step_v = max(own.converter_v, good.converter_v)
    apart_v = own.levels.high - good.levels.high
    if own.is_flat:
        # Cut off from the bus it rests at its own node's pull-up: below that node's own supply, against the common ground.
        if apart_v < -0.5 * good.levels.high:
            return []
        note = (
            "the suspect rests at its own node's pull-up, the known-good at the bus's; two diodes in each way are in it"
        )
        return [_row("supply shift between the two channels", apart_v, DIODES_APART_V + step_v, most_v, note)]
    note = (
        "both at rest, where no current makes a drop in the wire; against one common ground it is the instrument's own offset, "
        "with each ground lead on its node's ground that shift"
    )
    joined = (
        "one wire joins both channels, so the higher supply sets the level of both: measure the supply at both nodes' pins, on "
        "both channels"
    )
    limit = f"at most {most_v:.2f} V either way"
    return [
        _row("ground shift between the two channels", apart_v, NEEDLE_V + step_v, most_v, note),
        Measure(GROUP, "supply shift between the two channels", None, "V", limit, SHIFT.source, None, joined),
    ]


def _between_talkers(line: LineReading, most_v: float) -> list[Measure]:
    commander_v = line.level_of(COMMANDER)
    if commander_v is None:
        return []
    found = []
    for talker in line.talkers:
        volts = line.level_of(talker)
        if talker != COMMANDER and volts is not None:
            note = "two drivers may lie 0.6 V apart by themselves; a resistance in the wire or in its ground lifts it as well"
            name = f"ground shift, {talker} against commander"
            found.append(_row(name, volts - commander_v, DRIVERS_APART_V, most_v, note))
    return found
