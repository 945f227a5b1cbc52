"""The physical layer of one SENT channel as a table: levels, edges, tick, pulses, check, each against its limit."""

from collections.abc import Iterator

import numpy as np

from loomlight.signal.examination import Conditions
from loomlight.signal.measure import Measure, at_least, at_most
from loomlight.signal.quantity import in_words
from loomlight.signal.sent_decode import SentTraffic, SlowMessage
from loomlight.signal.sent_findings import jump_doubt
from loomlight.signal.sent_limits import (
    DRIFT,
    FALL,
    HIGH_V,
    LEVEL_SOURCE,
    LONGEST_TICK_S,
    LOW_V,
    MEMORY,
    RISE,
    SHORTEST_TICK_S,
    TICK,
    TICK_SLACK,
    TICK_SOURCE,
)
from loomlight.signal.sent_reading import SentReading, sync_jumps
from loomlight.signal.sent_words import FORM_WORDS


def physical_layer(line: SentReading, conditions: Conditions) -> tuple[Measure, ...]:
    """Everything that one channel shows of the physical layer; empty where nothing is sent."""
    if line.states is None or line.traffic is None:
        return ()
    return (*_levels(line), *_edges(line, conditions), *_ticks(line, conditions), *_frames(line))


def _levels(line: SentReading) -> list[Measure]:
    return [
        at_most("levels", "low", line.low_v, "V", LOW_V, f"{LOW_V:g} V", LEVEL_SOURCE, note="middle of all low parts"),
        at_least(
            "levels",
            "high",
            line.high_v,
            "V",
            HIGH_V,
            f"{HIGH_V:g} V",
            LEVEL_SOURCE,
            note="upper quarter of all high parts",
        ),
    ]


def _edges(line: SentReading, conditions: Conditions) -> list[Measure]:
    found = []
    for rising, setting, name in ((False, FALL, "fall, 3.8 V to 1.1 V"), (True, RISE, "rise, 1.1 V to 3.8 V")):
        took_s, count = line.edge_s(rising=rising)
        most_s = conditions.needed(setting)
        if not count:
            found.append(Measure("edges", name, None, "s", note="no whole edge"))
            continue
        coarse = took_s < 2.0 * line.step_s
        note = "no longer than two samples: it may be faster" if coarse else f"{count} edges"
        found.append(at_most("edges", name, took_s, "s", most_s, in_words(most_s, "s"), MEMORY, note=note))
    return found


def _ticks(line: SentReading, conditions: Conditions) -> list[Measure]:
    tick_s, group = line.tick_s, "clock"
    if tick_s is None:
        return [Measure(group, "tick", None, "s", note="no sync pulse of 56 ticks with nibbles behind it was found")]
    nominal_s = conditions.figure(TICK)
    low_s, high_s = (nominal_s, nominal_s) if nominal_s is not None else (SHORTEST_TICK_S, LONGEST_TICK_S)
    kept = (1.0 - TICK_SLACK) * low_s <= tick_s <= (1.0 + TICK_SLACK) * high_s
    shown = in_words(nominal_s, "s") if nominal_s is not None else "3 to 90 µs"
    note = f"{tick_s / line.step_s:.1f} samples a tick"
    found = [Measure(group, "tick", tick_s, "s", f"{shown} ± {TICK_SLACK * 100:g} %", TICK_SOURCE, kept, note)]
    jumps = sync_jumps(line)
    if jumps.size:
        most = conditions.needed(DRIFT)
        worst = float(jumps.max())
        beyond = worst > most + jump_doubt(line)
        note = f"of {jumps.size} pairs; {jump_doubt(line) * 100:.1f} % of it may be the sampling"
        limit = f"at most {most * 100:.2g} %"
        found.append(Measure(group, "largest step between two sync pulses", worst, "", limit, MEMORY, not beyond, note))
    return found


def _frames(line: SentReading) -> list[Measure]:
    traffic = line.traffic
    assert traffic is not None
    if traffic.tick_s is None or not traffic.frames:
        return []
    group, pause = "frames", "with a pause after each" if traffic.has_pause else "without a pause"
    counts = ", ".join(f"{FORM_WORDS[form]}: {count}" for form, count in traffic.forms)
    fits = f"{FORM_WORDS[traffic.form]}; frames that each form fits" if traffic.form else "no form fits"
    whole = sum(one.state in ("good", "checksum error", "nibble unclear") for one in traffic.frames)
    share = sum(one.state == "good" for one in traffic.frames) / whole if whole else None
    return [
        Measure(group, "data nibbles", float(traffic.data_nibbles), "", note="beside status and check"),
        Measure(group, "frames a second", _rate(line), "Hz", note=pause),
        at_least(group, "frames whose check fits", share, "", 1.0, "all", MEMORY, note=f"{fits}: {counts}"),
        *_lengths(line, traffic, traffic.tick_s),
        *(_slow_message(one) for one in traffic.slow),
    ]


def _lengths(line: SentReading, traffic: SentTraffic, tick_s: float) -> Iterator[Measure]:
    """Low parts of the pulses, and pauses."""
    assert line.states is not None
    lows = line.states.length_s[~line.states.high & line.states.is_whole] / tick_s
    if lows.size:
        # An edge that is slower one way than the other moves the middle by a part of a tick.
        low, note = float(np.median(lows)), f"middle of {lows.size}"
        yield Measure("frames", "low part of a pulse, ticks", low, "", "at least 5", TICK_SOURCE, low >= 4.5, note)
    pauses = np.array([one.pause_s / one.tick_s for one in traffic.frames if one.pause_s is not None])
    if pauses.size:
        least, most = float(pauses.min()), float(pauses.max())
        kept, note = least >= 11.5 and most <= 768.5, f"{least:.0f} to {most:.0f}"
        yield Measure("frames", "longest pause, ticks", most, "", "12 to 768", TICK_SOURCE, kept, note)


def _slow_message(message: SlowMessage) -> Measure:
    right = "" if message.is_right else ", its check does not fit"
    note = f"{message.form} form{right}{', from memory' if message.form == 'enhanced' else ''}"
    name, value = f"identifier {message.identifier:X}", float(message.value)
    return Measure("slow channel", name, value, "", kept=message.is_right, note=note)


def _rate(line: SentReading) -> float | None:
    starts = np.array([one.start_s for one in line.frames])
    return 1.0 / float(np.median(np.diff(starts))) if starts.size > 1 else None
