"""Edges by identifier: the node whose edges are slower is the one pointed to, and alike nodes are left in peace."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers import can
from loomlight.signal.beside import Beside
from loomlight.signal.can_examination import CanExamination
from loomlight.signal.can_talker_edges import TalkerEdge, odd_edge
from loomlight.signal.comparison import Comparison, check
from loomlight.signal.examination import Conditions


def _checked(case: can.Case, rng: np.random.Generator) -> tuple[Comparison, can.Recording]:
    found = can.recording(case, rng, None)
    first, *others = found.capture.channels
    besides = tuple(Beside("other wire", one) for one in others if one.name == "CAN-L")
    return check(first, kind="can", conditions=Conditions(besides=besides)), found


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_node_with_slow_edges_is_pointed_to(seed: int) -> None:
    rng = np.random.default_rng(seed)
    case = can.healthy(rng, samples_per_s=20e6)
    while case.recorded != "both wires" or len(case.bus.nodes) < 4:
        case = can.healthy(rng, samples_per_s=20e6)
    slow = [
        replace(one, slope_s=5.0 * one.slope_s + 200e-9) if not place else one
        for place, one in enumerate(case.bus.nodes)
    ]
    case = replace(case, bus=replace(case.bus, nodes=tuple(slow), solved={}), count=4 * case.count)
    found, recording = _checked(case, rng)
    assert isinstance(found.looked, CanExamination)
    edges = {one.name: one.time_s for one in found.looked.pair.edges}
    names = [(one.frame.identifier, 8 if one.frame.extended else 3) for one in recording.sent if one.node == 0]
    theirs = {f"0x{identifier:0{digits}X}" for identifier, digits in names}
    slowest = max(edges, key=lambda name: edges[name])
    assert slowest in theirs


def _edges(*times_s: float) -> tuple[TalkerEdge, ...]:
    return tuple(TalkerEdge(f"0x{number:03X}", time_s, 40) for number, time_s in enumerate(times_s))


def test_one_alone_stands_apart_and_few_tell_nothing() -> None:
    odd = odd_edge(_edges(50e-9, 55e-9, 52e-9, 160e-9), 10e-9)
    assert odd is not None
    assert odd.slow.name == "0x003"
    assert odd.times == pytest.approx(160 / 52)
    assert odd_edge(_edges(50e-9, 55e-9, 52e-9, 60e-9), 10e-9) is None
    assert odd_edge(_edges(50e-9, 160e-9, 52e-9), 10e-9) is None
    assert odd_edge(_edges(50e-9, 55e-9, 52e-9, 160e-9), 200e-9) is None
    few = (*_edges(50e-9, 55e-9, 52e-9), TalkerEdge("0x7FF", 160e-9, 12))
    assert odd_edge(few, 10e-9) is None
