"""Pictures of the lanes in all states: ``python tests/viewer/lane_pictures.py FOLDER``.

Works on any screen that Qt has, a virtual one or none (QT_QPA_PLATFORM=offscreen) included.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget

from loomlight.signal.capture import Channel
from loomlight.signal.finding import Finding
from loomlight.signal.job import Note
from loomlight.signal.pyramid import build_pyramid
from loomlight.signal.samples import FloatSamples
from loomlight.viewer.application import dress
from loomlight.viewer.lanes.lane_stack import LaneStack
from loomlight.viewer.lanes.overview import Overview
from loomlight.viewer.lanes.specs import Lane, LevelLine, Trace
from loomlight.viewer.roles import RoleKey
from loomlight.viewer.theme import THEMES, Theme

STEP_S = 2e-6
SIZE = 200_000
LINES = (LevelLine(4.8, "dominant below 4.8 V"), LevelLine(7.2, "recessive above 7.2 V"))


def bus(*, faulty: bool) -> npt.NDArray[np.float64]:
    """A line at 19 200 bit/s in bursts, with soft rises; the faulty one lets go now and then, and has a gap."""
    rng = np.random.default_rng(3)
    bits = np.repeat(rng.integers(0, 2, SIZE // 26 + 1), 26)[:SIZE]
    idle = (np.arange(SIZE) // 9_000) % 2 == 0
    volts = np.where(idle | (bits == 1), 12.0, 1.0 if not faulty else 1.9)
    volts = np.convolve(volts, np.exp(-np.arange(30) / 5) / np.exp(-np.arange(30) / 5).sum())[:SIZE]
    if faulty:
        for at in (47_000, 47_090, 83_300, 137_000):
            volts[at : at + 45] = np.maximum(volts[at : at + 45], 10.5)
        volts[150_000:152_000] = np.nan
    return volts + rng.normal(0.0, 0.04, SIZE)


def trace(values: npt.ArrayLike, role: RoleKey, name: str) -> Trace:
    samples = FloatSamples(values)
    return Trace(Channel(name, "V", samples, -0.05, STEP_S), build_pyramid(samples), role, name)


def lanes() -> tuple[Lane, ...]:
    good, suspect = bus(faulty=False), bus(faulty=True)
    return (
        Lane(
            "blower LIN",
            (trace(good, "known-good", "flap LIN"), trace(suspect, "suspect", "blower LIN")),
            LINES,
            weight=2.0,
        ),
        Lane("difference", (trace(suspect - good, "difference", "suspect minus known-good"),), band=1.2),
    )


def form_lanes() -> tuple[Lane, ...]:
    """A lane of each form, with gaps and clipped samples."""
    volts = np.minimum(bus(faulty=False), 10.0)
    volts[20_000:30_000] = np.nan
    volts[45_040:45_060] = np.nan
    clipped = np.flatnonzero(np.diff(np.concatenate([[False], volts >= 10.0, [False]])))
    ranges = tuple(zip(clipped[::2].tolist(), clipped[1::2].tolist(), strict=True))
    samples = FloatSamples(volts)
    gaps = ((20_000, 30_000), (45_040, 45_060))
    even = Channel("even", "V", samples, -0.05, STEP_S, gaps=gaps, clipped=ranges)
    pairs = FloatSamples(
        np.column_stack([volts.reshape(-1, 16).min(axis=1), volts.reshape(-1, 16).max(axis=1)]).ravel()
    )
    interval = Channel("pairs", "V", pairs, -0.05, 16 * STEP_S, "pairs", gaps=((2 * 1250, 2 * 1875),))
    good = bus(faulty=False)
    turns = np.flatnonzero(np.diff((good > 6.0).astype(int)))
    held = FloatSamples(np.where(good[turns + 1] > 6.0, 12.0, 1.0))
    changes = Channel("changes", "V", held, -0.05, None, "changes", times_s=-0.05 + turns * STEP_S)
    times_s = -0.05 + np.cumsum(np.random.default_rng(1).exponential(4e-6, 90_000))
    wave = FloatSamples(np.sin(times_s * 900.0))
    uneven = Channel("uneven", "V", wave, float(times_s[0]), None, "uneven", times_s=times_s)
    roles: tuple[RoleKey, ...] = ("suspect", "known-good", "after repair", "other")
    return tuple(
        Lane(one.name, (Trace(one, build_pyramid(one.samples), role, one.name),))
        for role, one in zip(roles, (even, interval, changes, uneven), strict=True)
    )


def findings() -> tuple[Finding, ...]:
    base = Finding("dropout", "blower LIN", 0.0, 0.0, 9.5, "V", "more than 3 V away", "severe")
    dropouts = [
        replace(base, start_s=at * STEP_S - 0.05, stop_s=(at + 45) * STEP_S - 0.05)
        for at in (47_000, 47_090, 83_300, 137_000)
    ]
    return (
        *dropouts,
        replace(base, start_s=0.065, stop_s=0.0652, severity="mild", kind="slow edge"),
        replace(base, start_s=0.04, stop_s=0.049, kind="frame error"),
    )


def stand(theme: Theme, size: tuple[int, int]) -> tuple[QWidget, LaneStack, Overview]:
    window = QWidget()
    column = QVBoxLayout(window)
    overview, stack = Overview(theme), LaneStack(theme)
    column.addWidget(overview)
    column.addWidget(stack, 1)
    stack.view_changed.connect(overview.show_view)
    overview.view_wanted.connect(stack.set_view)
    shown = lanes()
    stack.show_lanes(shown)
    stack.show_findings({lane.key: findings() for lane in shown})
    overview.show_trace(shown[0].traces[-1], stack.full())
    overview.show_findings(findings())
    overview.show_view(*stack.view())
    window.resize(*size)
    window.show()
    return window, stack, overview


def main() -> None:
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication([])
    dress(application)
    notes = (
        Note("blower LIN", 0.0440, 11.0, "lets go while the blower answers: look at the pin of the bulkhead connector"),
        Note("difference", 0.0442, 8.0, "9.5 V apart"),
    )
    views = {"all": None, "bursts": (0.03, 0.07), "bits": (0.0435, 0.0447), "samples": (0.04400, 0.04406)}
    for key, theme in THEMES.items():
        for size in ((1366, 768), (900, 420)):
            window, stack, _ = stand(theme, size)
            for name, view in views.items():
                if view is None:
                    stack.fit()
                else:
                    stack.set_view(*view)
                start, stop = stack.view()
                stack.set_cursors(start + 0.3 * (stop - start), start + 0.8 * (stop - start))
                stack.set_notes(notes)
                application.processEvents()
                window.grab().save(str(folder / f"{name}_{key}_{size[0]}.png"))
            stack.show_findings({})
            stack.set_notes(())
            stack.show_lanes(form_lanes())
            stack.set_cursors(None, None)
            for name, view in (("forms", stack.full()), ("forms_near", (0.0400, 0.0403))):
                stack.set_view(*view)
                application.processEvents()
                window.grab().save(str(folder / f"{name}_{key}_{size[0]}.png"))
            stack.show_lanes(lanes())
            one = stack.lanes[0].traces[-1]
            stack.show_lanes([Lane(f"channel {number}", (replace(one, role="other"),)) for number in range(1, 9)])
            application.processEvents()
            window.grab().save(str(folder / f"eight_{key}_{size[0]}.png"))
            window.close()


if __name__ == "__main__":
    main()
