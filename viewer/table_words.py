"""Frames and measurements as cells, for the screen and the commands."""

import numpy as np

from loomlight.signal.evidence import SUSPECTS, Evidence
from loomlight.signal.frame_table import FrameRow
from loomlight.signal.measure import Measure
from loomlight.signal.track import Track
from loomlight.viewer.units import in_table, on_screen

FRAME_COLUMNS = ("At", "Identifier", "Data", "Checksum", "State")
BESIDE_COLUMNS = ("Measured", "Value", "Known-good", "Limit", "Kept")
TRACK_COLUMNS = ("Over time", "Lowest", "Middle", "Highest", "Count")
EVIDENCE_COLUMNS = ("Asked", "Wire", "Component", "Control unit", "Answer")
MOVES = {1: "▲", -1: "▼", 0: ""}
KEPT = {True: "✓", False: "✗", None: ""}
SLEW_UNIT = "V/s"


def frame_cells(row: FrameRow) -> tuple[str, ...]:
    """One frame, as `FRAME_COLUMNS`."""
    state = row.state if row.state == "good" else f"! {row.state}"
    return in_table(row.start_s, "s", digits=6), row.identifier or "–", row.data or "–", row.check or "–", state


def frame_tip(row: FrameRow) -> str:
    """What was wrong with a frame, and who answered."""
    talker = f"answered by {row.talker}" if row.talker else "nobody answered"
    figures = ", ".join(_figure(name, value) for name, value in row.figures if value is not None)
    return "; ".join(filter(None, (row.problem, talker, figures)))


def _figure(name: str, value: float) -> str:
    """A figure of a frame: ``answer dominant 1.05 V``."""
    what, _, unit = name.partition(", ")
    return f"{what} {on_screen(value, unit)}"


def measure_cells(one: Measure) -> tuple[str, ...]:
    """One measured figure, as `MEASURE_COLUMNS`."""
    return one.name, value_words(one), one.limit or "–", KEPT[one.kept]


def measure_cells_beside(one: Measure, good: Measure | None) -> tuple[str, ...]:
    """One measured figure beside the known-good's, as `BESIDE_COLUMNS`."""
    name, value, limit, kept = measure_cells(one)
    return name, value, value_words(good) if good is not None else "–", limit, kept


def measure_tip(one: Measure) -> str:
    """What a figure rests on, and where its limit comes from."""
    return "; ".join(filter(None, (one.note, f"limit: {one.source}" if one.source else "")))


def track_cells(one: Track) -> tuple[str, ...]:
    """One figure over time, as `TRACK_COLUMNS`; the middle is the median."""
    values = one.values[np.isfinite(one.values)]
    if not values.size:
        return one.name, "cannot tell", "–", "–", "0"
    shown = (on_screen(float(value), one.unit) for value in (values.min(), np.median(values), values.max()))
    return one.name, *shown, str(values.size)


def evidence_cells(one: Evidence) -> tuple[str, ...]:
    """One line of evidence, as `EVIDENCE_COLUMNS`."""
    return one.question, *(MOVES[one.move(part)] for part in SUSPECTS), one.answer


def value_words(one: Measure) -> str:
    """The figure with its unit."""
    if one.value is None:
        return "cannot tell"
    if one.unit == SLEW_UNIT:
        return f"{one.value / 1e6:.3g} V/µs"
    if one.low is None and one.high is None:
        return on_screen(one.value, one.unit)
    low, high = (on_screen(end, one.unit) if end is not None else "no bound" for end in (one.low, one.high))
    return f"{on_screen(one.value, one.unit)} ({low} to {high})"
