"""K-lines: a tester and one or two units on a pull-up, with the faults that such a wire can have.

Bytes are spelt out here anew, bit by bit, from ISO 14230-2 and ISO 9141-2 as published accounts give them.
"""

from dataclasses import dataclass, field

import numpy as np

from loomlight.sample_captures.makers.shape import Made
from loomlight.sample_captures.makers.two_state_wire import Step, Volts, laid, recorded, with_bursts
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.examination import Conditions

KIND = "k-line"
FAULTS = (
    "open",
    "short to ground",
    "short to battery",
    "series resistance",
    "ground offset",
    "leak to ground",
    "weak pull-up",
    "slow edges",
    "wrong bit rate",
    "intermittent",
    "noise bursts",
)
TESTER = "tester"
SERIES = ("series resistance or lifted ground at one unit",)
SLOW = ("pull-up weak, or too much capacitance",)
NAME = "K-line"


@dataclass(frozen=True)
class Talk:
    """Who sends which bytes from when on; ``gaps_s`` is the pause after each byte."""

    talker: str
    at_s: float
    values: bytes
    gap_s: float


@dataclass
class Wire:
    """Figures of one instance, healthy at first."""

    battery_v: float
    pull_ohm: float
    farad: float
    unit_pull_ohm: float
    low_v: dict[str, float]
    on_ohm: float
    bit_s: dict[str, float]
    series_ohm: float = 0.0
    leak_ohm: float = np.inf
    to_battery_ohm: float = np.inf
    unit_ground_v: float = 0.0
    gone: list[tuple[float, float]] = field(default_factory=list)


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance; see `shape.Maker`."""
    wire = _wire(rng)
    rate = samples_per_s or float(rng.choice([200e3, 220e3, 250e3])) * (0.8 if fault == "open" else 1.0)
    talks, opening, end_s = _talks(rng)
    truth: dict[str, float] = {"bit rate": 1.0 / wire.bit_s[TESTER], "messages": float(len(talks))}
    broken, expected = _put(fault, wire, rng, talks, truth)
    start_s = opening[0][0] - 0.003 if opening and rng.uniform() < 0.6 else float(rng.uniform(0.02, 0.09))
    stop_s = min(start_s + 0.28, end_s + 0.02)
    times_s = np.arange(start_s, stop_s, 1.0 / rate)
    if fault == "intermittent":
        broken = _shows(wire, talks, times_s)
    volts = _at_the_tester(wire, talks, opening, times_s, rng)
    seen = volts
    if fault == "open":
        # At the unit's end of the broken wire: its own pull-up, if it has one, and nothing that the tester sends.
        seen = np.full(times_s.size, wire.battery_v - 0.4 if wire.unit_pull_ohm < 1e6 else 0.0)
    elif fault == "short to ground":
        seen = np.full(times_s.size, wire.battery_v * wire.leak_ohm / (wire.leak_ohm + wire.pull_ohm))
    elif fault == "noise bursts":
        size_v = rng.uniform(0.5, 0.9) * wire.battery_v
        seen = with_bursts(
            rng, volts, step_s=1.0 / rate, size_v=size_v, count=int(rng.integers(60, 160)), length_s=60e-6
        )
    reach_v = 20.0 if wire.battery_v < 18 else 40.0
    file_start_s = float(rng.uniform(-0.1, 0.1))

    def channel(values: Volts) -> Channel:
        return recorded(rng, NAME, values, start_s=file_start_s, step_s=1.0 / rate, reach_v=reach_v, noise_db=noise_db)

    good = None
    if fault == "open":
        good = Capture("good.h5", "made", (channel(volts),))
    conditions = Conditions(supply_v=round(wire.battery_v, 2), same_moment=fault == "open")
    return Made(
        capture=Capture("made.h5", "made", (channel(seen),)),
        channel=NAME,
        kind=KIND,
        fault=fault,
        conditions=conditions,
        good=good,
        expected=expected,
        limit_broken=broken,
        truth=truth,
    )


def _wire(rng: np.random.Generator) -> Wire:
    is_lorry = rng.uniform() < 0.1
    bit_s = 1.0 / float(rng.choice([10_400.0, 10_400.0, 10_400.0, 9_600.0]))
    return Wire(
        battery_v=float(rng.uniform(24.0, 28.8) if is_lorry else rng.uniform(11.6, 14.8)),
        pull_ohm=(1000.0 if is_lorry else 510.0) * float(rng.uniform(0.95, 1.05)),
        farad=float(rng.uniform(0.5e-9, 5e-9)),
        unit_pull_ohm=float(rng.choice([15e3, 47e3, 1e9])),
        low_v={who: float(rng.uniform(0.1, 0.5 if who == TESTER else 0.9)) for who in (TESTER, "11", "1A")},
        on_ohm=float(rng.uniform(6.0, 18.0)),
        bit_s={who: bit_s * float(rng.uniform(0.9965, 1.0035)) for who in (TESTER, "11", "1A")},
    )


def _summed(values: list[int]) -> bytes:
    return bytes([*values, sum(values) % 256])


def _talks(rng: np.random.Generator) -> tuple[list[Talk], list[tuple[float, float]], float]:
    """Requests and answers with their pauses, and the low part of a fast opening where there is one."""
    unit = "11" if rng.uniform() < 0.7 else "1A"
    address = int(unit, 16)
    style = rng.choice(["addressed", "long", "fixed"])
    opening: list[tuple[float, float]] = []
    at_s = 0.06
    talks: list[Talk] = []
    if style != "fixed" and rng.uniform() < 0.7:
        low_s = float(rng.uniform(0.0245, 0.0255))
        opening = [(at_s, at_s + low_s)]
        at_s += float(rng.uniform(0.0495, 0.0505))
        pairs = [([0xC1, 0x33, 0xF1, 0x81], [0x83, 0xF1, address, 0xC1, 0x8F, 0xEA])]
    else:
        at_s += 0.01
        pairs = []
    for _ in range(5):
        data = rng.integers(0, 256, int(rng.integers(2, 8))).tolist()
        service = int(rng.choice([0x21, 0x1A, 0x01, 0x22]))
        if style == "fixed":
            pairs.append(([0x68, 0x6A, 0xF1, 0x01, data[0]], [0x48, 0x6B, address, 0x41, data[0], *data[1:6]]))
        elif style == "addressed":
            pairs.append(
                ([0x82, address, 0xF1, service, data[0]], [0x80 + len(data) + 1, 0xF1, address, service + 0x40, *data])
            )
        else:
            pairs.append(
                (
                    [0x80, address, 0xF1, 2, service, data[0]],
                    [0x80, 0xF1, address, len(data) + 1, service + 0x40, *data],
                )
            )
    for request, answer in pairs:
        gap_s = float(rng.uniform(0.0052, 0.008))
        talks.append(Talk(TESTER, at_s, _summed(request), gap_s))
        at_s += (len(request) + 1) * (gap_s + 0.00105) - gap_s + float(rng.uniform(0.0265, 0.04))
        gap_s = float(rng.uniform(0.0, 0.001))
        talks.append(Talk(unit, at_s, _summed(answer), gap_s))
        at_s += (len(answer) + 1) * (gap_s + 0.00105) + float(rng.uniform(0.056, 0.07))
        if at_s > 0.5:
            break
    return talks, opening, at_s


def _put(
    fault: str, wire: Wire, rng: np.random.Generator, talks: list[Talk], truth: dict[str, float]
) -> tuple[bool, tuple[str, ...]]:
    """Change the figures so that the fault is there; whether a limit is then broken, and which pictures are right."""
    unit = talks[1].talker
    if fault == "open":
        # A unit without a pull-up of its own reads 0 V then, as a probe does that touches nothing.
        return wire.unit_pull_ohm < 1e6, ("wire open",)
    if fault == "short to ground":
        # Below some 0.3 V a flat line may as well be a probe that touches nothing.
        wire.leak_ohm = truth["ohm"] = float(10 ** rng.uniform(-1.0, 2.2))
        return wire.battery_v * wire.leak_ohm / (wire.leak_ohm + wire.pull_ohm) > 0.5, ("short to ground",)
    if fault == "short to battery":
        # A hard one leaves no more of the talk than the converter's steps: it looks like a line at rest.
        wire.to_battery_ohm = truth["ohm"] = float(rng.choice([rng.uniform(0.2, 2.0), rng.uniform(16.0, 60.0)]))
        return truth["ohm"] > 10.0, ("short to battery",)
    if fault == "series resistance":
        wire.series_ohm = truth["ohm"] = wire.pull_ohm * float(rng.uniform(0.32, 2.2))
        return True, SERIES
    if fault == "ground offset":
        wire.unit_ground_v = truth["volts"] = wire.battery_v * float(rng.uniform(0.24, 0.55))
        return True, SERIES
    if fault == "leak to ground":
        share = float(rng.uniform(0.45, 0.85))
        wire.leak_ohm = truth["ohm"] = wire.pull_ohm * share / (1.0 - share)
        return True, ("leak to ground",)
    if fault == "weak pull-up":
        wire.pull_ohm = truth["ohm"] = float(rng.uniform(16e3, 33e3))
        wire.unit_pull_ohm = 1e9
        wire.farad = float(rng.uniform(2.2e-9, 5e-9))
        return True, SLOW
    if fault == "slow edges":
        wire.farad = truth["farad"] = float(rng.uniform(35e-6, 75e-6)) / wire.pull_ohm
        return True, SLOW
    if fault == "wrong bit rate":
        factor = 1.0 + float(rng.choice([-1, 1]) * rng.uniform(0.025, 0.04))
        wire.bit_s[unit] /= factor
        truth["share"] = factor - 1.0
        return True, ("bit rate off",)
    if fault == "intermittent":
        # Where the unit talks, the wire to it comes off for some bits' time, again and again; it shows while the unit is low.
        for start_s, stop_s, talker in _drives(wire, talks, [], np.random.default_rng(1)):
            if talker == unit and rng.uniform() < 0.25:
                begin_s = float(rng.uniform(start_s, stop_s))
                wire.gone.append((begin_s, begin_s + float(rng.uniform(40e-6, 300e-6))))
        return True, ("intermittent contact",)
    if fault == "noise bursts":
        return True, ("interference",)
    return False, ()


def _drives(
    wire: Wire, talks: list[Talk], opening: list[tuple[float, float]], rng: np.random.Generator
) -> list[tuple[float, float, str]]:
    """Low stretches with their talker."""
    found = [(start, stop, TESTER) for start, stop in opening]
    for talk in talks:
        at_s, bit_s = talk.at_s, wire.bit_s[talk.talker]
        for value in talk.values:
            levels = [0, *((value >> place) & 1 for place in range(8)), 1]
            edges = at_s + np.arange(11) * bit_s + np.append(rng.normal(0.0, 0.004 * bit_s, 10), 0.0)
            for place, level in enumerate(levels):
                if not level:
                    if found and found[-1][1] == edges[place]:
                        found[-1] = (found[-1][0], float(edges[place + 1]), talk.talker)
                    else:
                        found.append((float(edges[place]), float(edges[place + 1]), talk.talker))
            at_s += 10 * bit_s + talk.gap_s
    return found


def _at_the_tester(
    wire: Wire, talks: list[Talk], opening: list[tuple[float, float]], times_s: Volts, rng: np.random.Generator
) -> Volts:
    """Volts at the vehicle's connector, beside the tester's pull-up."""
    up = 1.0 / wire.pull_ohm + 1.0 / (wire.unit_pull_ohm + wire.series_ohm) + 1.0 / wire.to_battery_ohm
    down = 1.0 / wire.leak_ohm
    high_v = wire.battery_v * up / (up + down)
    steps = []
    for start_s, stop_s, talker in _drives(wire, talks, opening, rng):
        low_v, on_ohm = wire.low_v[talker], wire.on_ohm
        pieces = [(start_s, stop_s)]
        if talker != TESTER:
            low_v, on_ohm = low_v + wire.unit_ground_v, on_ohm + wire.series_ohm
            pieces = _without(pieces, wire.gone)
        g = 1.0 / on_ohm
        to_v = (low_v * g + wire.battery_v * up) / (g + up + down)
        if np.isfinite(wire.to_battery_ohm):
            # A driver gives no more than some 0.1 A.
            to_v = max(to_v, wire.battery_v - 0.1 / (up + down))
        for begin_s, end_s in pieces:
            steps.append(Step(begin_s, to_v, max(wire.farad / (g + up + down), 0.8e-6)))
            steps.append(Step(end_s, high_v, max(wire.farad / (up + down), 0.8e-6)))
    kept = [one for one in steps if one.at_s < times_s[-1]]
    return laid(kept, start_v=high_v, times_s=times_s, ringing=float(rng.uniform(0.0, 0.06)), ring_s=3e-6)


def _shows(wire: Wire, talks: list[Talk], times_s: Volts) -> bool:
    """Whether the wire comes off inside a low stretch, at half a bit, and stays off for half a bit before the low would end."""
    for start_s, stop_s, talker in _drives(wire, talks, [], np.random.default_rng(1)):
        bit_s = wire.bit_s[talker]
        for begin_s, end_s in wire.gone:
            if not (times_s[0] + 0.03 < begin_s < times_s[-1] - 0.03 and start_s < begin_s < stop_s):
                continue
            at_bit = (begin_s - start_s) / bit_s % 1.0
            if 0.38 < at_bit < 0.62 and min(end_s, stop_s) - begin_s > 0.45 * bit_s:
                return True
    return False


def _without(pieces: list[tuple[float, float]], gone: list[tuple[float, float]]) -> list[tuple[float, float]]:
    for start, stop in gone:
        left = []
        for begin, end in pieces:
            if stop <= begin or start >= end:
                left.append((begin, end))
                continue
            left += [(a, b) for a, b in ((begin, start), (stop, end)) if b - a > 1e-9]
        pieces = left
    return pieces
