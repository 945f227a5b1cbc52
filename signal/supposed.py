"""What a LIN wire would show if it had some fault: the known-good's traffic sent through the circuit model."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.circuit import OPEN_OHM, Driver, Leak, LinBus, simulate
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Examination
from loomlight.signal.lin_bus_frames import chosen_traffic
from loomlight.signal.lin_decode import LinTraffic
from loomlight.signal.lin_examination import SUPPLY_DIODE_V, LineReading, LinExamination
from loomlight.signal.lin_parts import COMMANDER, talks_of
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import FloatSamples
from loomlight.signal.spans import Spans, common, spans_of
from loomlight.signal.supposal import Supposal, SupposedFault, Supposer

FAULTS = (
    Supposal("series resistance", "Ω", 2200.0),
    Supposal("open"),
    Supposal("short to ground", "Ω", 10.0),
    Supposal("short to battery", "Ω", 10.0),
)
SOLVE_S = 1e-6
LONGEST_S = 0.1
"""What is solved at a time: some half second of work."""
LEAD_S = 1e-3
"""Solved before the stretch that was asked for, so that the line has settled."""
JOINT_OHM = 0.02
"""A sound wire."""
SLOPE_S = 12e-6
"""A driver's way from rail to rail where the capture does not show it (a transceiver's data sheet)."""


def talkers_of(good: Examination) -> tuple[str, ...]:
    """Responders that may sit behind the fault."""
    assert isinstance(good, LinExamination)
    return tuple(one for one in good.line.talkers if one != COMMANDER)


def supposed(good: Examination, fault: SupposedFault, start_s: float, stop_s: float) -> Channel:
    """The suspect's end of the wire as the fault would leave it.

    Parameters
    ----------
    good : LinExamination
        A known-good of the bus: its frames are sent, its levels are the drivers'.
    fault : SupposedFault
        What to suppose.
    start_s, stop_s : float
        Stretch on the known-good's axis, at most `LONGEST_S`.

    Raises
    ------
    CannotUse
        If the known-good carries no frames there, or the stretch is too long.

    Notes
    -----
    Pull-ups, capacitances and the number of nodes are those of a usual bus (`LinBus`): the picture shows the fault's kind
    and size, not this vehicle's last detail.
    """
    assert isinstance(good, LinExamination)
    line, traffic = good.line, chosen_traffic(good.line)
    if traffic is None or line.supply is None or line.recessive_v is None:
        raise CannotUse(f"{good.channel.name!r} carries no frames, so nothing can be supposed from it.")
    if not 0 < stop_s - start_s <= LONGEST_S:
        raise CannotUse(
            f"Zoom in to {in_words(LONGEST_S, 's')} or less: what is supposed is worked out for what is in sight."
        )
    if fault.kind != "open" and not (fault.size is not None and fault.size > 0):
        raise CannotUse(f"A resistance must be above 0 Ω, got {fault.size}.")
    begin_s = start_s - LEAD_S
    drivers = [
        Driver("far" if talker in fault.beyond else "near", low_v, (spans - begin_s).tolist(), slope_s=SLOPE_S)
        for talker, low_v, spans in _talks(line, traffic, begin_s, stop_s)
        if not (fault.kind == "open" and talker in fault.beyond)  # it hears no header and does not answer
    ]
    count = round((stop_s - begin_s) / SOLVE_S)
    _, far = simulate(_bus(line, fault), drivers, series_ohm=_joint(fault), step_s=SOLVE_S, count=count)
    lead = round(LEAD_S / SOLVE_S)
    return Channel(
        name=f"supposed: {fault.in_words()}",
        unit="V",
        samples=FloatSamples(far[lead:].astype(np.float32)),
        start_s=start_s,
        step_s=SOLVE_S,
        history=(f"worked out from {good.channel.name} through the circuit model",),
    )


def _talks(line: LineReading, traffic: LinTraffic, start_s: float, stop_s: float) -> list[tuple[str, float, Spans]]:
    """Talker, the level where it puts the line, and its dominant stretches."""
    frames = [frame for frame in traffic.frames if frame.stop_s > start_s and frame.start_s < stop_s]
    said: dict[str, list[tuple[float, float]]] = {}
    for frame in frames:
        half = 0.5 * frame.bit_s
        for talker, begin, end in talks_of(frame):
            said.setdefault(talker, []).append((begin - half, end - half))
    found = []
    for talker, stretches in said.items():
        low_v = line.level_of(talker)
        spans = common(traffic.dominant, spans_of(stretches))
        spans = spans[(spans[:, 1] > start_s) & (spans[:, 0] < stop_s)]
        if low_v is not None and len(spans):
            found.append((talker, low_v, np.maximum(spans, start_s)))
    return found


def _bus(line: LineReading, fault: SupposedFault) -> LinBus:
    assert line.supply is not None
    assert line.recessive_v is not None
    battery_v = line.supply.volts + SUPPLY_DIODE_V
    to_v = {"short to ground": 0.0, "short to battery": battery_v}.get(fault.kind)
    return LinBus(
        battery_v=battery_v,
        supply_diode_v=SUPPLY_DIODE_V,
        pull_up_diode_v=max(line.supply.volts - line.recessive_v, 0.0),
        leaks=() if to_v is None else (Leak("far", fault.size or 0.0, to_v),),
    )


def _joint(fault: SupposedFault) -> float:
    if fault.kind == "series resistance":
        return fault.size or JOINT_OHM
    return OPEN_OHM if fault.kind == "open" else JOINT_OHM


def _ready(good: Examination) -> bool:
    return bool(good.frames)


SUPPOSER = Supposer(FAULTS, talkers_of, _ready, supposed)
