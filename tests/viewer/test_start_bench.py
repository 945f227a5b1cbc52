"""The time from the start of the program to a window that can be used, beside an empty plot window in the same run."""

import importlib.util
import os
import statistics
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parent / "start_times.py"
TURNS = 5
MOST = {"graph": 1.3, "bare": 2.6}
"""Times the other's, by the clock and of the processor. Measured: 0.9 times the one, 2.0 times the other."""


def started(what: str, compiled: Path) -> tuple[float, float]:
    """Seconds by the clock and of the processor until the first painting; modules are compiled, as in an installed program."""
    environment = {one: value for one, value in os.environ.items() if one != "PYTHONDONTWRITEBYTECODE"}
    environment |= {"QT_QPA_PLATFORM": "offscreen", "PYTHONPYCACHEPREFIX": str(compiled)}
    done = subprocess.run(
        [sys.executable, str(SCRIPT), what], capture_output=True, text=True, env=environment, check=True
    )
    clock_s, processor_s = map(float, done.stdout.split())
    return clock_s, processor_s


@pytest.mark.bench
@pytest.mark.skipif(sys.platform != "linux", reason="the process's start is asked of /proc")
def test_start_beside_an_empty_plot_window(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = "graph" if importlib.util.find_spec("pyqtgraph") is not None else "bare"
    for what in ("loomlight", other):
        started(what, tmp_path)  # compiles
    taken: dict[str, list[tuple[float, float]]] = {"loomlight": [], other: []}
    for _ in range(TURNS):
        for what, found in taken.items():
            found.append(started(what, tmp_path))
    middle = {what: tuple(map(statistics.median, zip(*found, strict=True))) for what, found in taken.items()}
    with capsys.disabled():
        for what, (clock_s, processor_s) in middle.items():
            print(f"\n{what}: {clock_s:.2f} s by the clock, {processor_s:.2f} s of the processor", end="")
        print()
    most = MOST[other]
    for ours, others in zip(middle["loomlight"], middle[other], strict=True):
        assert ours < most * others
