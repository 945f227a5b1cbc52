"""What is marked on a toothed wheel's channel: lost signal, pulses missing or too many, a level that is too weak."""

from collections.abc import Iterator

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.finding import Finding
from loomlight.signal.quantity import in_words
from loomlight.signal.wheel_reading import Lost, WheelReading
from loomlight.signal.wheel_shape import OddTooth

MOST_FINDINGS = 200
SLOW_TEETH = 12
FEWEST_GAPS = 3


def wheel_findings(
    channel: Channel, reading: WheelReading, damaged: tuple[OddTooth, ...] = (), *, gapless: bool = False
) -> list[Finding]:
    """Findings of one channel, in order of time, with those teeth that differ turn after turn.

    ``gapless``: such a wheel never has a gap, so each one is a pulse that lacks.
    """
    found = [_lost(channel, one) for one in reading.lost if not one.stops]
    spans = [_widened(reading, one) for one in reading.lost] + _not_acquired(channel)
    found += _missing(channel, reading, spans, gapless=gapless)
    found += _extra(channel, reading, spans)
    found += [finding for odd in damaged for finding in _damaged(channel, reading, odd)]
    return sorted(found, key=lambda one: one.start_s)


def _not_acquired(channel: Channel) -> list[tuple[float, float]]:
    step_s = channel.step_s or 0.0
    share = 2 if channel.form == "pairs" else 1
    return [
        (channel.start_s + first / share * step_s, channel.start_s + last / share * step_s)
        for first, last in channel.gaps
    ]


def _widened(reading: WheelReading, lost: Lost) -> tuple[float, float]:
    """Where a wheel comes to rest or starts, its last or first teeth are no measure for each other."""
    if not lost.stops or reading.teeth is None:
        return lost.start_s, lost.stop_s
    times_s = reading.teeth.times_s
    first = max(int(np.searchsorted(times_s, lost.start_s)) - SLOW_TEETH, 0)
    last = min(int(np.searchsorted(times_s, lost.stop_s)) + SLOW_TEETH, times_s.size - 1)
    return float(min(times_s[first], lost.start_s)), float(max(times_s[last], lost.stop_s))


def _lost(channel: Channel, lost: Lost) -> Finding:
    where = "to the end of the capture" if lost.at_end else "from its begin" if lost.at_begin else ""
    long = in_words(lost.stop_s - lost.start_s, "s")
    rule = f"no edge for {long} {where}".strip() + f", the wire stands at {in_words(lost.level, channel.unit or '')}"
    return Finding(
        "lost signal", channel.name, lost.start_s, lost.stop_s, lost.stop_s - lost.start_s, "s", rule, "severe"
    )


def _missing(
    channel: Channel, reading: WheelReading, spans: list[tuple[float, float]], *, gapless: bool
) -> Iterator[Finding]:
    """Runs of positions that have a tooth by design and no edge in the capture."""
    turns, wheel = reading.turns, reading.wheel
    if turns is None or wheel is None:
        # Once or twice it may be the wheel's own gap, of which fewer than two turns were recorded.
        many = int((reading.teeth.steps > 1).sum()) if reading.teeth is not None else 0
        if gapless or wheel is not None or many >= FEWEST_GAPS:
            yield from _missing_without_turns(channel, reading, spans)
        return
    standing = np.ones(wheel.positions, bool)
    standing[list(wheel.absent)] = False
    flat, expected = turns.times_s.ravel(), turns.expected_s.ravel()
    wanted = np.tile(standing, len(turns.times_s)) & np.isfinite(expected)
    lacks = np.flatnonzero(wanted & ~np.isfinite(flat))
    runs = np.split(lacks, np.flatnonzero(np.diff(lacks) > 1) + 1) if lacks.size else []
    pitch = turns.pitch_s.ravel()
    for run in runs[: 4 * MOST_FINDINGS]:
        start_s = float(expected[run[0]] - 0.5 * pitch[run[0]])
        stop_s = float(expected[run[-1]] + 0.5 * pitch[run[-1]])
        if any(begin < 0.5 * (start_s + stop_s) < end for begin, end in spans):
            continue
        teeth = [int(one) % wheel.positions + 1 for one in run]
        which = f"tooth {teeth[0]}" if len(teeth) == 1 else f"teeth {teeth[0]} to {teeth[-1]}"
        again = ", as in most turns" if all(one - 1 in reading.missing for one in teeth) else ""
        rule = f"no pulse of {which} of {wheel.positions}{again}"
        yield Finding("missing pulse", channel.name, start_s, stop_s, float(run.size), "", rule, "severe")


def _damaged(channel: Channel, reading: WheelReading, odd: OddTooth) -> Iterator[Finding]:
    """A tooth that differs, in each turn that shows it."""
    turns, wheel = reading.turns, reading.wheel
    if turns is None or wheel is None:
        return
    at_s, pitch_s = turns.times_s[:, odd.position], turns.pitch_s[:, odd.position]
    rule = f"tooth {odd.position + 1} of {wheel.positions} differs from its neighbours turn after turn"
    for place in np.flatnonzero(np.isfinite(at_s) & np.isfinite(pitch_s))[:MOST_FINDINGS].tolist():
        half_s = 0.5 * float(pitch_s[place])
        middle_s = float(at_s[place])
        yield Finding("damaged tooth", channel.name, middle_s - half_s, middle_s + half_s, 1.0, "", rule, "severe")


def _missing_without_turns(
    channel: Channel, reading: WheelReading, spans: list[tuple[float, float]]
) -> Iterator[Finding]:
    """A wheel whose turns are not known: intervals that are whole multiples of their neighbours'."""
    teeth = reading.teeth
    if teeth is None or reading.uneven is not None:
        return
    for place in np.flatnonzero(teeth.steps > 1)[:MOST_FINDINGS].tolist():
        start_s, stop_s = float(teeth.times_s[place]), float(teeth.times_s[place + 1])
        if any(begin < 0.5 * (start_s + stop_s) < end for begin, end in spans):
            continue
        many = int(teeth.steps[place]) - 1
        rule = f"{many} of the even pulses missing"
        yield Finding("missing pulse", channel.name, start_s, stop_s, float(many), "", rule, "severe")


def _extra(channel: Channel, reading: WheelReading, spans: list[tuple[float, float]]) -> Iterator[Finding]:
    extra_s = np.sort(
        reading.turns.extra_s if reading.turns is not None else reading.teeth.extra_s if reading.teeth else []
    )
    half_s = 0.25 * (reading.pitch_s or 0.0)
    ends_s = [one for span in spans for one in span]
    for at_s in extra_s[:MOST_FINDINGS].tolist():
        # Where a signal goes or comes back a tooth may be cut in two.
        if any(abs(at_s - end) < 6.0 * half_s for end in ends_s):
            continue
        where = ""
        if reading.turns is not None:
            place = int(np.argmin(np.abs(reading.turns.extra_s - at_s)))
            where = f" beside tooth {int(reading.turns.extra_at[place]) + 1}"
        yield Finding(
            "extra pulse",
            channel.name,
            at_s - half_s,
            at_s + half_s,
            1.0,
            "",
            f"an edge that is no tooth's{where}",
            "severe",
        )
