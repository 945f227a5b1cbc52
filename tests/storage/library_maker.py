"""Makes small library entries fast: one is written, and the others are copies with a text and a check sum of their own."""

from dataclasses import replace
from pathlib import Path
from uuid import UUID

import h5py
import numpy as np

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.entry import Entry
from loomlight.signal.samples import CountSamples, FloatSamples
from loomlight.storage.capture_file import write_capture
from loomlight.storage.check_sum import seal
from loomlight.storage.entry_json import entry_to_json

MAKES = ("Coachling", "Vanlet", "Haulmaster", "Citymouse", "Roadwren")
SYSTEMS = ("heating", "charging", "lighting", "engine control", "door locks", "wipers")
PARTS = ("flap motor", "alternator", "headlamp leveller", "crankshaft sensor", "lock actuator", "rain sensor", "blower")


def small_capture(seed: int = 0, *, samples: int = 600) -> Capture:
    """One channel of invented counts."""
    rng = np.random.default_rng(seed)
    counts = (1000 * np.sign(np.sin(np.arange(samples) / 9.0)) + rng.integers(-9, 9, samples)).astype(np.int16)
    channel = Channel("bus", "V", CountSamples(counts, scale=0.006, offset=6.0), 0.0, 1e-5)
    return Capture("made.csv", "made", (channel,))


def capture_with_gaps(name: str = "bus", *, notes: tuple[str, ...] = ()) -> Capture:
    """Two channels with a gap each."""
    samples = FloatSamples(np.arange(200))
    channels = tuple(Channel(one, "V", samples, -0.01, 1e-3, gaps=((3, 5),)) for one in (name, "other"))
    return Capture("file.csv", "made", channels, notes)


def titled(title: str, *, kind: str = "lin", **known: str) -> Entry:
    """What a person says of a capture before it is kept."""
    return Entry(id="", title=title, kind=kind, channel="", **known)


def numbered_entry(number: int) -> Entry:
    """An invented entry; the same number gives the same one."""
    return Entry(
        id=str(UUID(int=(0x4 << 76) | number | (number * 2654435761 % 2**32 << 96))),
        title=f"{PARTS[number % 7]} signal {number}",
        kind=("lin", "own-limits")[number % 2],
        channel="bus",
        make=MAKES[number % 5],
        model=f"{number % 11} seat",
        year=str(2001 + number % 23),
        system=SYSTEMS[number % 6],
        component=PARTS[number % 7],
        connector=f"C{number % 97}",
        pin=str(number % 40),
        added=f"2026-{1 + number % 12:02}-{1 + number % 28:02}T10:15:00+00:00",
    )


def fill(folder: Path, count: int) -> None:
    """Write ``count`` entries into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    first = folder / "first.h5"
    write_capture(first, small_capture(), entry=numbered_entry(0))
    content = first.read_bytes()
    first.unlink()
    for number in range(count):
        entry = numbered_entry(number)
        path = folder / f"{entry.id}.h5"
        path.write_bytes(content)
        with h5py.File(path, "r+") as file:
            file.attrs["entry"] = entry_to_json(replace(entry))
        seal(path)
