"""What a command loads: no Qt for those that need no picture, no scipy before it is used."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from loomlight import sample_captures

SAMPLES = Path(str(sample_captures.__path__[0]))
LOADED = """
import contextlib, io, json, sys
from loomlight.viewer.command_line import main
with contextlib.redirect_stdout(io.StringIO()):
    status = main(sys.argv[1:])
print(json.dumps([status, sorted({name.partition(".")[0] for name in sys.modules})]))
"""


def _loaded(*arguments: str) -> tuple[int, set[str]]:
    done = subprocess.run(
        [sys.executable, "-c", LOADED, *arguments], capture_output=True, text=True, timeout=120, check=True
    )
    status, names = json.loads(done.stdout)
    return status, set(names)


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (["--help"], 0),
        (["inspect", str(SAMPLES / "before.csv"), "--json"], 0),
        (["check", str(SAMPLES / "before.csv"), "--channel", "#1", "--kind", "lin"], 1),
    ],
    ids=["help", "inspect", "check"],
)
def test_no_qt_for_what_needs_no_picture(arguments: list[str], status: int) -> None:
    ended, names = _loaded(*arguments)
    assert ended == status
    assert not names & {"PySide6", "shiboken6", "pyqtgraph"}
    if arguments[0] != "check":
        assert "scipy" not in names


def test_scipy_is_not_loaded_with_the_window() -> None:
    code = "import sys, loomlight.viewer.window; print('scipy' in sys.modules, 'PySide6' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=True)
    assert done.stdout.split() == ["False", "True"]
