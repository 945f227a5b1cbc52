"""Made high-speed CAN and CAN FD captures: healthy buses, and each fault that a technician meets on one."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from loomlight.sample_captures.makers.can_bus import BATTERY, CUT_OHM, GROUND, Bus, Node, Short, Spot, Volts, waves
from loomlight.sample_captures.makers.can_frames import Frame
from loomlight.sample_captures.makers.can_traffic import Plan, Sent, traffic
from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import CountSamples

KIND = "can"
FAULTS = (
    "CAN-H open",
    "CAN-L open",
    "CAN-H shorted to ground",
    "CAN-L shorted to ground",
    "CAN-H shorted to battery",
    "CAN-L shorted to battery",
    "CAN-H and CAN-L shorted together",
    "one terminator missing",
    "one terminator too many",
    "series resistance in a stub",
    "series resistance in the trunk",
    "wires swapped",
    "ground offset of a node",
    "weak node",
)
Recorded = Literal["both wires", "difference", "CAN-H", "CAN-L"]
OTHER_WIRE = "other wire"
BITS, FD_BITS = 1600, 800
"""Length of a capture in bits."""
FEWEST_SENT = 2
"""A node that talks more seldom in a capture cannot be judged from it."""
MARGIN_V = 0.07
"""A level nearer to its limit than this counts neither as kept nor as broken."""


@dataclass(frozen=True)
class Case:
    """One bus, its traffic, and where and how it is recorded."""

    bus: Bus
    plan: Plan
    spot: Spot
    recorded: Recorded
    step_s: float
    count: int
    bits: int
    noise_v: float
    start_s: float


@dataclass(frozen=True, eq=False)
class Recording:
    """Channels of one capture, with what was sent."""

    capture: Capture
    sent: tuple[Sent, ...]


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One capture of the bus; parameters as `loomlight.sample_captures.makers.shape.Maker.made`."""
    case = healthy(rng, samples_per_s=samples_per_s)
    suspect, expected = faulted(fault, case, rng)
    good = recording(_another_day(case, rng), rng, noise_db).capture if rng.random() < 0.5 else None
    found = recording(suspect, rng, noise_db)
    name = found.capture.channels[0].name
    return Made(
        capture=found.capture,
        channel=name,
        kind=KIND,
        fault=fault,
        conditions=Conditions(besides=besides(found.capture)),
        good=good,
        good_besides=besides(good) if good is not None else (),
        # One wire or the difference alone does not tell which of the pictures it is.
        expected=expected if case.recorded == "both wires" else (),
        limit_broken=bool(fault) and is_broken(fault, suspect, found.sent),
        truth={"bit_rate": 1.0 / case.plan.bit_s, "frames": float(len(found.sent))},
    )


def usual_step_s(rng: np.random.Generator) -> float:
    """The step at which the instance drawn from ``rng`` is recorded where no rate is given."""
    return healthy(rng).step_s


def besides(capture: Capture) -> tuple[Beside, ...]:
    """The second wire in its role, where two were recorded."""
    return tuple(Beside(OTHER_WIRE, one) for one in capture.channels[1:])


def healthy(rng: np.random.Generator, *, samples_per_s: float | None = None, fd: bool | None = None) -> Case:
    """A bus within all limits, random but for what is given."""
    count = int(rng.integers(3, 6))
    source_v, ohm = rng.uniform(2.85, 3.15), rng.uniform(12.0, 18.0)
    centre_v = rng.uniform(2.44, 2.56)
    spots: list[Spot] = ["near", "far", "stub", *(("near", "far")[int(rng.integers(2))] for _ in range(count - 3))]
    slope_s = rng.uniform(25e-9, 70e-9)
    nodes = tuple(_node(spot, source_v, ohm, centre_v, slope_s, rng) for spot in spots)
    terminators = tuple((spot, 120.0 * (1 + rng.uniform(-0.02, 0.02))) for spot in ("near", "far"))
    bus = Bus(
        nodes,
        terminators=terminators,  # type: ignore[arg-type]
        battery_v=float(rng.uniform(11.8, 14.6)),
        pair_f=float(rng.uniform(0.4e-9, 1.2e-9)),
        common_f=float(rng.uniform(0.8e-9, 2.5e-9)),
        ring_hz=float(rng.uniform(3e6, 12e6)),
        ring_share=float(rng.uniform(0.02, 0.25)),
        ring_s=float(rng.uniform(40e-9, 160e-9)),
        probe_ohm=float(rng.choice([1e6, 10e6])),
    )
    is_fd = bool(rng.random() < 0.1) if fd is None else fd
    rate = 500e3 if is_fd else float(rng.choice([125e3, 250e3, 500e3, 500e3, 500e3, 1e6]))
    ratio = float(rng.choice([2.0, 4.0])) if is_fd else 1.0
    bit_s = 1.0 / rate
    plan = Plan(
        bit_s=bit_s * (1 + rng.normal(0.0, 5e-4)),
        fast_bit_s=bit_s / ratio,
        says=_says(count, is_fd, rng),
        gap_bits=float(rng.choice([5.0, 25.0, 60.0])),
        sample_point=float(rng.choice([0.75, 0.8, 0.875])),
        fast_sample_point=float(rng.choice([0.7, 0.75])),
        clock_share=7e-4,
        jitter_s=float(rng.uniform(1e-9, 8e-9)),
    )
    usual = ratio * rate * float(rng.integers(20, 26))
    step_s = 1.0 / (samples_per_s or usual)
    bits = FD_BITS if is_fd else BITS
    return Case(
        bus,
        plan,
        "near",
        _recorded(rng),
        step_s,
        int(bits * bit_s / step_s),
        int(rng.choice([8, 10, 12])),
        float(rng.uniform(2e-3, 8e-3)),
        float(rng.uniform(-1.0, 0.0)),
    )


def _recorded(rng: np.random.Generator) -> Recorded:
    ways: tuple[Recorded, ...] = ("both wires", "difference", "CAN-H", "CAN-L")
    return ways[int(rng.choice(4, p=[0.64, 0.16, 0.1, 0.1]))]


def _node(spot: Spot, source_v: float, ohm: float, centre_v: float, slope_s: float, rng: np.random.Generator) -> Node:
    source, middle = source_v + rng.uniform(-0.12, 0.12), centre_v + rng.uniform(-0.06, 0.06)
    return Node(
        spot,
        high_v=middle + source / 2,
        low_v=middle - source / 2,
        high_ohm=ohm * (1 + rng.uniform(-0.05, 0.05)),
        low_ohm=ohm * (1 + rng.uniform(-0.05, 0.05)),
        bias_v=middle + rng.uniform(-0.03, 0.03),
        bias_ohm=rng.uniform(15e3, 35e3),
        ground_v=rng.uniform(-0.04, 0.04),
        slope_s=slope_s * rng.uniform(0.8, 1.3),
        delay_s=rng.uniform(60e-9, 220e-9),
    )


def _says(count: int, fd: bool, rng: np.random.Generator) -> tuple[tuple[Frame, ...], ...]:
    """One or two identifiers a node; no two nodes share one."""
    base = rng.permutation(0x7F0)[: 3 * count] + 1
    says = []
    for node in range(count):
        frames = []
        for own in base[3 * node : 3 * node + int(rng.integers(1, 3))].tolist():
            extended = bool(rng.random() < 0.2)
            identifier = (own << 18) | int(rng.integers(1 << 18)) if extended else own
            is_fd = fd and bool(rng.random() < 0.8)
            size = int(rng.choice([8, 12, 16, 20, 24])) if is_fd else int(rng.integers(1, 9))
            for _ in range(3):
                data = rng.integers(0, 256, size, dtype=np.uint8).tobytes()
                frames.append(Frame(identifier, data, extended=extended, fd=is_fd, fast=is_fd and rng.random() < 0.9))
        says.append(tuple(frames[place] for place in rng.permutation(len(frames)).tolist()))
    return tuple(says)


def recording(case: Case, rng: np.random.Generator, noise_db: float | None = None) -> Recording:
    """Let the bus talk and record it: each probe with its own gain, offset, noise and converter."""
    length_s = case.count * case.step_s
    # The recording begins anywhere, also within a frame.
    lead_s = 150 * case.plan.bit_s
    drive, sent = traffic(case.bus, case.plan, rng, start_s=0.0, stop_s=lead_s + length_s)
    high, low = waves(case.bus, drive, case.spot, step_s=case.step_s, count=case.count, start_s=lead_s)
    wires = {
        "both wires": (("CAN-H", high), ("CAN-L", low)),
        "difference": (("CAN difference", high - low),),
        "CAN-H": (("CAN-H", high),),
        "CAN-L": (("CAN-L", low),),
    }[case.recorded]
    channels = tuple(_channel(name, volts, case, rng, noise_db) for name, volts in wires)
    shift_s = case.start_s - lead_s
    moved = tuple(
        replace(one, start_s=one.start_s + shift_s, stop_s=one.stop_s + shift_s)
        for one in sent
        if one.stop_s > lead_s and one.start_s < lead_s + length_s
    )
    return Recording(Capture("made.csv", "made", channels), moved)


def _channel(name: str, volts: Volts, case: Case, rng: np.random.Generator, noise_db: float | None) -> Channel:
    seen = volts * (1 + rng.normal(0.0, 0.004)) + rng.normal(0.0, 0.015)
    noise_v = case.noise_v
    if noise_db is not None:
        noise_v = max(noise_v, float(np.std(seen)) * 10 ** (-noise_db / 20))
    seen = seen + rng.normal(0.0, noise_v, seen.size)
    low_v, high_v = float(seen.min()), float(seen.max())
    room = next(room for room in (4.0, 8.0, 16.0, 32.0, 80.0) if high_v - low_v < 0.9 * room)
    step_v = room / 2**case.bits
    middle_v = round(0.5 * (low_v + high_v), 1)
    counts = np.clip(np.round((seen - middle_v) / step_v), -(2 ** (case.bits - 1)), 2 ** (case.bits - 1) - 1)
    samples = CountSamples(counts.astype(np.int16), scale=step_v, offset=middle_v)
    return Channel(name, "V", samples, case.start_s, case.step_s)


def _another_day(case: Case, rng: np.random.Generator) -> Case:
    """The same bus, a little warmer or colder."""
    nodes = tuple(
        replace(one, high_v=one.high_v + rng.normal(0.0, 0.008), low_v=one.low_v + rng.normal(0.0, 0.008))
        for one in case.bus.nodes
    )
    return replace(case, bus=replace(case.bus, nodes=nodes, solved={}), start_s=float(rng.uniform(-1.0, 0.0)))


def faulted(fault: str, case: Case, rng: np.random.Generator) -> tuple[Case, tuple[str, ...]]:
    """The case with a fault in it, and the pictures that are right."""
    if not fault:
        return case, ()
    bus, spot = case.bus, case.spot
    expected: tuple[str, ...] = (fault,)
    wire: Literal["high", "low"] = "low" if fault.startswith("CAN-L") else "high"
    if fault in ("CAN-H open", "CAN-L open"):
        bus = replace(bus, **{f"{wire}_joint_ohm": CUT_OHM}, solved={})
    elif "shorted" in fault:
        where: Spot = ("near", "far")[int(rng.integers(2))]  # type: ignore[assignment]
        to = "other" if "together" in fault else GROUND if "ground" in fault else BATTERY
        ohm = float(np.exp(rng.uniform(np.log(0.3), np.log(6.0))))
        bus = replace(bus, shorts=(Short(where, wire, to, ohm),), solved={})
        if fault == "CAN-L shorted to battery":
            expected = (fault, "CAN-H or CAN-L shorted to battery")
    elif fault == "one terminator missing":
        ring = float(rng.uniform(0.2, 0.35))
        bus = replace(bus, terminators=bus.terminators[:1], ring_share=ring, ring_s=1.5 * bus.ring_s, solved={})
    elif fault == "one terminator too many":
        bus = replace(bus, terminators=(*bus.terminators, ("stub", 120.0)), solved={})
    elif fault.startswith("series resistance"):
        place = "stub" if "stub" in fault else "joint"
        ohm, legs = float(np.exp(rng.uniform(np.log(20.0), np.log(120.0)))), int(rng.integers(3))
        parts = {f"high_{place}_ohm": ohm, f"low_{place}_ohm": ohm}
        if legs < 2:
            parts[f"{('high', 'low')[legs]}_{place}_ohm"] = 0.05
        bus = replace(bus, **parts, solved={})
        expected = (fault, "weak node")
        if place == "joint":
            expected = (fault, "series resistance in a stub", "weak node")
    else:
        bus = replace(bus, nodes=_one_node(fault, bus.nodes, rng), solved={})
    return replace(case, bus=bus, spot=spot), expected


def _one_node(fault: str, nodes: tuple[Node, ...], rng: np.random.Generator) -> tuple[Node, ...]:
    number = int(rng.integers(len(nodes)))
    node = nodes[number]
    if fault == "wires swapped":
        changed = replace(node, is_swapped=True)
    elif fault == "ground offset of a node":
        changed = replace(node, ground_v=float(rng.choice([-1.0, 1.0]) * rng.uniform(0.6, 2.2)))
    else:
        share = rng.uniform(0.5, 0.68)
        middle, source = 0.5 * (node.high_v + node.low_v), share * (node.high_v - node.low_v)
        changed = replace(node, high_v=middle + source / 2, low_v=middle - source / 2)
    return (*nodes[:number], changed, *nodes[number + 1 :])


def is_broken(fault: str, case: Case, sent: tuple[Sent, ...]) -> bool:
    """Whether what is recorded leaves a limit of the levels by the circuit's steady state, with a node that talks "
    "often enough."""
    place = ("near", "far", "stub").index(case.spot)
    rest_v = case.bus.steady(0)[place]
    for number in range(len(case.bus.nodes)):
        if sum(one.node == number for one in sent[1:-1]) < FEWEST_SENT:
            continue
        volts = case.bus.steady(1 << number)[place]
        if fault.startswith("CAN-") and not case.bus.hears[number, number]:
            moved = volts - rest_v
            seen = {"difference": moved[0] - moved[1], "CAN-H": moved[0], "CAN-L": moved[1]}
            if abs(seen.get(case.recorded, np.abs(moved).max())) > 0.25:
                return True
            continue
        high, low = float(volts[0]), float(volts[1])
        if case.recorded in ("CAN-H", "CAN-L") and abs((volts - rest_v)[int(case.recorded == "CAN-L")]) < 0.25:
            continue  # a wire that does not move may be asleep
        offset = float(rest_v[0] - rest_v[1])
        if case.recorded != "both wires" and high - low < 0.5:
            continue  # its frames do not show
        broken = {
            "difference": _outside(high - low - (offset if abs(offset) < 0.3 else 0.0), 1.5, 3.0),
            "CAN-H": _outside(high, 2.75, 4.5),
            "CAN-L": _outside(low, 0.5, 2.25),
        }
        if any(broken.values()) if case.recorded == "both wires" else broken[case.recorded]:
            return True
    return False


def _outside(volts: float, least: float, most: float) -> bool:
    return volts < least - MARGIN_V or volts > most + MARGIN_V
