"""A high-speed CAN bus as a circuit: drivers, termination, joints, shorts, and what two probes see over time.

Three places, each with its two wires: ``near`` and ``far`` stand at the ends of the trunk, ``stub`` hangs on ``near``. The
steady voltages of each set of drivers are solved exactly; between them the pair moves as one pole with the driver's slope,
and rings as an open stub does.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt

Volts = npt.NDArray[np.float64]
Spot = Literal["near", "far", "stub"]
SPOTS: tuple[Spot, ...] = ("near", "far", "stub")
CUT_OHM = 1e9
JOINT_OHM = 0.05
GROUND, BATTERY = "ground", "battery"


@dataclass(frozen=True)
class Node:
    """One transceiver.

    Attributes
    ----------
    spot : str
        Where it hangs.
    high_v, low_v : float
        What its two drivers pull to, volts above its own ground.
    high_ohm, low_ohm : float
        Their resistances.
    bias_v, bias_ohm : float
        Where it holds both wires at rest, and through what.
    ground_v : float
        Its ground against the probe's, volts.
    slope_s, delay_s : float
        Time of its edge, and how much later than others it answers.
    is_swapped : bool
        Whether its two wires are exchanged.
    """

    spot: Spot = "near"
    high_v: float = 4.0
    low_v: float = 1.0
    high_ohm: float = 15.0
    low_ohm: float = 15.0
    bias_v: float = 2.5
    bias_ohm: float = 25e3
    ground_v: float = 0.0
    slope_s: float = 50e-9
    delay_s: float = 0.0
    is_swapped: bool = False


@dataclass(frozen=True)
class Short:
    """A path from one wire at one place to ``ground``, ``battery`` or the other wire."""

    spot: Spot
    wire: Literal["high", "low"]
    to: str
    ohm: float


@dataclass(frozen=True)
class Bus:
    """All parts.

    Attributes
    ----------
    nodes : tuple of Node
        In any order; a set of drivers is told as a bit pattern over it.
    terminators : tuple of (spot, ohm)
        Each across the pair.
    high_joint_ohm, low_joint_ohm : float
        Trunk between ``near`` and ``far``.
    high_stub_ohm, low_stub_ohm : float
        Between ``near`` and ``stub``.
    shorts : tuple of Short
        None in a healthy bus.
    battery_v : float
        Volts.
    pair_f, common_f : float
        Capacitance between the wires, and of the pair against ground, farads.
    ring_hz, ring_share, ring_s : float
        Ringing after an edge: its frequency, its size as a share of the step, its decay.
    probe_ohm : float
        Of each probe against ground.
    limit_a : float
        What one driver gives at most, amperes.
    """

    nodes: tuple[Node, ...]
    terminators: tuple[tuple[Spot, float], ...] = (("near", 120.0), ("far", 120.0))
    high_joint_ohm: float = JOINT_OHM
    low_joint_ohm: float = JOINT_OHM
    high_stub_ohm: float = JOINT_OHM
    low_stub_ohm: float = JOINT_OHM
    shorts: tuple[Short, ...] = ()
    battery_v: float = 13.0
    pair_f: float = 0.8e-9
    common_f: float = 1.5e-9
    ring_hz: float = 6e6
    ring_share: float = 0.1
    ring_s: float = 120e-9
    probe_ohm: float = 10e6
    limit_a: float = 0.08
    solved: dict[int, Volts] = field(default_factory=dict, compare=False, repr=False)

    def steady(self, drivers: int) -> Volts:
        """Volts of both wires at each place, shape (3, 2), while the nodes of the bit pattern ``drivers`` are dominant."""
        found = self.solved.get(drivers)
        if found is None:
            found = self.solved[drivers] = _solve(self, drivers)
        return found

    def seen_by(self, number: int, drivers: int) -> float:
        """Differential voltage that one node's receiver sees."""
        node = self.nodes[number]
        high, low = self.steady(drivers)[SPOTS.index(node.spot)]
        return float(low - high if node.is_swapped else high - low)

    @cached_property
    def hears(self) -> npt.NDArray[np.bool_]:
        """Whether the node of the column reads the node of the row as dominant while that one talks alone."""
        count = len(self.nodes)
        return np.array([[self.seen_by(column, 1 << row) > 0.75 for column in range(count)] for row in range(count)])

    def pair_ohm(self, spot: Spot) -> float:
        """Resistance between the wires at one place, drivers off."""
        high, low = self._lifted(spot, 1.0, -1.0)
        return high - low

    def common_ohm(self, spot: Spot) -> float:
        """Resistance of both wires together against ground at one place, drivers off."""
        high, low = self._lifted(spot, 0.5, 0.5)
        return 0.5 * (high + low)

    def _lifted(self, spot: Spot, high_a: float, low_a: float) -> tuple[float, float]:
        place = 2 * SPOTS.index(spot)
        matrix, _ = _passive(self)
        inject = np.zeros(6)
        inject[place], inject[place + 1] = high_a, low_a
        volts = np.linalg.solve(matrix, inject)
        return float(volts[place]), float(volts[place + 1])


def _passive(bus: Bus) -> tuple[Volts, Volts]:
    """Conductances and currents of everything but the drivers; rows are near, far, stub, CAN-H before CAN-L."""
    matrix, current = np.eye(6) / bus.probe_ohm, np.zeros(6)

    def join(one: int, other: int, ohm: float) -> None:
        matrix[[one, other], [one, other]] += 1.0 / ohm
        matrix[[one, other], [other, one]] -= 1.0 / ohm

    for place, ohm in ((0, bus.high_joint_ohm), (1, bus.low_joint_ohm)):
        join(place, place + 2, ohm)
    for place, ohm in ((0, bus.high_stub_ohm), (1, bus.low_stub_ohm)):
        join(place, place + 4, ohm)
    for spot, ohm in bus.terminators:
        join(2 * SPOTS.index(spot), 2 * SPOTS.index(spot) + 1, ohm)
    for node in bus.nodes:
        for wire in range(2):
            place = 2 * SPOTS.index(node.spot) + wire
            matrix[place, place] += 1.0 / node.bias_ohm
            current[place] += (node.bias_v + node.ground_v) / node.bias_ohm
    for short in bus.shorts:
        place = 2 * SPOTS.index(short.spot) + (short.wire == "low")
        if short.to in (GROUND, BATTERY):
            matrix[place, place] += 1.0 / short.ohm
            current[place] += (bus.battery_v if short.to == BATTERY else 0.0) / short.ohm
        else:
            join(place, place ^ 1, short.ohm)
    return matrix, current


def _solve(bus: Bus, drivers: int) -> Volts:
    """Drivers conduct one way only, and no more than their limit: which do is settled by Newton steps
    down a convex energy: it has one lowest place.
    """
    stages = []
    for number, node in enumerate(bus.nodes):
        if not drivers >> number & 1:
            continue
        place = 2 * SPOTS.index(node.spot)
        high_at, low_at = (place + 1, place) if node.is_swapped else (place, place + 1)
        stages.append((high_at, node.high_v + node.ground_v, node.high_ohm, 1))
        stages.append((low_at, node.low_v + node.ground_v, node.low_ohm, -1))
    passive, inflow = _passive(bus)
    place, target, ohm, sign = (np.array(one) for one in zip(*stages, strict=True)) if stages else (np.empty(0),) * 4
    place = place.astype(np.int64)

    def energy(volts: Volts) -> float:
        lead = sign * (target - volts[place])
        most = bus.limit_a * ohm
        bound = np.clip(lead, 0.0, most)
        driven = bound**2 / (2 * ohm) + bus.limit_a * np.maximum(lead - most, 0.0)
        return float(0.5 * volts @ passive @ volts - inflow @ volts + driven.sum())

    volts = np.linalg.solve(passive, inflow)
    for _ in range(60):
        amps = sign * (target - volts[place]) / ohm
        slope, force = passive.copy(), inflow - passive @ volts
        np.add.at(slope, (place, place), np.where((amps > 0) & (amps < bus.limit_a), 1.0 / ohm, 1e-9))
        np.add.at(force, place, sign * np.clip(amps, 0.0, bus.limit_a))
        if np.abs(force).max() < 1e-9:
            break
        step, share, now = np.linalg.solve(slope, force), 1.0, energy(volts)
        while share > 1e-6 and energy(volts + share * step) > now:
            share *= 0.5
        volts = volts + share * step
    return np.asarray(volts.reshape(3, 2))


Drive = tuple[int, float, float]
"""Node, start and stop of one dominant stretch, seconds."""


def waves(
    bus: Bus, drive: Sequence[Drive], spot: Spot, *, step_s: float, count: int, start_s: float = 0.0
) -> tuple[Volts, Volts]:
    """CAN-H and CAN-L at one place over time.

    Parameters
    ----------
    bus : Bus
        The circuit.
    drive : sequence of (int, float, float)
        Who pulls when.
    spot : str
        Where the probes are.
    step_s, count, start_s : float, int, float
        The samples' spacing, number and first time.

    Returns
    -------
    high, low : ndarray, shape (count,)
        Volts against the probe's ground.
    """
    at, masks = _segments(drive)
    place = SPOTS.index(spot)
    levels = {mask: bus.steady(mask)[place] for mask in set(masks)}
    steady = np.array([levels[mask] for mask in masks])
    pair = np.column_stack([steady[:, 0] - steady[:, 1], steady.mean(axis=1)])
    driven = np.array([mask != 0 for mask in masks])
    slopes = np.array([_slope(bus, mask) for mask in masks])
    resting_s = bus.pair_ohm(spot) * bus.pair_f
    common_s = bus.common_ohm(spot) * bus.common_f
    times = start_s + step_s * np.arange(count)
    segment = np.searchsorted(at, times, side="right") - 1
    since = times - at[segment]
    difference = _moved(pair[:, 0], at, since, segment, np.where(driven, 0.4 * resting_s, resting_s), slopes)
    common = _moved(pair[:, 1], at, since, segment, np.where(driven, np.minimum(60e-9, common_s), common_s), slopes)
    difference += _ringing(bus, pair[:, 0], at, times)
    return common + 0.5 * difference, common - 0.5 * difference


def _segments(drive: Sequence[Drive]) -> tuple[Volts, list[int]]:
    """Instants at which the set of drivers changes, and the set from each on."""
    events = sorted(
        [(start, 1, node) for node, start, stop in drive if stop > start]
        + [(stop, -1, node) for node, start, stop in drive if stop > start]
    )
    at, masks = [-1.0], [0]
    holds: dict[int, int] = {}
    for time, change, node in events:
        holds[node] = holds.get(node, 0) + change
        mask = sum(1 << one for one, depth in holds.items() if depth > 0)
        if time - at[-1] < 1e-12:
            masks[-1] = mask
        elif mask != masks[-1]:
            at.append(time)
            masks.append(mask)
    return np.array(at), masks


def _slope(bus: Bus, mask: int) -> float:
    found = [node.slope_s for number, node in enumerate(bus.nodes) if mask >> number & 1]
    return min(found) if found else min(node.slope_s for node in bus.nodes)


def _moved(targets: Volts, at: Volts, since: Volts, segment: npt.NDArray[np.int64], tau: Volts, width: Volts) -> Volts:
    """A pole that is handed ramps of ``width``: exact within each segment."""
    begins = np.empty(targets.size)
    level = float(targets[0])
    lengths = np.append(np.diff(at), 1.0)
    gone = _response(lengths, tau, width).tolist()
    for place, (target, share) in enumerate(zip(targets.tolist(), gone, strict=True)):
        begins[place] = level
        level = level + (target - level) * share
    share = _response(since, tau[segment], width[segment])
    moved: Volts = begins[segment] + (targets[segment] - begins[segment]) * share
    return moved


def _response(since: Volts, tau: Volts, width: Volts) -> Volts:
    """Of one pole to a ramp from 0 to 1 of the given width."""
    tau = np.maximum(tau, 1e-12)
    inside = np.clip(since, 0.0, width)
    ramp = (inside - tau * -np.expm1(-inside / tau)) / width
    after = 1.0 - (1.0 - ramp) * np.exp(-np.maximum(since - width, 0.0) / tau)
    shares: Volts = np.where(since <= width, ramp, after)
    return shares


def _ringing(bus: Bus, targets: Volts, at: Volts, times: Volts) -> Volts:
    """Decaying sine after each edge, larger where the pair is let go."""
    out = np.zeros(times.size)
    if bus.ring_share <= 0 or at.size < 2:
        return out
    step_s = times[1] - times[0]
    reach = int(np.ceil(6 * bus.ring_s / step_s)) + 1
    steps = np.diff(targets)
    first = np.ceil((at[1:] - times[0]) / step_s).astype(np.int64)
    places = first[:, None] + np.arange(reach)
    since = times[0] + places * step_s - at[1:, None]
    size = steps * np.where(steps < 0, 1.0, 0.6) * bus.ring_share
    values = size[:, None] * np.exp(-since / bus.ring_s) * np.sin(2 * np.pi * bus.ring_hz * since)
    inside = (places >= 0) & (places < times.size)
    np.add.at(out, places[inside], values[inside])
    return out
