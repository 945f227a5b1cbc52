"""The physical layer of one LIN channel as a table: levels, edges, duty cycles and times, each against its limit."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.lin_edge_shapes import EdgeShapes, edge_shapes
from loomlight.signal.lin_examination import (
    DOMINANT_SHARE,
    DRIVER_HIGH_SHARE,
    DRIVER_LOW_SHARE,
    RECESSIVE_SHARE,
    LineReading,
    Supply,
)
from loomlight.signal.lin_rise import constant_measures, edge_constants
from loomlight.signal.lin_thresholds import thresholds
from loomlight.signal.lin_timing import timing
from loomlight.signal.measure import Measure, at_least, at_most
from loomlight.signal.progress import Progress, unwatched

DUTY = (
    # name, rising level, falling level (shares of the supply), limit, its sense, bit time of the definition
    ("D1", 0.744, 0.581, 0.396, "least", 50e-6),
    ("D2", 0.422, 0.284, 0.581, "most", 50e-6),
    ("D3", 0.778, 0.616, 0.417, "least", 96e-6),
    ("D4", 0.389, 0.251, 0.590, "most", 96e-6),
)
"""Duty cycles and the levels they are read at (LIN 2.2, parameters 27 to 30)."""
LOADS = "defined for 1 nF/1 kΩ, 6.8 nF/660 Ω and 10 nF/500 Ω on the driver's own supply: shown, not judged"
TRANSMITTER = "LIN 2.x transmitter levels as printed in data sheets; ISO 17987-4"

Times = npt.NDArray[np.float64]


def physical_layer(channel: Channel, line: LineReading, progress: Progress = unwatched) -> tuple[Measure, ...]:
    """Everything that one channel shows of the physical layer.

    Parameters
    ----------
    channel : Channel
        Evenly spaced samples, volts.
    line : LineReading
        Read off that channel.
    progress : Progress
        0 to 1.

    Returns
    -------
    tuple of Measure
        Empty where the line does not talk.
    """
    traffic = line.received if line.received is not None and line.received.frames else line.seen
    if traffic is None or line.supply is None or line.levels is None:
        return ()
    low, amplitude = line.levels.low, line.levels.amplitude
    shares = [share for _, rise, fall, *_ in DUTY for share in (rise, fall)]
    shares += [DOMINANT_SHARE, RECESSIVE_SHARE]
    levels_v = (low + 0.2 * amplitude, low + 0.8 * amplitude, *(share * line.supply.volts for share in shares))
    shapes = edge_shapes(channel, traffic, levels_v, progress)
    bits_s = np.array([frame.bit_s for frame in traffic.frames])
    bit_s = float(np.median(bits_s)) if bits_s.size else np.inf
    return (
        *_levels(line, line.supply),
        *thresholds(line, line.supply, shapes.at_s[:, -2:], shapes.rising, bit_s),
        *_slopes(shapes, amplitude, channel),
        *constant_measures(edge_constants(channel, line)),
        *_duties(shapes, bits_s),
        *timing(traffic, channel.start_s, channel.stop_s),
    )


def _levels(line: LineReading, supply: Supply) -> list[Measure]:
    where = (
        "given at the node's pin, less one diode"
        if supply.source == "given"
        else "two diode drops above the resting line"
    )
    group, half_v = "levels", (supply.high_v - supply.low_v) / 2
    found = [
        Measure(group, "supply of the node", supply.volts, "V", note=f"{where}; ±{half_v:.1f} V"),
    ]
    least = DRIVER_HIGH_SHARE * supply.volts
    if line.recessive_v is not None:
        found.append(at_least(group, "recessive", line.recessive_v, "V", least, f"{least:.2f} V", TRANSMITTER))
    most = DRIVER_LOW_SHARE * supply.volts
    for talker in line.talkers:
        volts = line.levels_of(talker)
        note = f"{volts.size} parts of frames, {np.ptp(volts) * 1e3:.0f} mV from lowest to highest"
        found.append(
            at_most(
                group,
                f"dominant, {talker}",
                float(np.median(volts)),
                "V",
                most,
                f"{most:.2f} V",
                TRANSMITTER,
                note=note,
            )
        )
        resting = line.recessive_of(talker)
        if resting.size:
            note = f"between its bits: {resting.size} parts, {np.ptp(resting) * 1e3:.0f} mV from lowest to highest"
            name, shown = f"recessive, {talker}", f"{least:.2f} V"
            found.append(at_least(group, name, float(np.median(resting)), "V", least, shown, TRANSMITTER, note=note))
    return found


def _slopes(shapes: EdgeShapes, amplitude: float, channel: Channel) -> list[Measure]:
    """Fall and rise between 20 % and 80 % of the way (IEEE 181), as slew and as the whole way's time."""
    assert channel.step_s is not None
    took = np.abs(shapes.at_s[:, 1] - shapes.at_s[:, 0])
    found, whole = [], {}
    for rising, name in ((False, "falling edge"), (True, "rising edge")):
        times = took[(shapes.rising == rising) & np.isfinite(took)]
        if not times.size:
            continue
        median = float(np.median(times))
        whole[rising] = median / 0.6
        too_coarse = median < 2 * channel.step_s
        note = "no longer than two samples: it may be faster" if too_coarse else f"{times.size} edges, 20 % to 80 %"
        found.append(
            Measure(
                "edges",
                f"{name}, slew",
                None if too_coarse else 0.6 * amplitude / median,
                "V/s",
                "1 to 3 V/µs in LIN 1.3; LIN 2.x bounds the duty cycle instead",
                "LIN 1.3 (from memory)",
                None,
                note,
            )
        )
    if len(whole) == 2:
        found.append(
            Measure(
                "edges",
                "rise longer than fall by",
                whole[True] - whole[False],
                "s",
                "4 to 5 µs either way for a driver alone",
                "a transceiver's data sheet; the bus's capacitance and pull-ups add to the rise",
            )
        )
    return found


def _duties(shapes: EdgeShapes, bits_s: Times) -> list[Measure]:
    """Duty cycles over the sync fields, where the bits alternate."""
    found = []
    for number, (name, _, _, limit, sense, bit_s) in enumerate(DUTY):
        values = _recessive_shares(shapes, 2 + 2 * number, bits_s)
        if not values.size:
            continue
        worst = float(values.min() if sense == "least" else values.max())
        limit_text = f"at {sense} {limit:g}, at a bit of {bit_s * 1e6:.0f} µs"
        found.append(
            Measure("edges", f"duty cycle {name}", worst, "", limit_text, "LIN 2.2, parameters 27 to 30", None, LOADS)
        )
    return found


def _recessive_shares(shapes: EdgeShapes, column: int, bits_s: Times) -> Times:
    """Recessive time over two bits, for each recessive bit of the sync fields."""
    shares = []
    for frame in np.unique(shapes.frame):
        mine = shapes.frame == frame
        at_s, rising = shapes.at_s[mine], shapes.rising[mine]
        # Break falls and rises; then the sync field's five dominant bits alternate with recessive ones.
        rises = at_s[2:][rising[2:], column][:4]
        falls = at_s[2:][~rising[2:], column + 1][1:5]
        if not rising[:1].any() and rises.size == falls.size == 4:
            shares.append((falls - rises) / (2 * bits_s[frame]))
    joined = np.concatenate(shares) if shares else np.empty(0)
    kept: Times = joined[np.isfinite(joined) & (joined > 0) & (joined < 1)]
    return kept
