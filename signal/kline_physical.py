"""The physical layer of one K-line channel as a table: levels, edges, bit rates, openings and pauses, each against its limit."""

import numpy as np

from loomlight.signal.examination import Conditions
from loomlight.signal.kline_findings import late_rise_s, low_limit_v, rise_s
from loomlight.signal.kline_limits import (
    CLOCK_SHARE,
    CLOCK_SOURCE,
    FAST,
    FAST_SLACK,
    FAST_WHOLE,
    MEMORY,
    RECEIVER_HIGH,
    RECEIVER_LOW,
    SENDER_HIGH,
    SHIFT_SHARE,
    SHIFT_SOURCE,
    TESTER_HIGH_SHARE,
    TESTER_SOURCE,
)
from loomlight.signal.kline_reading import KReading, nominal_rate, rates_by_talker
from loomlight.signal.kline_words import BYTE_BITS, TESTER
from loomlight.signal.line_faults import median
from loomlight.signal.measure import Measure, at_least, at_most

BYTE_PAUSE_S = {"tester": (5e-3, 20e-3), "unit": (0.0, 20e-3)}
ANSWER_S = (25e-3, 50e-3)
PAUSE_SOURCE = "ISO 14230-2, P1, P2 and P4, from memory; a request may agree on others"


def physical_layer(line: KReading, conditions: Conditions) -> tuple[Measure, ...]:
    """Everything that one channel shows of the physical layer; empty where it does not talk."""
    if line.seen is None or line.levels is None or line.supply_v is None or line.supply_v <= 0:
        return ()
    return (
        *_levels(line, conditions),
        *_edges(line),
        *_rates(line, conditions),
        *_openings(line, conditions),
        *_pauses(line),
    )


def _levels(line: KReading, conditions: Conditions) -> list[Measure]:
    assert line.levels is not None
    assert line.supply_v is not None
    supply_v, group = line.supply_v, "levels"
    where = "given" if line.supply_from == "given" else "taken from the resting line"
    found = [Measure(group, "supply", supply_v, "V", note=where)]
    for setting in (RECEIVER_LOW, RECEIVER_HIGH):
        volts = conditions.needed(setting) * supply_v
        found.append(Measure(group, setting.title, volts, "V", source=setting.source))
    for share, source, who in (
        (conditions.needed(SENDER_HIGH), MEMORY, "resting line"),
        (TESTER_HIGH_SHARE, TESTER_SOURCE, "resting line, at the tester"),
    ):
        least = share * supply_v
        note = "" if line.supply_from == "given" else "the supply itself was taken from it"
        found.append(at_least(group, who, line.levels.high, "V", least, f"{least:.2f} V", source, note=note))
    for talker in line.talkers:
        volts_of = line.lows_of(talker)
        most = low_limit_v(line, talker, conditions)
        note = f"{volts_of.size} messages, {np.ptp(volts_of) * 1e3:.0f} mV from lowest to highest"
        source = TESTER_SOURCE if talker == TESTER else MEMORY
        found.append(at_most(group, f"low, {talker}", median(volts_of), "V", most, f"{most:.2f} V", source, note=note))
    return found


def _edges(line: KReading) -> list[Measure]:
    seen = line.seen
    assert seen is not None
    group = "edges"
    falls = seen.edge_s[~seen.high & np.isfinite(seen.edge_s)]
    rise, count = rise_s(line)
    found = []
    for name, value, number in (("fall, 20 % to 80 %", median(falls), falls.size), ("rise, 20 % to 80 %", rise, count)):
        coarse = value < 2.0 * line.step_s
        note = "no longer than two samples: it may be faster" if coarse else f"{number} edges"
        found.append(Measure(group, name, value if number else None, "s", note=note if number else "no whole edge"))
    if line.bit_s is not None and count:
        most = SHIFT_SHARE * line.bit_s
        found.append(
            at_most(
                group, "rising edge late at 70 % by", late_rise_s(line), "s", most, f"{most * 1e6:.0f} µs", SHIFT_SOURCE
            )
        )
        assert line.traffic is not None
        found.append(
            Measure(
                group, "low bits longer than high ones by", line.traffic.skew_s, "s", note="at the middle of the way"
            )
        )
    return found


def _rates(line: KReading, conditions: Conditions) -> list[Measure]:
    if line.bit_s is None:
        return [Measure("bit rate", "bit rate", None, "bit/s", note="too little was sent to find it")]
    nominal = nominal_rate(line, conditions)
    found = [Measure("bit rate", "bit rate", 1.0 / line.bit_s, "bit/s", note=f"{_samples(line):.0f} samples a bit")]
    for talker, (rate, count) in rates_by_talker(line).items():
        note = f"{rate:.0f} bit/s, {count} message{'s' if count != 1 else ''}"
        if nominal is None:
            found.append(Measure("bit rate", f"off nominal, {talker}", None, "", note=f"{note}; no usual rate is near"))
            continue
        off = abs(rate / nominal - 1.0)
        shown = f"{CLOCK_SHARE * 100:g} % of {nominal:.0f} bit/s"
        found.append(
            at_most("bit rate", f"off nominal, {talker}", off, "", CLOCK_SHARE, shown, CLOCK_SOURCE, note=note)
        )
    return found


def _samples(line: KReading) -> float:
    return (line.bit_s or 0.0) / line.step_s


def _openings(line: KReading, conditions: Conditions) -> list[Measure]:
    assert line.traffic is not None
    found = []
    slack_s = conditions.needed(FAST_SLACK)
    for one in line.traffic.openings:
        if one.pattern == "5 baud":
            found.append(
                Measure(
                    "opening",
                    "address called at 5 baud",
                    one.address,
                    "",
                    note=f"bit of {one.low_s * 1e3:.1f} ms; 200 ms ± 0.5 %",
                )
            )
            found.append(
                at_most(
                    "opening",
                    "5 baud off by",
                    abs(one.low_s / 0.2 - 1.0),
                    "",
                    0.005 + 2 * line.step_s / 0.2,
                    "0.5 %",
                    CLOCK_SOURCE,
                )
            )
            continue
        for value, setting in ((one.low_s, FAST), (one.whole_s, FAST_WHOLE)):
            wanted_s = conditions.needed(setting)
            kept = abs(value - wanted_s) <= slack_s + 2.0 * line.step_s
            limit = f"{wanted_s * 1e3:g} ± {slack_s * 1e3:g} ms"
            found.append(Measure("opening", setting.title, value, "s", limit, setting.source, kept))
    return found


def _pauses(line: KReading) -> list[Measure]:
    """Pauses between bytes by talker, and from a request to its answer."""
    assert line.traffic is not None
    bit_s = line.traffic.bit_s
    if bit_s is None:
        return []
    found = []
    between: dict[str, list[float]] = {}
    answers = []
    for number, one in enumerate(line.messages):
        if one.state == "good" and len(one.fields) > 1 and not one.note:
            who = "tester" if one.talker == TESTER else "unit"
            starts = np.array([field.start_s for field in one.fields])
            between.setdefault(who, []).extend((np.diff(starts) - BYTE_BITS * bit_s).tolist())
        before = line.messages[number - 1] if number else None
        if before is not None and before.talker == TESTER and one.talker not in (TESTER, "") and not one.note:
            answers.append(one.start_s - before.stop_s)
    for who, pauses in between.items():
        low_s, high_s = BYTE_PAUSE_S[who]
        worst = max(pauses, key=lambda value: max(low_s - value, value - high_s))
        kept = low_s - 0.5 * bit_s <= worst <= high_s + 0.5 * bit_s
        limit = f"{low_s * 1e3:g} to {high_s * 1e3:g} ms"
        note = f"the worst of {len(pauses)}"
        found.append(Measure("pauses", f"between bytes, {who}", worst, "s", limit, PAUSE_SOURCE, kept, note))
    if answers:
        worst = max(answers, key=lambda value: max(ANSWER_S[0] - value, value - ANSWER_S[1]))
        kept = ANSWER_S[0] - bit_s <= worst <= ANSWER_S[1] + bit_s
        limit = f"{ANSWER_S[0] * 1e3:g} to {ANSWER_S[1] * 1e3:g} ms"
        note = f"the worst of {len(answers)}"
        found.append(Measure("pauses", "request to answer", worst, "s", limit, PAUSE_SOURCE, kept, note))
    return found
