"""A few simulated entries, so that a new library is not empty: made by calculation when asked for, and marked as such."""

from collections.abc import Callable
from dataclasses import dataclass
from uuid import UUID, uuid5

import numpy as np

from loomlight.sample_captures.make_samples import CONVERTER_V, converted, record
from loomlight.sample_captures.makers import k_line, supply
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.circuit import LinBus
from loomlight.signal.entry import Entry
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.samples import CountSamples, finite_range
from loomlight.storage.capture_file import write_capture
from loomlight.storage.job_folder import now
from loomlight.storage.library import Library

SPACE = UUID("8f0c2c55-6a0e-4c53-9f5e-2b7a3a4e9d10")
"""Ids come from it and the kind: the same starter entry is never there twice."""
SEED = 77_000
MOST_RIPPLE_V = 1.5
GROUND = "Made by calculation from the circuit model; no vehicle was measured. Replace it with a capture of your own."


@dataclass(frozen=True)
class Starter:
    """One entry of the set: what it says, and how its capture is made; ``make`` gives the capture and a channel's name."""

    title: str
    kind: str
    system: str
    component: str
    make: Callable[[], tuple[Capture, str]]

    @property
    def id(self) -> str:
        """The same for each library."""
        return str(uuid5(SPACE, f"{self.kind} {self.title}"))


def _lin() -> tuple[Capture, str]:
    near, _, _ = record(LinBus(battery_v=13.8), series_ohm=0.02, seconds=0.15, first_round=0, lead_s=2e-3)
    counts = converted(np.random.default_rng(SEED), near, 2)
    channel = Channel("LIN", "V", CountSamples(counts, scale=CONVERTER_V, offset=0.0), 0.0, 2e-6)
    return Capture("", "made from the circuit model", (channel,)), "LIN"


def _k_line() -> tuple[Capture, str]:
    made = k_line.made("", np.random.default_rng(SEED + 1))
    return made.capture, made.channel


def _supply() -> tuple[Capture, str]:
    # One on which nothing much happens: dips belong to loads, and this one is to be at rest.
    for seed in range(SEED + 2, SEED + 40):
        made = supply.made("", np.random.default_rng(seed))
        reach = finite_range(made.suspect.samples)
        if reach is not None and reach[1] - reach[0] < MOST_RIPPLE_V:
            break
    return made.capture, made.channel


STARTERS = (
    Starter("LIN bus, two nodes", "lin", "heating", "blower regulator", _lin),
    Starter("K-line, a tester asks", "k-line", "diagnosis", "diagnostic connector", _k_line),
    Starter("Supply of a control unit", "supply", "supply", "control unit", _supply),
)


def add_starter(library: Library, progress: Progress = unwatched) -> tuple[Entry, ...]:
    """Write the starter entries that are neither in the library nor in its bin; gives those that were written.

    Raises
    ------
    FileProblem
        If the library cannot be written.
    """
    library.make_folder()
    known = {one.entry.id for one in library.files()} | {one.stem for one in library.binned()}
    added = []
    for number, one in enumerate(STARTERS):
        progress(number / len(STARTERS))
        if one.id in known:
            continue
        capture, channel_name = one.make()
        channel = capture.channel(channel_name)
        entry = Entry(
            id=one.id,
            title=one.title,
            kind=one.kind,
            channel=channel.name,
            system=one.system,
            component=one.component,
            tags=("starter",),
            ground=GROUND,
            simulated=True,
            added=now(),
        )
        kept = Capture("", "made by calculation", (channel,), ("Simulated: no vehicle was measured.",))
        write_capture(library.path_of(entry), kept, entry=entry, created=entry.added)
        added.append(entry)
    return tuple(added)
