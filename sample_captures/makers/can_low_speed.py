"""Low-speed fault-tolerant CAN: two wires that move against each other by 5 V, with the faults of each."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.sample_captures.makers.can_frames import ACK, Frame, sent_bits
from loomlight.sample_captures.makers.shape import Made
from loomlight.sample_captures.makers.two_state_wire import Step, Volts, laid, recorded, with_bursts
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.examination import Conditions

KIND = "can-low-speed"
FAULTS = (
    "CANH open",
    "CANL open",
    "CANH short to ground",
    "CANL short to ground",
    "CANH short to battery",
    "CANL short to battery",
    "CANH short to supply",
    "CANL short to supply",
    "wires shorted together",
    "series resistance",
    "ground offset",
    "leak",
    "slow edges",
    "wrong bit rate",
    "intermittent",
    "noise bursts",
)
HIGH, LOW = "CANH", "CANL"
NODES = (1, 2, 3)
PROBED = 1
"""The node at whose plug the probes sit."""


@dataclass
class Pair:
    """Figures of one instance, healthy at first; levels by wire, those of the nodes by wire and node."""

    supply_v: float
    battery_v: float
    bit_s: dict[int, float]
    dominant_v: dict[tuple[str, int], float]
    rest_v: dict[str, float]
    rise_s: dict[str, float]
    back_s: dict[str, float]
    gone: list[tuple[float, float]] = field(default_factory=list)


Sent = tuple[float, float, tuple[int, ...]]
"""Dominant stretch: start, stop, the nodes that drive it."""


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance; see `shape.Maker`."""
    pair = _pair(rng)
    rate = samples_per_s or float(np.round(rng.uniform(18.0, 24.0) / pair.bit_s[1], -4))
    wire = fault[:4] if fault[:4] in (HIGH, LOW) else str(rng.choice([HIGH, LOW]))
    node = int(rng.choice([2, 3]))
    truth = {"bit rate": 1.0 / pair.bit_s[1]}
    expected = _put(fault, pair, rng, wire, node, truth)
    sent = _sent(pair, rng, first=node)
    end_s = sent[-1][1] + 4 * pair.bit_s[1]
    start_s = float(rng.uniform(0.0, 0.25)) * end_s if rng.uniform() < 0.5 else -20 * pair.bit_s[1]
    times_s = np.arange(start_s, end_s, 1.0 / rate)
    broken = bool(fault)
    if fault == "intermittent":
        broken = _come_off(pair, rng, sent, times_s)
    volts = {
        one: _volts(pair, one, sent, times_s, loose=fault if one == wire and fault in ("intermittent",) else "")
        for one in (HIGH, LOW)
    }
    volts = _shorted(fault, pair, rng, wire, sent, times_s, volts)
    if fault == "noise bursts":
        # The wires run side by side, so both catch the same.
        state = rng.bit_generator.state
        for one in (HIGH, LOW):
            rng.bit_generator.state = state
            volts[one] = with_bursts(
                rng, volts[one], step_s=1.0 / rate, size_v=5.0, count=45, length_s=1.5 * pair.bit_s[1]
            )
    reach_v = 20.0 if "battery" in fault else float(rng.choice([8.0, 10.0]))
    file_start_s = float(rng.uniform(-0.1, 0.1))
    channels = {
        one: recorded(rng, one, volts[one], start_s=file_start_s, step_s=1.0 / rate, reach_v=reach_v, noise_db=None)
        for one in (HIGH, LOW)
    }
    if noise_db is not None:
        channels = {
            one: _noisy(rng, channels[one], volts[HIGH if "CANH" not in fault else LOW], noise_db) for one in channels
        }
    other = LOW if wire == HIGH else HIGH
    return Made(
        capture=Capture("made.h5", "made", (channels[HIGH], channels[LOW])),
        channel=wire,
        kind=KIND,
        fault=fault,
        conditions=Conditions(besides=(Beside("other wire", channels[other]),)),
        good=None,
        expected=expected,
        limit_broken=broken,
        truth=truth,
    )


def _noisy(rng: np.random.Generator, channel: Channel, like: Volts, noise_db: float) -> Channel:
    """Noise of a healthy wire's size on both, also on one that stands still."""
    values = channel.samples.block(0, channel.samples.size).astype(float)
    noise_v = float(like.std()) * 10 ** (-noise_db / 20)
    return recorded(
        rng,
        channel.name,
        values + rng.normal(0.0, noise_v, values.size),
        start_s=channel.start_s,
        step_s=channel.step_s or 1.0,
        reach_v=20.0,
        noise_db=None,
    )


def _pair(rng: np.random.Generator) -> Pair:
    bit_s = 1.0 / float(rng.choice([125e3, 125e3, 100e3]))
    supply_v = float(rng.uniform(4.9, 5.1))
    # The nodes' transceivers are much alike.
    drop_v, sink_v = float(rng.uniform(0.6, 1.0)), float(rng.uniform(0.6, 1.0))
    dominant = {(HIGH, node): supply_v - drop_v + float(rng.uniform(-0.12, 0.12)) for node in NODES}
    dominant |= {(LOW, node): sink_v + float(rng.uniform(-0.12, 0.12)) for node in NODES}
    return Pair(
        supply_v=supply_v,
        battery_v=float(rng.uniform(11.8, 14.6)),
        bit_s={node: bit_s * float(rng.uniform(0.9985, 1.0015)) for node in NODES},
        dominant_v=dominant,
        rest_v={HIGH: float(rng.uniform(0.0, 0.1)), LOW: supply_v - float(rng.uniform(0.0, 0.08))},
        rise_s={one: float(rng.uniform(0.15e-6, 0.4e-6)) for one in (HIGH, LOW)},
        back_s={one: float(rng.uniform(0.03, 0.09)) * bit_s for one in (HIGH, LOW)},
    )


def _put(
    fault: str, pair: Pair, rng: np.random.Generator, wire: str, node: int, truth: dict[str, float]
) -> tuple[str, ...]:
    """Change the figures so that the fault is there; which pictures are right."""
    if fault == "series resistance":
        ohm = truth["ohm"] = float(rng.uniform(60.0, 300.0))
        share = 100.0 / (100.0 + ohm)
        rest = pair.rest_v[wire]
        pair.dominant_v[wire, node] = rest + (pair.dominant_v[wire, node] - rest) * share
        return (f"series resistance in {wire}",)
    if fault == "ground offset":
        shift = truth["volts"] = float(rng.choice([rng.uniform(1.1, 1.6), rng.uniform(-1.7, -1.2)]))
        for one in (HIGH, LOW):
            pair.dominant_v[one, node] += shift
        return ("ground offset at one node",)
    if fault == "leak":
        off = truth["volts"] = float(rng.uniform(0.5, 1.3))
        pair.rest_v[wire] += off if wire == HIGH else -off
        return (f"{wire} recessive level off: a leak",)
    if fault == "slow edges":
        pair.back_s[wire] = float(rng.uniform(0.28, 0.42)) * pair.bit_s[1]
        return (f"{wire} edges slow: termination lost, or too much capacitance",)
    if fault == "wrong bit rate":
        off = truth["share"] = float(rng.choice([-1, 1]) * rng.uniform(0.016, 0.024))
        pair.bit_s[node] /= 1.0 + off
        return ("bit rate off",)
    if fault == "intermittent":
        return (f"{wire} intermittent",)
    if fault == "noise bursts":
        return ("interference",)
    if fault == "wires shorted together":
        return ("CANH and CANL shorted together",)
    return (fault.replace("to supply", "to the 5 V supply"),) if fault else ()


def _sent(pair: Pair, rng: np.random.Generator, *, first: int) -> list[Sent]:
    """Dominant stretches of some sixteen frames; the nodes that do not send acknowledge together."""
    found: list[Sent] = []
    at_s = 0.0
    order = [int(rng.choice(NODES)) for _ in range(16)]
    order[2] = order[5] = order[8] = order[11] = first
    order[4] = order[9] = order[13] = PROBED
    for node in order:
        identifier = 0x200 + 0x40 * node + int(rng.integers(0, 2))
        frame = Frame(identifier, bytes(rng.integers(0, 256, int(rng.integers(2, 9))).tolist()))
        bits = sent_bits(frame)
        bit_s = pair.bit_s[node]
        for place, (bit, area) in enumerate(zip(bits.bits, bits.areas, strict=True)):
            start_s, stop_s = at_s + place * bit_s, at_s + (place + 1) * bit_s
            if area == ACK:
                others = tuple(one for one in NODES if one != node)
                found.append((start_s + 0.01 * bit_s, stop_s + 0.01 * bit_s, others))
            elif not bit:
                if found and found[-1][1] == start_s:
                    found[-1] = (found[-1][0], stop_s, (node,))
                else:
                    found.append((start_s, stop_s, (node,)))
        at_s += (len(bits.bits) + 3 + float(rng.uniform(0, 40))) * bit_s
    return found


def _come_off(pair: Pair, rng: np.random.Generator, sent: list[Sent], times_s: Volts) -> bool:
    """The wire comes off around dominant bits that another node drives; whether whole bits are lost by it."""
    shows = 0
    for start_s, _, nodes in sent:
        if nodes[0] != PROBED and rng.uniform() < 0.06:
            bit_s = pair.bit_s[nodes[0]]
            begin_s = start_s - float(rng.uniform(0.0, 0.5)) * bit_s
            pair.gone.append((begin_s, begin_s + float(rng.uniform(1.6, 3.5)) * bit_s))
            shows += bool(times_s[0] + 150 * bit_s < begin_s < times_s[-1] - 150 * bit_s)
    return shows >= 3


def _volts(pair: Pair, wire: str, sent: list[Sent], times_s: Volts, *, loose: str = "") -> Volts:
    steps: list[Step] = []
    for start_s, stop_s, nodes in sent:
        levels = [pair.dominant_v[wire, node] for node in nodes]
        # Several drivers bring the line a little further than one.
        to_v = max(levels) if wire == HIGH else min(levels)
        pieces = [(start_s, stop_s)]
        if loose:
            for a, b in pair.gone:
                pieces = [
                    (x, y)
                    for p, q in pieces
                    for x, y in (((p, min(q, a)), (max(p, b), q)) if a < q and b > p else ((p, q),))
                    if y > x
                ]
        for p, q in pieces:
            steps += [Step(p, to_v, pair.rise_s[wire]), Step(q, pair.rest_v[wire], pair.back_s[wire])]
    steps.sort(key=lambda one: one.at_s)
    return laid(steps, start_v=pair.rest_v[wire], times_s=times_s)


def _shorted(
    fault: str,
    pair: Pair,
    rng: np.random.Generator,
    wire: str,
    sent: list[Sent],
    times_s: Volts,
    volts: dict[str, Volts],
) -> dict[str, Volts]:
    """Open and shorted wires, where the driver no longer says where the wire stands."""
    share = np.abs(volts[wire] - pair.rest_v[wire]) / 4.0
    residue = float(rng.uniform(0.0, 0.03))
    if fault.endswith("open"):
        # Behind the break only the probed node talks on this wire: its own frames, and its acknowledge of the others'.
        own = [one for one in sent if PROBED in one[2]]
        cut = [(start, stop, (PROBED,)) for start, stop, _ in own]
        volts[wire] = _volts(pair, wire, cut, times_s)
    elif fault.endswith("short to ground"):
        volts[wire] = 0.02 + residue * share * (1.0 if wire == HIGH else 0.0)
    elif fault.endswith("short to battery"):
        volts[wire] = pair.battery_v - residue * share
    elif fault.endswith("short to supply"):
        volts[wire] = pair.supply_v - residue * share
    elif fault == "wires shorted together":
        # The transceivers switch CANL off, and both wires follow CANH.
        high = volts[HIGH] * float(rng.uniform(0.85, 1.0)) + float(rng.uniform(0.0, 0.3))
        volts[HIGH], volts[LOW] = high, high + float(rng.uniform(-0.02, 0.02))
    return volts
