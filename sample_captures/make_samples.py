"""Make the sample job's captures from the circuit model, the same byte for byte each time.

The story is invented: on a minibus (a "Coachling 9-seat") the heater blower runs at full speed only. The blower regulator
hangs on a LIN bus of 19 200 bit/s with the climate panel (the commander) and the flap motor. A pin of the bulkhead
connector, on the regulator's branch, is corroded: a few kilohms at rest, flicking open while the body shakes. The flap
motor's wire on the same bus is the known-good one.

Run: ``python -m loomlight.sample_captures.make_samples [FOLDER]``
"""

import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from loomlight.sample_captures.kind_samples import write_kind_samples
from loomlight.signal.bus_traffic import COMMANDER, Slot, Traffic, traffic
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.circuit import Driver, LinBus, contact_resistance, simulate
from loomlight.signal.entry import Entry
from loomlight.signal.lin_words import header_stretches
from loomlight.signal.samples import CountSamples
from loomlight.storage.capture_file import write_capture
from loomlight.storage.safe_write import write_text

Volts = npt.NDArray[np.float64]

SEED = 20_260
SOLVE_S = 1e-6
CONVERTER_V = 40.0 / 4096
"""One step of a 12-bit converter over ±20 V."""
NOISE_V = 0.02
LOW_V = {COMMANDER: 0.92, "flap": 1.10, "blower": 1.02}
SIDE = {COMMANDER: "near", "flap": "near", "blower": "far"}
NO_GROUNDS: Mapping[str, float] = {}
KNOWN_GOOD_ID = "5c1f0d5e-6f0b-4c55-9a53-5b0f2a7a1e01"


def _panel_to_blower(round_number: int) -> bytes:
    return bytes([0x40 + round_number % 16, 0x6C, 0x00, 0xFF])


def _blower_status(round_number: int) -> bytes:
    return bytes([0x80 | round_number % 16, 0x6A, 0x31])


def _panel_to_flap(round_number: int) -> bytes:
    return bytes([0x24, 0x90 + round_number % 4])


def _flap_status(round_number: int) -> bytes:
    return bytes([0x24, 0x8F + round_number % 4, 0x55, 0x0E])


SCHEDULE = (
    Slot(0x10, COMMANDER, _panel_to_blower),
    Slot(0x21, "blower", _blower_status),
    Slot(0x12, COMMANDER, _panel_to_flap),
    Slot(0x22, "flap", _flap_status),
)


def record(
    bus: LinBus,
    *,
    series_ohm: float | Volts,
    seconds: float,
    first_round: int,
    lead_s: float = 1.7e-3,
    schedule: tuple[Slot, ...] = SCHEDULE,
    bit_rate: float = 19_200.0,
    slot_s: float = 8e-3,
    grounds: Mapping[str, float] = NO_GROUNDS,
) -> tuple[Volts, Volts, Traffic]:
    """Volts of the near and the far side at `SOLVE_S`, and what was sent.

    The regulator answers only where it could read the header through the wire, so the bus is solved twice. ``grounds`` gives
    the resistance in a node's own ground, ohms, where that is not sound.
    """
    count = round(seconds / SOLVE_S)

    def solved(sent: Traffic) -> tuple[Volts, Volts]:
        drivers = [
            Driver(SIDE[talker], LOW_V[talker], spans, ground_ohm=grounds.get(talker, 0.0))
            for talker, spans in sent.spans.items()
        ]
        return simulate(bus, drivers, series_ohm=series_ohm, step_s=SOLVE_S, count=count)

    def laid(hears: Callable[[str, float, float], bool]) -> Traffic:
        return traffic(
            schedule,
            bit_rate=bit_rate,
            slot_s=slot_s,
            start_s=lead_s,
            stop_s=seconds,
            first_round=first_round,
            hears=hears,
        )

    headers_only = laid(lambda talker, _start_s, _stop_s: talker != "blower")
    _, far = solved(headers_only)
    identifier = {frame.start_s: frame.frame_id for frame in headers_only.frames}
    sent = laid(
        lambda talker, start_s, _stop_s: (
            talker != "blower" or _reads_header(far, bus.supply_v, start_s, identifier[start_s], 1.0 / bit_rate)
        )
    )
    near, far = solved(sent)
    return near, far, sent


def _reads_header(far: Volts, supply_v: float, start_s: float, frame_id: int, bit_s: float) -> bool:
    """Whether a receiver on the far side gets each bit of the header right, sampled in its middle."""
    at_s = start_s
    for dominant, bits in header_stretches(frame_id):
        for bit in range(round(bits)):
            volts = far[round((at_s + (bit + 0.5) * bit_s) / SOLVE_S)]
            if (volts < 0.5 * supply_v) != dominant:
                return False
        at_s += bits * bit_s
    return True


def converted(rng: np.random.Generator, volts: Volts, every: int) -> npt.NDArray[np.int16]:
    """What a 12-bit converter makes of every ``every``-th sample, noise added."""
    noisy = volts[::every] + rng.normal(0.0, NOISE_V, volts[::every].size)
    return np.clip(np.round(noisy / CONVERTER_V), -2048, 2047).astype(np.int16)


def _rows(times: list[str], columns: list[npt.NDArray[np.int16]], *, separator: str, comma: bool) -> str:
    texts = [[f"{count * CONVERTER_V:.3f}" for count in column.tolist()] for column in columns]
    lines = (separator.join(cells) for cells in zip(times, *texts, strict=True))
    joined = "\n".join(lines) + "\n"
    return joined.replace(".", ",") if comma else joined


def _before(folder: Path) -> None:
    rng = np.random.default_rng(SEED)
    seconds = 0.1957
    count = round(seconds / SOLVE_S)
    ohm = contact_resistance(
        rng, count=count, step_s=SOLVE_S, steady_ohm=2200.0, bursts_per_s=45.0, burst_s=5e-3, flick_s=45e-6
    )
    near, far, _ = record(LinBus(battery_v=13.1), series_ohm=ohm, seconds=seconds, first_round=3)
    _write_comma(folder / "before.csv", converted(rng, far, 2), converted(rng, near, 2), start_s=-0.02)
    # The other instrument saw the same bus a little later, coarser and shorter.
    late = slice(round(0.06 / SOLVE_S), round(0.16 / SOLVE_S))
    columns = [converted(rng, volts[late], 4) for volts in (far, near)]
    times = [f"{place * 4e-3:.4f}" for place in range(columns[0].size)]
    head = "Zeit;blower LIN;flap LIN\n(ms);(V);(V)\n;;\n"
    write_text(folder / "before_other_layout.csv", head + _rows(times, columns, separator=";", comma=True))


def _after(folder: Path) -> None:
    rng = np.random.default_rng(SEED + 1)
    seconds = 0.1957
    near, far, _ = record(LinBus(battery_v=13.2), series_ohm=0.02, seconds=seconds, first_round=9, lead_s=4.3e-3)
    _write_comma(folder / "after.csv", converted(rng, far, 2), converted(rng, near, 2), start_s=-0.02)


def _write_comma(path: Path, suspect: npt.NDArray[np.int16], good: npt.NDArray[np.int16], *, start_s: float) -> None:
    head = (
        f"Record Length,{suspect.size}\nSample Interval,2e-06,s\nProbe Attenuation,10,10\nVertical Units,V,V\n\n"
        "Time (s),blower LIN (V),flap LIN (V)\n"
    )
    times = [f"{start_s + place * 2e-6:.6f}" for place in range(suspect.size)]
    write_text(path, head + _rows(times, [suspect, good], separator=",", comma=False))


def _known_good(folder: Path) -> None:
    rng = np.random.default_rng(SEED + 2)
    near, _, _ = record(LinBus(battery_v=12.9), series_ohm=0.02, seconds=0.1637, first_round=0, lead_s=2.9e-3)
    channel = Channel(
        name="flap LIN",
        unit="V",
        samples=CountSamples(converted(rng, near, 2), scale=CONVERTER_V, offset=0.0),
        start_s=-0.01,
        step_s=2e-6,
    )
    entry = Entry(
        id=KNOWN_GOOD_ID,
        title="Heater LIN at the flap motor",
        kind="lin",
        channel=channel.name,
        vehicle="Coachling 9-seat",
        system="heater and ventilation",
        component="flap motor",
        connector="flap motor plug, 3 way",
        pin="2",
        note="Ignition on, blower at step 3, body not shaken.",
        added="2026-03-02T10:15:00+00:00",
        source_name="flap_motor.csv",
    )
    capture = Capture("flap_motor.csv", "made from the circuit model", (channel,), ("Invented data.",))
    write_capture(folder / "known_good.h5", capture, entry=entry, created=entry.added)


def _other_vehicle(folder: Path) -> None:
    rng = np.random.default_rng(SEED + 3)
    schedule = (
        Slot(0x05, COMMANDER, lambda n: bytes([n % 256, 0x11, 0xA0])),
        Slot(0x2A, "flap", lambda n: bytes([0x01, n * 7 % 256])),
        Slot(0x31, "blower", lambda _: bytes([0x00, 0x13, 0x37, 0x00, 0xC8])),
    )
    bus = replace(LinBus(), battery_v=14.2, near_responders=3, near_f=3.1e-9)
    near, _, _ = record(
        bus, series_ohm=0.02, seconds=0.19, first_round=0, schedule=schedule, bit_rate=9600.0, slot_s=15e-3
    )
    column = converted(rng, near, 5)
    times = [f"{place * 5e-6:.6f}" for place in range(column.size)]
    text = "Time [s]\tdoor LIN [V]\n" + _rows(times, [column], separator="\t", comma=False)
    write_text(folder / "other_vehicle_good.csv", text)


def make(folder: Path) -> None:
    """Write all sample captures into ``folder``."""
    for one in (_before, _after, _known_good, _other_vehicle):
        one(folder)
    write_kind_samples(folder)


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
