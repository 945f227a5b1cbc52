"""Single-wire CAN: nodes that pull one wire up from ground, at the normal level or at the wake level, with their faults."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.sample_captures.makers.can_frames import ACK, Frame, sent_bits
from loomlight.sample_captures.makers.shape import Made
from loomlight.sample_captures.makers.two_state_wire import Step, Volts, laid, recorded, with_bursts
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.examination import Conditions

KIND = "can-single-wire"
FAULTS = (
    "open",
    "short to ground",
    "short to battery",
    "series resistance",
    "weak driver",
    "ground offset",
    "leak to ground",
    "recessive lifted",
    "load lost",
    "slow edges",
    "wake level low",
    "wrong bit rate",
    "intermittent",
    "noise bursts",
)
NAME = "SW-CAN"
WEAK = ("weak level of one node: series resistance, its driver or its ground",)
HIGH = ("level of one node too high: its ground is lifted",)
ALL_WEAK = ("weak level of every node: a leak to ground, or too much load",)
LIFTED = ("recessive level lifted: a leak to battery, or a ground that stands too high",)
SLOW = ("falls slow: load resistors lost, or too much capacitance",)
NODES = (1, 2, 3)


@dataclass
class Bus:
    """Figures of one instance, healthy at first."""

    battery_v: float
    bit_s: dict[int, float]
    high_v: dict[int, float]
    wake_v: float
    load_ohm: float
    farad: float
    rise_s: float
    rest_v: float
    series_ohm: dict[int, float] = field(default_factory=dict)
    gone: list[tuple[float, float]] = field(default_factory=list)


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance; see `shape.Maker`."""
    bus = _bus(rng)
    rate = samples_per_s or float(np.round(rng.uniform(18.0, 24.0) / bus.bit_s[1], -3))
    truth: dict[str, float] = {"bit rate": 1.0 / bus.bit_s[1]}
    wakes = rng.uniform() < 0.3 or fault == "wake level low"
    weak = int(rng.choice(NODES))
    broken, expected = _put(fault, bus, rng, weak, truth)
    sent = _sent(bus, rng, wakes=wakes, first=weak)
    end_s = sent[-1][1] + 4 * bus.bit_s[1]
    start_s = float(rng.uniform(0.0, 0.25)) * end_s if rng.uniform() < 0.5 else -20 * bus.bit_s[1]
    times_s = np.arange(start_s, end_s, 1.0 / rate)
    if fault == "intermittent":
        broken = _come_off(bus, rng, sent, times_s)
    volts = _volts(bus, sent, times_s)
    seen = volts
    good = None
    if fault == "open":
        seen = np.full(times_s.size, bus.rest_v)
    elif fault == "short to ground":
        ohm = truth["ohm"] = float(10 ** rng.uniform(-0.5, 1.6))
        # Drivers limit their current.
        seen = np.minimum(volts, 0.06 * ohm)
        broken = 0.06 * ohm > 0.5
    elif fault == "short to battery":
        seen = bus.battery_v - np.abs(volts.max() - volts) * float(rng.uniform(0.0, 0.002))
    elif fault == "noise bursts":
        seen = with_bursts(
            rng, volts, step_s=1.0 / rate, size_v=4.0, count=int(rng.integers(30, 60)), length_s=1.5 * bus.bit_s[1]
        )
    file_start_s = float(rng.uniform(-0.1, 0.1))
    reach_v = 20.0 if wakes or fault == "short to battery" else float(rng.choice([8.0, 10.0]))

    def channel(values: Volts) -> Channel:
        return recorded(rng, NAME, values, start_s=file_start_s, step_s=1.0 / rate, reach_v=reach_v, noise_db=noise_db)

    if fault == "open":
        good = Capture("good.h5", "made", (channel(volts),))
    return Made(
        capture=Capture("made.h5", "made", (channel(seen),)),
        channel=NAME,
        kind=KIND,
        fault=fault,
        conditions=Conditions(supply_v=round(bus.battery_v, 1), same_moment=fault == "open"),
        good=good,
        expected=expected,
        limit_broken=broken,
        truth=truth,
    )


def _bus(rng: np.random.Generator) -> Bus:
    bit_s = 1.0 / float(rng.choice([33_333.0, 33_333.0, 33_333.0, 83_333.0]))
    battery_v = float(rng.uniform(11.8, 14.6))
    load_ohm = float(rng.uniform(300.0, 1500.0))
    return Bus(
        battery_v=battery_v,
        bit_s={node: bit_s * float(rng.uniform(0.9985, 1.0015)) for node in NODES},
        high_v={node: float(rng.uniform(3.75, 4.5)) for node in NODES},
        wake_v=battery_v - float(rng.uniform(0.4, 1.1)),
        load_ohm=load_ohm,
        farad=float(rng.uniform(0.8e-6, 3.2e-6)) * (bit_s / 30e-6) ** 0.5 / load_ohm,
        rise_s=float(rng.uniform(0.7e-6, 1.8e-6)) * (bit_s / 30e-6) ** 0.5,
        rest_v=float(rng.uniform(0.0, 0.12)),
    )


def _put(
    fault: str, bus: Bus, rng: np.random.Generator, weak: int, truth: dict[str, float]
) -> tuple[bool, tuple[str, ...]]:
    """Change the figures so that the fault is there; whether a limit is then broken, and which pictures are right."""
    if fault == "open":
        return True, ("wire open",)
    if fault == "short to ground":
        # A weak one only takes every level down.
        return True, ("short to ground", *ALL_WEAK)
    if fault == "short to battery":
        return True, ("short to battery",)
    if fault == "series resistance":
        share = float(rng.uniform(0.5, 0.68))
        truth["ohm"] = bus.series_ohm[weak] = bus.load_ohm * (1.0 / share - 1.0)
        return True, WEAK
    if fault == "weak driver":
        bus.high_v[weak] = truth["volts"] = float(rng.uniform(2.5, 3.05))
        return True, WEAK
    if fault == "ground offset":
        level_v = float(rng.choice([rng.uniform(5.5, 6.1), rng.uniform(2.4, 3.1)]))
        truth["volts"], bus.high_v[weak] = level_v - bus.high_v[weak], level_v
        return True, HIGH if level_v > 5.0 else WEAK
    if fault == "leak to ground":
        share = float(rng.uniform(0.6, 0.7))
        for node in NODES:
            bus.high_v[node] *= share
        bus.wake_v *= share
        return True, ALL_WEAK
    if fault == "recessive lifted":
        bus.rest_v = truth["volts"] = float(rng.uniform(0.9, 1.5))
        return True, LIFTED
    if fault == "load lost":
        # One node's own resistor is left to pull the wire down.
        bus.load_ohm, bus.farad = 9.09e3, float(rng.uniform(1.0e-9, 1.5e-9)) * (bus.bit_s[1] / 30e-6)
        return True, SLOW
    if fault == "slow edges":
        bus.farad *= float(rng.uniform(6.0e-6, 9e-6)) / (bus.farad * bus.load_ohm)
        return True, SLOW
    if fault == "wake level low":
        bus.wake_v = truth["volts"] = float(rng.uniform(7.2, 8.6))
        return True, ("wake level low",)
    if fault == "wrong bit rate":
        off = float(rng.choice([-1, 1]) * rng.uniform(0.016, 0.024))
        truth["share"] = off
        bus.bit_s[weak] /= 1.0 + off
        return True, ("bit rate off",)
    if fault == "intermittent":
        return True, ("intermittent contact",)
    if fault == "noise bursts":
        return True, ("interference",)
    return False, ()


Sent = tuple[float, float, int, bool]
"""Dominant stretch: start, stop, node that drives it, at the wake level."""


def _sent(bus: Bus, rng: np.random.Generator, *, wakes: bool, first: int) -> list[Sent]:
    """Dominant stretches of some twenty frames; each node sends two identifiers of its own, the others acknowledge."""
    found: list[Sent] = []
    at_s = 0.0
    order = [int(rng.choice(NODES)) for _ in range(15)]
    order[2] = order[5] = order[8] = order[11] = first
    for number, node in enumerate(order):
        identifier = 0x100 * node + int(rng.choice([0x24, 0x61]))
        frame = Frame(identifier, bytes(rng.integers(0, 256, int(rng.integers(2, 9))).tolist()), extended=node == 3)
        bits = sent_bits(frame)
        is_wake = wakes and number in (0, 1, 6, 7, 12)
        bit_s = bus.bit_s[node]
        for place, (bit, area) in enumerate(zip(bits.bits, bits.areas, strict=True)):
            start_s, stop_s = at_s + place * bit_s, at_s + (place + 1) * bit_s
            who = NODES[node % len(NODES)] if area == ACK else node
            if area == ACK:
                # Those that acknowledge follow the sender's edges with a little delay.
                found.append((start_s + 0.01 * bit_s, stop_s + 0.01 * bit_s, who, is_wake))
            elif not bit:
                if found and found[-1][1] == start_s:
                    found[-1] = (found[-1][0], stop_s, node, is_wake)
                else:
                    found.append((start_s, stop_s, node, is_wake))
        at_s += (len(bits.bits) + 3 + float(rng.uniform(0, 40))) * bit_s
    return found


def _come_off(bus: Bus, rng: np.random.Generator, sent: list[Sent], times_s: Volts) -> bool:
    """The wire to the probe comes off inside dominant stretches; whether it shows by half bits."""
    shows = False
    for start_s, stop_s, node, _ in sent:
        if rng.uniform() < 0.05:
            begin_s = float(rng.uniform(start_s, stop_s))
            end_s = begin_s + float(rng.uniform(0.6, 2.5)) * bus.bit_s[node]
            bus.gone.append((begin_s, end_s))
            at_bit = (begin_s - start_s) / bus.bit_s[node] % 1.0
            inside = times_s[0] + 150 * bus.bit_s[1] < begin_s < times_s[-1] - 150 * bus.bit_s[1]
            shows |= bool(inside and 0.4 < at_bit < 0.6 and stop_s - begin_s > 0.35 * bus.bit_s[node])
    return shows


def _volts(bus: Bus, sent: list[Sent], times_s: Volts) -> Volts:
    tau_s = bus.load_ohm * bus.farad
    steps: list[Step] = []
    for start_s, stop_s, node, is_wake in sent:
        to_v = bus.wake_v if is_wake else bus.high_v[node]
        series = bus.series_ohm.get(node, 0.0)
        to_v = bus.rest_v + (to_v - bus.rest_v) * bus.load_ohm / (bus.load_ohm + series)
        pieces = [(start_s, stop_s)]
        for a, b in bus.gone:
            pieces = [
                (x, y)
                for p, q in pieces
                for x, y in (((p, min(q, a)), (max(p, b), q)) if a < q and b > p else ((p, q),))
                if y > x
            ]
        for p, q in pieces:
            steps += [
                Step(p, to_v, max(bus.rise_s, 0.3 * min(series, bus.load_ohm) * bus.farad)),
                Step(q, bus.rest_v, tau_s),
            ]
    steps.sort(key=lambda one: one.at_s)
    return laid(steps, start_v=bus.rest_v, times_s=times_s)
