"""A LIN bus as a circuit: what each side of a faulty wire shows while either side drives.

Two nodes, the near side (commander and the other responders) and the far side (the responders behind the suspect wire),
joined by a series resistance that may change with time. On each side pull-ups behind diodes, a capacitance, open-collector
drivers with limited slope, a probe, and where wanted a leak.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

Volts = npt.NDArray[np.float64]
Side = Literal["near", "far"]
OPEN_OHM = 1e12
"""A broken wire: what leaks over a corroded gap is above this."""

NEVER_V = 1e9
"""No node gets here: where a driver that is off would begin to sink."""


@dataclass(frozen=True)
class Leak:
    """A path from one side to a fixed voltage: 0 V for ground, the battery's for battery."""

    side: Side
    ohm: float
    to_v: float


@dataclass(frozen=True)
class LinBus:
    """The bus's parts.

    Attributes
    ----------
    battery_v : float
        At the nodes' supply pins, volts.
    supply_diode_v, pull_up_diode_v : float
        Drop of the reverse-polarity diode and of each pull-up's diode, volts (LIN 2.2, parameter 21: 0.4 to 1.0 V).
    commander_ohm, responder_ohm : float
        Pull-ups (LIN 2.x: 900 to 1100 Ω, and 20 to 60 kΩ).
    near_responders, far_responders : int
        How many responders' pull-ups hang on either side of the wire.
    near_f, far_f : float
        Capacitance of either side, farads, probe and wire included.
    driver_ohm : float
        On-resistance of a driver.
    probe_ohm : float
        Input resistance of each probe.
    leaks : tuple of Leak
        None in a healthy bus.
    """

    battery_v: float = 13.2
    supply_diode_v: float = 0.7
    pull_up_diode_v: float = 0.6
    commander_ohm: float = 1000.0
    responder_ohm: float = 30e3
    near_responders: int = 2
    far_responders: int = 1
    near_f: float = 2.0e-9
    far_f: float = 0.4e-9
    driver_ohm: float = 25.0
    probe_ohm: float = 10e6
    leaks: tuple[Leak, ...] = ()

    @property
    def supply_v(self) -> float:
        """The nodes' own supply, behind the reverse-polarity diode."""
        return self.battery_v - self.supply_diode_v

    @property
    def top_v(self) -> float:
        """What the pull-ups pull to."""
        return self.supply_v - self.pull_up_diode_v

    @property
    def near_siemens(self) -> float:
        """Conductance of the near side's pull-ups."""
        return 1.0 / self.commander_ohm + self.near_responders / self.responder_ohm

    @property
    def far_siemens(self) -> float:
        """Conductance of the far side's pull-ups."""
        return self.far_responders / self.responder_ohm


@dataclass(frozen=True, eq=False)
class Driver:
    """One node's transmitter and when it pulls down.

    Attributes
    ----------
    side : {"near", "far"}
        Which side of the wire it sits on.
    low_v : float
        Where it puts the line, volts; no two drivers are quite alike.
    spans : sequence of (float, float)
        Start and stop of each dominant stretch, seconds from the start.
    slope_s : float
        Time that it takes from one rail to the other.
    ground_ohm : float
        Resistance between its node's ground pin and battery negative: what it sinks lifts its own ground by that much.
    """

    side: Side
    low_v: float
    spans: Sequence[tuple[float, float]] = field(repr=False)
    slope_s: float = 12e-6
    ground_ohm: float = 0.0


def simulate(
    bus: LinBus, drivers: Sequence[Driver], *, series_ohm: float | Volts, step_s: float, count: int
) -> tuple[Volts, Volts]:
    """Volts of the near and the far side over time.

    Backward Euler on the two node voltages; the diodes and the drivers conduct one way only, so which of them conduct is
    settled anew in each step.

    Parameters
    ----------
    bus : LinBus
        The circuit.
    drivers : sequence of Driver
        At most one should drive at a time, but need not.
    series_ohm : float or ndarray, shape (count,)
        Resistance of the suspect wire, constant or at each step.
    step_s : float
        Step of the solution and of the result, seconds.
    count : int
        Number of steps.

    Returns
    -------
    near, far : ndarray of float64, shape (count,)
        Volts against battery negative.
    """
    sinks = {
        side: _deepest(bus, [driver for driver in drivers if driver.side == side], step_s, count)
        for side in ("near", "far")
    }
    wire = 1.0 / np.broadcast_to(np.asarray(series_ohm, dtype=np.float64), (count,))
    return _solve(bus, sinks, wire, step_s, count)


def _sink_targets(bus: LinBus, driver: Driver, step_s: float, count: int) -> list[float]:
    """The voltage down to which a driver sinks current: a ramp between the rails at each edge."""
    dominant = np.zeros(count + 1)
    for start_s, stop_s in driver.spans:
        first, last = round(start_s / step_s), round(stop_s / step_s)
        if 0 <= first < last and first < count:
            dominant[first] += 1.0
            dominant[min(last, count)] -= 1.0
    state = np.clip(np.cumsum(dominant[:count]), 0.0, 1.0)
    window = max(1, round(driver.slope_s / step_s))
    padded = np.concatenate([np.zeros(window), state])
    running = np.concatenate([[0.0], np.cumsum(padded)])
    ramp = (running[window + 1 :] - running[1:-window]) / window  # a box filter makes a straight ramp of each edge
    targets = bus.supply_v - np.clip(ramp, 0.0, 1.0) * (bus.supply_v - driver.low_v)
    idle: list[float] = np.where(ramp > 1e-9, targets, NEVER_V).tolist()  # a driver at rest sinks nothing
    return idle


def _solve(
    bus: LinBus, sinks: dict[str, tuple[list[float], list[float]]], wire: Volts, step_s: float, count: int
) -> tuple[Volts, Volts]:
    top = bus.top_v
    (near_sinks, near_siemens), (far_sinks, far_siemens) = sinks["near"], sinks["far"]
    near_pull, far_pull = bus.near_siemens, bus.far_siemens
    near_store, far_store = bus.near_f / step_s, bus.far_f / step_s
    (near_leak, near_inflow), (far_leak, far_inflow) = (_leaks(bus, side) for side in ("near", "far"))
    near_v = far_v = top
    near, far = [0.0] * count, [0.0] * count
    for place, joint in enumerate(wire.tolist()):
        near_goal, far_goal = near_sinks[place], far_sinks[place]
        held_near, held_far = near_store * near_v + near_inflow, far_store * far_v + far_inflow
        near_open, far_open = near_store + joint + near_leak, far_store + joint + far_leak
        conducts = near_v <= top, near_v >= near_goal, far_v <= top, far_v >= far_goal
        for _ in range(2):
            near_g, near_i, far_g, far_i = near_open, held_near, far_open, held_far
            if conducts[0]:
                near_g, near_i = near_g + near_pull, near_i + near_pull * top
            if conducts[1]:
                sink = near_siemens[place]
                near_g, near_i = near_g + sink, near_i + sink * near_goal
            if conducts[2]:
                far_g, far_i = far_g + far_pull, far_i + far_pull * top
            if conducts[3]:
                sink = far_siemens[place]
                far_g, far_i = far_g + sink, far_i + sink * far_goal
            determinant = near_g * far_g - joint * joint
            near_v = (near_i * far_g + joint * far_i) / determinant
            far_v = (far_i * near_g + joint * near_i) / determinant
            settled = near_v <= top, near_v >= near_goal, far_v <= top, far_v >= far_goal
            if settled == conducts:
                break
            conducts = settled
        near[place], far[place] = near_v, far_v
    return np.array(near), np.array(far)


def _deepest(bus: LinBus, drivers: Sequence[Driver], step_s: float, count: int) -> tuple[list[float], list[float]]:
    """Of several drivers on one side only the one that pulls lowest carries the current: where to, and its conductance."""
    if not drivers:
        return [NEVER_V] * count, [1.0 / bus.driver_ohm] * count
    targets = np.array([_sink_targets(bus, driver, step_s, count) for driver in drivers])
    siemens = np.array([1.0 / (bus.driver_ohm + driver.ground_ohm) for driver in drivers])
    lowest: list[float] = targets.min(axis=0).tolist()
    conductance: list[float] = siemens[targets.argmin(axis=0)].tolist()
    return lowest, conductance


def _leaks(bus: LinBus, side: Side) -> tuple[float, float]:
    siemens = 1.0 / bus.probe_ohm + sum(1.0 / leak.ohm for leak in bus.leaks if leak.side == side)
    inflow = sum(leak.to_v / leak.ohm for leak in bus.leaks if leak.side == side)
    return siemens, inflow


def contact_resistance(
    rng: "np.random.Generator",  # in quotes: numpy loads its random part only where it is used
    *,
    count: int,
    step_s: float,
    steady_ohm: float,
    bursts_per_s: float = 0.0,
    burst_s: float = 4e-3,
    flick_s: float = 40e-6,
    worst_ohm: float = OPEN_OHM,
) -> Volts:
    """Resistance over time of a corroded contact that is shaken.

    Between bursts it holds ``steady_ohm``; in a burst it flicks, for about ``flick_s`` at a time, to a resistance drawn
    evenly on a logarithmic scale up to ``worst_ohm``.

    Parameters
    ----------
    rng : numpy.random.Generator
        Seeded by the caller.
    count : int
        Number of steps.
    step_s : float
        Their spacing, seconds.
    steady_ohm, worst_ohm : float
        Resistance at rest, and the highest in a burst.
    bursts_per_s : float
        Mean rate of bursts (their starts are independent of each other).
    burst_s, flick_s : float
        Mean length of a burst, and of a flick and the rest after it, seconds.

    Returns
    -------
    ndarray of float64, shape (count,)
        Ohms.
    """
    ohm = np.full(count, steady_ohm)
    span = count * step_s
    for start_s in np.sort(rng.uniform(0.0, span, rng.poisson(bursts_per_s * span))):
        at, stop = start_s, start_s + rng.exponential(burst_s)
        while at < stop:
            length = rng.exponential(flick_s)
            high = np.exp(rng.uniform(np.log(max(10.0 * steady_ohm, 1e4)), np.log(worst_ohm)))
            ohm[int(at / step_s) : int((at + length) / step_s) + 1] = high
            at += length + rng.exponential(3.0 * flick_s)
    return ohm
