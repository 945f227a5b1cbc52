"""The physical layer of one CAN channel as a table: levels, edges and times, each against its limit."""

import math

import numpy as np

from loomlight.signal.can_edge_shapes import EdgeShape
from loomlight.signal.can_examination import PairReading, Signature
from loomlight.signal.can_limits import (
    DIFFERENCE_V,
    HIGH_DOMINANT_V,
    LOW_DOMINANT_V,
    RECEIVER_V,
    RECESSIVE_V,
    SHEET,
    STANDARD,
    SYMMETRY,
    TRANSCEIVER_SUPPLY,
)
from loomlight.signal.can_talker_edges import odd_edge
from loomlight.signal.can_termination import from_levels
from loomlight.signal.can_timing import timing
from loomlight.signal.examination import BusReport, Conditions
from loomlight.signal.measure import Measure, at_most
from loomlight.signal.quantity import in_words

SETTLED = "once settled: read at 72 % of a bit, where one talker drives"
SEVERAL = "several drivers at once: shown, not judged"


def physical_layer(pair: PairReading, bus: BusReport | None, conditions: Conditions) -> tuple[Measure, ...]:
    """All figures that the channel, or the pair, shows."""
    found = [*_rest(pair), *_levels(pair, conditions), *_edges(pair), *timing(pair)]
    if bus is not None:
        found.append(Measure("traffic", "bus load", bus.load, "", note="share of time from start to end of frame"))
    ohms = from_levels(pair)
    if ohms is not None:
        found.append(
            Measure(
                "termination",
                "resistance between the wires",
                ohms.best,
                "Ω",
                "two of 120 Ω: 60 Ω",
                "ISO 11898-2",
                None,
                f"from {ohms.rests_on}; drivers differ, so the interval is wide",
                low=ohms.low,
                high=ohms.high,
            )
        )
    return tuple(found)


def _between(name: str, value: float, limits: tuple[float, float], note: str) -> Measure:
    least, most = limits
    shown = value if math.isfinite(value) else None
    kept = None if shown is None else least <= shown <= most
    return Measure("levels", name, shown, "V", f"{least:g} to {most:g} V", SHEET, kept, note)


def _rest(pair: PairReading) -> list[Measure]:
    rests = {"CAN-H": pair.high_rest, "CAN-L": pair.low_rest}
    found = [
        _between(f"{name} recessive", rest.rest_v, RECESSIVE_V, "the most frequent level")
        for name, rest in rests.items()
        if rest is not None
    ]
    if pair.wires.form in rests:
        found.append(_between(f"{pair.wires.form} recessive", pair.rest_v, RECESSIVE_V, "the most frequent level"))
        return found
    volts = pair.rest_v if math.isfinite(pair.rest_v) else None
    shown = f"{RECEIVER_V[0]:g} V"
    found.append(at_most("levels", "difference recessive", volts, "V", RECEIVER_V[0], shown, STANDARD))
    return found


def _levels(pair: PairReading, conditions: Conditions) -> list[Measure]:
    own = pair.signatures
    found: list[Measure] = []
    for name, limits, values in (
        ("CAN-H dominant", HIGH_DOMINANT_V, [one.high_v for one in own]),
        ("CAN-L dominant", LOW_DOMINANT_V, [one.low_v for one in own]),
        ("difference dominant", DIFFERENCE_V, [one.difference_v for one in own]),
    ):
        finite = [one for one in values if math.isfinite(one)]
        if not finite:
            continue
        found.append(_between(f"{name}, median", float(np.median(finite)), limits, SETTLED))
        found.append(_between(f"{name}, lowest identifier", min(finite), limits, SETTLED))
        found.append(_between(f"{name}, highest identifier", max(finite), limits, SETTLED))
    found += _common(own, pair, conditions)
    return found + (_several(pair) if own else _by_histogram(pair))


def _by_histogram(pair: PairReading) -> list[Measure]:
    """Too short for a whole frame: the most frequent level away from rest is the dominant one all the same."""
    rest, form = pair.wires.rest, pair.wires.form
    if rest is None or not rest.talks:
        return []
    limits = {"CAN-H": HIGH_DOMINANT_V, "CAN-L": LOW_DOMINANT_V}.get(form, DIFFERENCE_V)
    volts = -rest.above_v if form == "CAN-L" else rest.above_v
    name = form if form in ("CAN-H", "CAN-L") else "difference"
    return [
        _between(f"{name} dominant", volts, limits, "the most frequent level away from rest; no whole frame was read")
    ]


def _common(own: tuple[Signature, ...], pair: PairReading, conditions: Conditions) -> list[Measure]:
    common = [one.common_v for one in own if math.isfinite(one.common_v)]
    if not common or pair.high_rest is None or pair.low_rest is None:
        return []
    rest = 0.5 * (pair.high_rest.rest_v + pair.low_rest.rest_v)
    supply = conditions.figure(TRANSCEIVER_SUPPLY) or 5.0
    worst = max(common, key=lambda one: abs(2.0 * one / supply - 1.0))
    sum_share = 2.0 * worst / supply
    kept = SYMMETRY[0] <= sum_share <= SYMMETRY[1]
    return [
        Measure("levels", "common mode recessive", rest, "V"),
        Measure("levels", "common mode dominant, median", float(np.median(common)), "V"),
        Measure(
            "levels",
            "sum of both wires, worst identifier",
            sum_share,
            "",
            f"{SYMMETRY[0]:g} to {SYMMETRY[1]:g} × supply",
            SHEET,
            kept,
            f"as a share of {supply:g} V, which the transceivers are taken to have",
        ),
    ]


def _several(pair: PairReading) -> list[Measure]:
    if pair.levels is None:
        return []
    found = []
    for name, rows in (("acknowledge", pair.levels.acknowledge), ("arbitration, highest", pair.levels.arbitration)):
        volts = rows[:, 0] - rows[:, 1] if rows.shape[1] == 2 else rows[:, 0]
        volts = volts[np.isfinite(volts)]
        if volts.size:
            middle = float(np.median(volts) if name == "acknowledge" else np.max(volts))
            found.append(Measure("levels", f"level in {name}", middle, "V", note=SEVERAL))
    return found


def _edges(pair: PairReading) -> list[Measure]:
    if pair.shapes is None:
        return []
    found = []
    for name, shape in (("to dominant", pair.shapes.to_dominant), ("to recessive", pair.shapes.to_recessive)):
        if shape is not None:
            found += _edge(name, shape, pair.axis.step_s)
    return found + _by_talker(pair)


def _by_talker(pair: PairReading) -> list[Measure]:
    """The quickest and the slowest identifier's edge, and whether one stands apart."""
    if len(pair.edges) < 2:
        return []
    found = []
    for word, one in (
        ("quickest", min(pair.edges, key=lambda edge: edge.time_s)),
        ("slowest", max(pair.edges, key=lambda edge: edge.time_s)),
    ):
        note = f"{one.name}, {one.edges} edges laid over one another"
        found.append(Measure("edges", f"edge to dominant, {word} identifier", one.time_s, "s", note=note))
    odd = odd_edge(pair.edges, pair.axis.step_s)
    if odd is not None:
        note = f"{odd.slow.name} stands apart from the others' {in_words(odd.usual_s, 's')}"
        found.append(Measure("edges", "slowest identifier, times the others", odd.times, "", note=note))
    return found


def _edge(name: str, shape: EdgeShape, step_s: float) -> list[Measure]:
    note = f"{shape.edges} edges laid over one another"
    if math.isfinite(shape.time_s) and shape.time_s < step_s:
        note += "; shorter than a sample step, so a figure to compare, not to trust alone"
    time_s = shape.time_s if math.isfinite(shape.time_s) else None
    return [
        Measure("edges", f"edge {name}, 10 % to 90 %", time_s, "s", note=note),
        Measure("edges", f"overshoot {name}", shape.overshoot, "", note="share of the step; ringing is no violation"),
        Measure(
            "edges",
            f"tail {name}",
            shape.lag_s,
            "s",
            note="area after the middle over the height: grows with resistance × capacitance",
        ),
    ]
