"""How fast a LIN line rises and falls: time constants, by who drives, and the resistance that they speak of.

A driver pulls down; only the pull-ups bring the line up again. So the rise tells the pull-ups beside the bus's capacitance,
and the fall behind a resistance tells that resistance beside the capacitance there.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.lin_bus_frames import chosen_traffic
from loomlight.signal.lin_examination import LineReading
from loomlight.signal.measure import Measure
from loomlight.signal.series_resistance import Ohms

SPAN = (0.2, 0.6)
"""Shares of the way between which an edge is timed: low enough for single bits, above where the driver lets go."""
MOST_EDGES, FEWEST_EDGES = 400, 5
REACH_BITS, REACH_S = 2.5, 150e-6
MOST_TAU_S = 5e-6
"""Greatest time constant of a bus within the standard (LIN 2.x: 1 to 5 µs, from memory; its test loads give 1.0 to 5.0 µs)."""
LOST_TAU_S = 3 * MOST_TAU_S
"""No pull-up of 1 kΩ rises this slowly with all that LIN allows on a bus."""
BUS_F = (1e-9, 10e-9)
"""Capacitance of a whole bus (LIN 2.x, from memory; both are its test loads)."""
FAR_F = (0.15e-9, 1.5e-9)
"""Capacitance beyond a joint: a responder's 220 pF, a piece of wire, a probe (LIN 2.x; the wire from memory)."""
ALL = "all"

Times = npt.NDArray[np.float64]


@dataclass(frozen=True)
class TimeConstant:
    """One talker's edges as an exponential.

    Attributes
    ----------
    talker : str
        Who drove; `ALL` for all edges together.
    tau_s, low_s, high_s : float
        Time constant and its interval, seconds.
    edges : int
        How many it comes from.
    is_resolved : bool
        Whether it stands above two sample steps and above the driver's own slope; if not, ``high_s`` bounds it.
    """

    talker: str
    tau_s: float
    low_s: float
    high_s: float
    edges: int
    is_resolved: bool


@dataclass(frozen=True)
class EdgeConstants:
    """Time constants of rise and fall, `ALL` first, then by talker; empty where there are too few edges."""

    rise: tuple[TimeConstant, ...]
    fall: tuple[TimeConstant, ...]

    def of(self, talker: str, *, rising: bool) -> TimeConstant | None:
        """That of one talker."""
        return next((one for one in (self.rise if rising else self.fall) if one.talker == talker), None)


def edge_constants(channel: Channel, line: LineReading, *, slope_s: float | None = None) -> EdgeConstants:
    """Fit the edges of one channel.

    Parameters
    ----------
    channel : Channel
        Evenly spaced samples, volts.
    line : LineReading
        Read off it.
    slope_s : float, optional
        A driver's way from rail to rail, seconds; without it what this channel's fastest kind of edge shows.

    Notes
    -----
    For an exponential towards the level it ends at, the time from 20 % to 60 % of the way is τ · ln 2. A straight ramp of
    the same length looks like 0.58 times its whole way, so nothing below that is an exponential.
    """
    traffic = chosen_traffic(line)
    if traffic is not None and not traffic.frames and line.received is not None:
        traffic = line.received
    if traffic is None or line.levels is None or channel.step_s is None:
        return EdgeConstants((), ())
    reach_s = REACH_BITS * traffic.bit_s if traffic.bit_s else REACH_S
    places = np.arange(traffic.edges_s.size)
    is_rise = (places % 2 == 1) == traffic.starts_recessive
    took: dict[bool, tuple[Times, Times]] = {}
    for rising in (True, False):
        edges = places[is_rise == rising]
        chosen = edges[np.unique(np.linspace(0, max(edges.size - 1, 0), min(edges.size, MOST_EDGES)).astype(np.int64))]
        took[rising] = traffic.edges_s[chosen], _took(channel, line, traffic.edges_s, chosen, rising, reach_s)
    fall_s = took[False][1][np.isfinite(took[False][1])]
    ramp_s = slope_s if slope_s is not None else float(np.median(fall_s)) / (SPAN[1] - SPAN[0]) if fall_s.size else 0.0
    least_s = max(ramp_s, 2.0 * channel.step_s)
    rise = _by_talker(line, *took[True], least_s)
    # A fall shows nothing but its driver, unless that driver's slope is known from elsewhere.
    fall = _by_talker(line, *took[False], least_s if slope_s is not None else np.inf)
    return EdgeConstants(rise, fall)


def _took(
    channel: Channel, line: LineReading, edges_s: Times, chosen: npt.NDArray[np.int64], rising: bool, reach_s: float
) -> Times:
    """Time from 20 % to 60 % of the way for each edge, seconds; not-a-number where it does not get that far."""
    assert line.levels is not None
    assert channel.step_s is not None
    low, amplitude = line.levels.low, line.levels.amplitude
    near, far = (share if rising else 1.0 - share for share in SPAN)
    found = np.full(chosen.size, np.nan)
    for number, place in enumerate(chosen.tolist()):
        at_s = edges_s[place]
        before = max(at_s - reach_s, edges_s[place - 1] if place else channel.start_s)
        after = min(at_s + reach_s, edges_s[place + 1] if place + 1 < edges_s.size else channel.stop_s)
        first = channel.index_at(float(before))
        values = channel.samples.block(first, min(channel.index_at(float(after)) + 1, channel.samples.size))
        way = (values.astype(np.float64) - low) / amplitude
        way, start, stop = (way, near, far) if rising else (1.0 - way, 1.0 - near, 1.0 - far)
        middle = min(max(int((at_s - channel.start_s) / channel.step_s) - first, 0), way.size - 1)
        under = np.flatnonzero(way[: middle + 1] < start)
        over = np.flatnonzero(way > stop)
        over = over[over > under[-1]] if under.size else over[:0]
        if under.size and over.size and under[-1] + 1 < way.size:
            found[number] = channel.step_s * (
                _passes(way, int(over[0]) - 1, stop) - _passes(way, int(under[-1]), start)
            )
    return found


def _passes(way: Times, before: int, level: float) -> float:
    """Where a row passes a level after one place, in places."""
    rise = way[before + 1] - way[before]
    return before + (float((level - way[before]) / rise) if rise > 0 else 0.0)


def _by_talker(line: LineReading, edges_s: Times, took_s: Times, least_s: float) -> tuple[TimeConstant, ...]:
    who = [line.part_at(at_s) for at_s in edges_s.tolist()]
    names = np.array([one.talker if one is not None else "" for one in who])
    found = [_constant(ALL, took_s, least_s)]
    found += [_constant(talker, took_s[names == talker], least_s) for talker in line.talkers]
    return tuple(one for one in found if one is not None)


def _constant(talker: str, took_s: Times, least_s: float) -> TimeConstant | None:
    taus = took_s[np.isfinite(took_s)] / np.log((1.0 - SPAN[0]) / (1.0 - SPAN[1]))
    if taus.size < FEWEST_EDGES:
        return None
    tau_s = float(np.median(taus))
    # The median's own spread, from the middle half of the edges; and what the resting level's place leaves open.
    upper, lower = np.percentile(taus, [75, 25]).tolist()
    half = 2.0 * 1.2533 * (upper - lower) / 1.349 / float(np.sqrt(taus.size)) + 0.03 * tau_s
    return TimeConstant(talker, tau_s, max(tau_s - half, 0.0), tau_s + half, taus.size, tau_s > least_s)


def through_capacitance(constant: TimeConstant, farads: tuple[float, float]) -> Ohms:
    """Resistance that makes a time constant with some capacitance; the best value is the middle by ratio."""
    low, high = constant.low_s / farads[1], constant.high_s / farads[0]
    return Ohms(float(np.sqrt(low * high)), low, high)


def constant_measures(constants: EdgeConstants) -> tuple[Measure, ...]:
    """The rises as lines of a table: all together, and by talker where any stands above its driver's own slope."""
    found = []
    told = constants.rise if any(one.is_resolved for one in constants.rise) else constants.rise[:1]
    for one in told:
        name = "rise, time constant" + ("" if one.talker == ALL else f", {one.talker}")
        note = f"{one.edges} edges, 20 % to 60 %"
        if not one.is_resolved:
            note += f"; no slower than the driver's own slope: under {one.high_s * 1e6:.3g} µs"
        found.append(
            Measure(
                "edges",
                name,
                one.tau_s if one.is_resolved else None,
                "s",
                f"1 to {MOST_TAU_S * 1e6:.0f} µs",
                "LIN 2.x (from memory); its test loads give 1.0 to 5.0 µs",
                False if one.is_resolved and one.low_s > MOST_TAU_S else None,
                note,
                one.low_s if one.is_resolved else None,
                one.high_s,
            )
        )
    return tuple(found)
