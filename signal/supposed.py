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
from loomlight.signal.supposal import Supposal, SupposedFault

SERIES, OPEN, GROUND, BATTERY = "series resistance", "open", "short to ground", "short to battery"
PULL_UP, NODE_GROUND = "lost commander pull-up", "bad ground of a responder"
FAULTS = (
    Supposal(SERIES, "Ω", 2200.0),
    Supposal(OPEN),
    Supposal(GROUND, "Ω", 10.0),
    Supposal(BATTERY, "Ω", 10.0),
    Supposal(PULL_UP),
    Supposal(NODE_GROUND, "Ω", 330.0),
)
SIZED = frozenset(one.name for one in FAULTS if one.unit)
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
    begin_s = start_s - LEAD_S
    talks = talks_in(line, traffic, begin_s, stop_s)
    return sent_through(
        talks, line, fault, start_s, stop_s, name=f"supposed: {fault.in_words()}", source=good.channel.name
    )


Talks = list[tuple[str, float, Spans]]
"""Talker, the level where it puts the line, and its dominant stretches."""


def sent_through(
    talks: Talks,
    line: LineReading,
    fault: SupposedFault,
    start_s: float,
    stop_s: float,
    *,
    name: str,
    source: str,
    near_f: float = 0.0,
) -> Channel:
    """Traffic sent through the circuit model with a fault in it.

    Parameters
    ----------
    talks : list of (str, float, ndarray)
        Who drives when, from `LEAD_S` before the stretch on.
    line : LineReading
        Whose supply and resting level the bus has.
    fault : SupposedFault
        What is in it.
    start_s, stop_s : float
        The stretch, at most `LONGEST_S`.
    name, source : str
        Of the new channel, and of the one that it is worked out from.
    near_f : float
        Capacitance on the commander's side, farads; 0 for a usual one.

    Raises
    ------
    CannotUse
        If the fault's size is missing or not above 0.
    """
    if fault.kind in SIZED and not (fault.size is not None and fault.size > 0):
        raise CannotUse(f"A resistance must be above 0 Ω, got {fault.size}.")
    begin_s = start_s - LEAD_S
    bus = _bus(line, fault, near_f)
    drivers = [
        Driver(
            "far" if talker in fault.beyond else "near",
            low_v - _own_drop(bus, low_v, fault, is_behind=talker in fault.beyond),
            (spans - begin_s).tolist(),
            slope_s=SLOPE_S,
            ground_ohm=(fault.size or 0.0) if fault.kind == NODE_GROUND and talker in fault.beyond else 0.0,
        )
        for talker, low_v, spans in talks
        if not (fault.kind == OPEN and talker in fault.beyond)  # it hears no header and does not answer
    ]
    count = round((stop_s - begin_s) / SOLVE_S)
    near, far = simulate(bus, drivers, series_ohm=_joint(fault), step_s=SOLVE_S, count=count)
    seen = near if fault.before else far
    return Channel(
        name=name,
        unit="V",
        samples=FloatSamples(seen[round(LEAD_S / SOLVE_S) :].astype(np.float32)),
        start_s=start_s,
        step_s=SOLVE_S,
        history=(f"worked out from {source} through the circuit model",),
    )


def talks_in(line: LineReading, traffic: LinTraffic, start_s: float, stop_s: float) -> Talks:
    """What one channel shows of who drives when, within a stretch."""
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


def _bus(line: LineReading, fault: SupposedFault, near_f: float) -> LinBus:
    assert line.supply is not None
    assert line.recessive_v is not None
    battery_v = line.supply.volts + SUPPLY_DIODE_V
    to_v = {GROUND: 0.0, BATTERY: battery_v}.get(fault.kind)
    usual = LinBus()
    return LinBus(
        commander_ohm=OPEN_OHM if fault.kind == PULL_UP else usual.commander_ohm,
        near_f=near_f or usual.near_f,
        battery_v=battery_v,
        supply_diode_v=SUPPLY_DIODE_V,
        pull_up_diode_v=max(line.supply.volts - line.recessive_v, 0.0),
        leaks=() if to_v is None else (Leak("far", fault.size or 0.0, to_v),),
    )


def _own_drop(bus: LinBus, level_v: float, fault: SupposedFault, *, is_behind: bool) -> float:
    """What a driver's own resistance has in the level that was measured: the model adds it again."""
    pull = bus.near_siemens + bus.far_siemens
    if is_behind and fault.kind == SERIES and fault.size:
        pull = bus.far_siemens + 1.0 / (fault.size + 1.0 / bus.near_siemens)
    sunk_a = pull * (bus.top_v - level_v) / (1.0 + pull * bus.driver_ohm)
    return max(bus.driver_ohm * sunk_a, 0.0)


def _joint(fault: SupposedFault) -> float:
    if fault.kind == SERIES:
        return fault.size or JOINT_OHM
    return OPEN_OHM if fault.kind == OPEN else JOINT_OHM


def ready(good: Examination) -> bool:
    """Whether frames were read that can be sent again."""
    return bool(good.frames)
