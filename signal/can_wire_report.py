"""What one wire of a CAN bus carried: its report, its broken frames, its dominant level over time."""

from collections import Counter
from collections.abc import Iterator, Mapping

import numpy as np
import numpy.typing as npt

from loomlight.signal.can_decode import CanTraffic
from loomlight.signal.can_wire import WireLevels
from loomlight.signal.capture import Channel
from loomlight.signal.examination import BusReport, TalkerLevel
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.line_faults import median
from loomlight.signal.track import Track

Floats = npt.NDArray[np.float64]


def bus_report(
    channel: Channel, traffic: CanTraffic | None, levels: Mapping[int, Floats], *, recessive_v: float
) -> BusReport:
    """What the bus carried, in figures.

    Parameters
    ----------
    channel : Channel
        The wire.
    traffic : CanTraffic or None
        None where no bit time could be found.
    levels : mapping of int to ndarray
        Dominant level of each good frame by identifier, volts.
    recessive_v : float
        Where the wire rests, volts.
    """
    if traffic is None:
        return BusReport(None, 0, 0, 0, (), None, "unknown")
    wrong = [one.state for one in traffic.frames if one.state not in ("good", "past the end")]
    good = {one.identifier for one in traffic.frames if one.identifier is not None and one.state == "good"}
    busy_s = sum(one.stop_s - one.start_s for one in traffic.frames)
    return BusReport(
        bit_rate=1.0 / traffic.bit_s,
        frames=len(traffic.frames),
        no_response=0,
        errors=len(wrong),
        identifiers=tuple(sorted(good)),
        supply_v=None,
        supply_from="unknown",
        talkers=tuple(
            TalkerLevel(f"0x{identifier:X}", median(volts), recessive_v, float(np.ptp(volts)), int(volts.size))
            for identifier, volts in levels.items()
        ),
        load=busy_s / max(channel.stop_s - channel.start_s, 1e-12),
        error_counts=tuple(Counter(wrong).items()),
    )


def frame_findings(channel: Channel, traffic: CanTraffic | None) -> Iterator[Finding]:
    """Frames that could not be read, or that nobody acknowledged."""
    for frame in traffic.frames if traffic is not None else ():
        if frame.state in ("good", "past the end"):
            continue
        name = frame.name
        rule = f"frame {name}: {frame.problem}" if name else frame.problem
        severity: Severity = "mild" if frame.state == "no acknowledge" else "severe"
        yield Finding("frame error", channel.name, frame.start_s, frame.stop_s, 1.0, "", rule, severity)


def level_tracks(traffic: CanTraffic | None, wire: WireLevels | None, name: str) -> tuple[Track, ...]:
    """Dominant level of each frame over time, under this name."""
    if traffic is None or wire is None or not traffic.frames:
        return ()
    times_s = np.array([one.start_s for one in traffic.frames])
    return (Track(name, "V", times_s, wire.dominant_v, "each frame's own, acknowledge slot left out"),)
