"""The README's commands, word for word: what a newcomer types first has to work."""

import re
import shlex
import shutil
from pathlib import Path

import pytest

from loomlight.viewer.command_line import main

ROOT = Path(__file__).parents[2]
PROGRAM = ".venv/bin/loomlight "
FENCED = re.compile(r"^```sh\n(.*?)^```", re.MULTILINE | re.DOTALL)
# What each of them ends with on the sample job: the fault is found, the repair is proven.
STATUS = {"compare": 1, "prove": 0, "check": 1, "inspect": 0}


def _commands() -> list[list[str]]:
    blocks = FENCED.findall((ROOT / "README.md").read_text(encoding="utf-8"))
    lines = "".join(blocks).replace("\\\n", " ").splitlines()
    return [shlex.split(line.removeprefix(PROGRAM)) for line in lines if line.startswith(PROGRAM)]


COMMANDS = [command for command in _commands() if command[0] != "demo"]


def test_the_readme_shows_a_comparison_and_a_proof() -> None:
    assert {"compare", "prove"} <= {command[0] for command in COMMANDS}


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command[0])
def test_a_command_of_the_readme_does_what_it_says(
    command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    samples = tmp_path / "sample_captures"
    samples.mkdir()
    for part in command:
        if part.startswith("sample_captures/"):
            shutil.copy(ROOT / part, samples)
    monkeypatch.chdir(tmp_path)
    assert main(command) == STATUS[command[0]]
    out, err = capsys.readouterr()
    assert err == ""
    assert out
    for name in (part for part in command if part.endswith(".png")):
        assert (tmp_path / name).read_bytes().startswith(b"\x89PNG")
