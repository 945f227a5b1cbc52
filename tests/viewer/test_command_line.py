"""The command line as a whole: what it lists, how it ends, and what it says to bad input."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from loomlight import sample_captures
from loomlight.viewer.command_line import COMMANDS, main
from loomlight.viewer.commands import inspect
from loomlight.viewer.log import LOG, log_file

SAMPLES = Path(str(sample_captures.__path__[0]))
BEFORE = str(SAMPLES / "before.csv")
KNOWN_GOOD = str(SAMPLES / "known_good.h5")
SMALL = "time (s),volts (V)\n" + "".join(f"{0.001 * row:.3f},{row % 7}\n" for row in range(300))

# File content, and words that its one line of complaint has to hold: what is wrong, and what to do.
BAD_FILES = {
    "empty": (b"", ("empty", "Export")),
    "binary": (bytes(range(256)) * 20, ("no text", "CSV")),
    "text without numbers": (b"hello\nworld\nthis is text\n", ("no table of numbers", "Export")),
    "one row": (b"time (s),volts (V)\n0,1\n", ("one row", "more samples")),
    "time goes backwards": (SMALL.encode() + b"0.1,3\n0.101,4\n", ("line 302", "backwards")),
    "damaged HDF5": (b"\x89HDF\r\n\x1a\n" + b"\0" * 200, ("damaged.h5",)),
}
READING = {
    *("--time-column", "--time-unit", "--step", "--start", "--unit", "--name", "--scale", "--leave-out", "--skip-rows"),
    *("--delimiter", "--decimal", "--date-order", "--pairs", "--rows-are-channels"),
}
TABLES = ("--measured", "--frames")
# Arguments, and words that the one line has to hold.
BAD_USAGE = {
    "no such command or file": (["chek"], ("chek", "no such file or command", "check")),
    "second file missing": ([BEFORE, "gone.csv"], ("gone.csv", "no such file")),
    "missing file": (["inspect", "gone.csv"], ("gone.csv", "no such file")),
    "folder": (["inspect", str(SAMPLES)], ("sample_captures", "folder")),
    "missing argument": (["inspect"], ("FILE", "--help")),
    "unknown option": (["inspect", BEFORE, "--colour"], ("--colour", "--help")),
    "shortened option": (["compare", BEFORE, "--chan", "#1", "--good", KNOWN_GOOD], ("--channel",)),
    "missing action": (["library"], ("ACTION", "library --help")),
    "missing channel": (
        ["compare", BEFORE, "--channel", "nope", "--good", KNOWN_GOOD],
        ("no channel 'nope'", "#1 blower LIN, #2 flap LIN"),
    ),
    "channel number too high": (["check", BEFORE, "--channel", "#3", "--kind", "lin"], ("'#3'", "#2 flap LIN")),
    "which good channel": (
        ["compare", BEFORE, "--channel", "#1", "--good", BEFORE, "--kind", "lin"],
        ("several channels", "--good-channel"),
    ),
    "itself": (
        ["compare", BEFORE, "--channel", "#1", "--good", BEFORE, "--good-channel", "#1", "--kind", "lin"],
        ("itself", "another channel"),
    ),
    "no kind": (["check", BEFORE, "--channel", "#1", "--kind", ""], ("lin", "own-limits")),
    "kind that does not exist yet": (
        ["check", BEFORE, "--channel", "#1", "--kind", "telegraph"],
        ("'telegraph'", "lin", "own-limits"),
    ),
    "good is neither file nor entry": (
        ["compare", BEFORE, "--channel", "#1", "--good", "nowhere", "--kind", "lin"],
        ("no entry 'nowhere'", "empty"),
    ),
    "supply out of reach": (
        ["check", BEFORE, "--channel", "#1", "--kind", "lin", "--supply", "99"],
        ("99 V", "5 to 40 V"),
    ),
    "supply not a number": (["check", BEFORE, "--channel", "#1", "--kind", "lin", "--supply", "nan"], ("nan V",)),
    "supply channel missing": (
        ["check", BEFORE, "--channel", "#1", "--kind", "lin", "--supply", "battery"],
        ("no channel 'battery'",),
    ),
    "own limits without figures": (
        ["check", BEFORE, "--channel", "#1", "--kind", "own-limits"],
        ("upper level", "lower level"),
    ),
    "own limit not a number": (
        ["check", BEFORE, "--channel", "#1", "--kind", "own-limits", "--upper", "nan"],
        ("--upper", "'nan'"),
    ),
    "own limits crossed": (
        ["check", BEFORE, "--channel", "#1", "--kind", "own-limits", "--upper", "3", "--lower", "4"],
        ("(3)", "above the lower one (4)"),
    ),
    "own limits that would not be used": (
        ["check", BEFORE, "--channel", "#1", "--kind", "lin", "--upper", "3"],
        ("--upper", "own-limits"),
    ),
    "no job there": (["job", "show", "gone"], ("gone", "no job")),
    "job without a title": (["job", "new", "made", "--title", "  "], ("title",)),
    "entry that is not there": (["library", "show", "gone"], ("no entry 'gone'",)),
    "entry without a title": (
        ["library", "add", BEFORE, "--channel", "#1", "--kind", "lin", "--title", " "],
        ("title",),
    ),
    "picture in no folder": (
        ["compare", BEFORE, "--channel", "#1", "--good", KNOWN_GOOD, "--picture", "gone/x.png"],
        ("x.png", "gone", "another place"),
    ),
    "picture that is no PNG": (
        ["compare", BEFORE, "--channel", "#1", "--good", KNOWN_GOOD, "--picture", "x.jpg"],
        ("x.jpg", ".png"),
    ),
}


def _one_line_of_complaint(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> str:
    status = main(arguments)
    out, err = capsys.readouterr()
    assert (status, out) == (2, "")
    assert err.startswith("loomlight")
    assert err.count("\n") == 1
    assert err.endswith("\n")
    assert "Traceback" not in err
    return err


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_file_that_cannot_be_read_gets_one_line(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content, words = BAD_FILES[name]
    path = tmp_path / f"{name.split()[0]}.{'h5' if 'HDF5' in name else 'csv'}"
    path.write_bytes(content)
    line = _one_line_of_complaint(capsys, ["inspect", str(path)])
    assert all(word in line for word in (path.name, *words)), line


@pytest.mark.parametrize("name", BAD_USAGE)
def test_what_cannot_be_done_gets_one_line(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    arguments, words = BAD_USAGE[name]
    line = _one_line_of_complaint(capsys, arguments)
    assert all(word in line for word in words), line
    assert list(tmp_path.iterdir()) == [], "nothing was left behind"


def test_a_cell_that_is_no_number_is_told_with_its_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "cells.csv"
    path.write_text(SMALL.replace("0.150,3", "0.150,oops"))
    assert main(["inspect", str(path)]) == 0
    out = capsys.readouterr().out
    assert "'oops'" in out
    assert "line 152" in out


def test_help_lists_the_commands_that_work_and_no_other(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    listed = re.findall(r"^    ([a-z]+)  ", capsys.readouterr().out, flags=re.MULTILINE)
    assert (
        listed
        == list(COMMANDS)
        == ["demo", "inspect", "convert", "compare", "check", "prove", "library", "desktop", "job"]
    )


@pytest.mark.parametrize(
    ("command", "options"),
    [
        ("inspect", {"--json", *READING}),
        (
            "check",
            {
                "--channel",
                "--kind",
                "--supply",
                "--set",
                "--beside",
                "--upper",
                "--lower",
                "--limits",
                "--json",
                *TABLES,
                *READING,
            },
        ),
        (
            "compare",
            {
                *(
                    "--channel",
                    "--good",
                    "--good-channel",
                    "--by",
                    "--kind",
                    "--supply",
                    "--set",
                    "--beside",
                    "--good-beside",
                    "--upper",
                    "--lower",
                    "--limits",
                    "--within",
                ),
                *("--library", "--picture", "--picture-size", "--json"),
                *TABLES,
                *READING,
            },
        ),
        (
            "prove",
            {
                *("--channel", "--after-channel", "--good", "--good-channel", "--kind", "--supply"),
                *("--set", "--beside", "--good-beside"),
                *(
                    "--upper",
                    "--lower",
                    "--limits",
                    "--within",
                    "--library",
                    "--job",
                    "--picture",
                    "--picture-size",
                    "--json",
                    "--picked",
                    "--provoked",
                ),
                *READING,
            },
        ),
    ],
)
def test_help_of_a_command_lists_its_options_and_no_other(
    command: str, options: set[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([command, "--help"]) == 0
    listed = set(re.findall(r"^  (?:-h, )?(--[a-z-]+)", capsys.readouterr().out, flags=re.MULTILINE))
    assert listed == options | {"--help"}


@pytest.fixture
def own_log(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A log that this test alone writes, and that is closed after it."""
    monkeypatch.setattr(LOG, "handlers", [])
    yield
    for handler in LOG.handlers:
        handler.close()


@pytest.mark.usefixtures("own_log")
def test_our_own_bug_is_one_plain_line_and_whole_in_the_log(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(arguments: object) -> int:
        raise ZeroDivisionError("deep inside")

    monkeypatch.setattr(inspect, "run", broken)
    monkeypatch.delenv("LOOMLIGHT_DEBUG", raising=False)
    line = _one_line_of_complaint(capsys, ["inspect", BEFORE])
    assert str(log_file()) in line
    assert "deep inside" in log_file().read_text()
    monkeypatch.setenv("LOOMLIGHT_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        main(["inspect", BEFORE])


def test_an_interruption_ends_quietly(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def interrupted(arguments: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(inspect, "run", interrupted)
    assert main(["inspect", BEFORE]) == 130
    assert capsys.readouterr() == ("", "")


def _console(*arguments: str, **options: object) -> subprocess.CompletedProcess[bytes]:
    """The program as a person starts it."""
    environment = {**os.environ, **options.pop("env", {})}  # type: ignore[dict-item]
    command = [sys.executable, "-m", "loomlight.viewer", *arguments]
    return subprocess.run(command, capture_output=True, timeout=120, env=environment, **options)  # type: ignore[call-overload,no-any-return]


def test_a_console_that_is_not_utf8_gets_readable_text_and_whole_json() -> None:
    narrow = {"PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "LC_ALL": "C", "PYTHONIOENCODING": "ascii"}
    text = _console("inspect", BEFORE, env=narrow)
    assert (text.returncode, text.stderr) == (0, b"")
    answer = _console("inspect", BEFORE, "--json", env=narrow)
    assert any("2 µs" in note for note in json.loads(answer.stdout.decode("ascii"))["notes"])


def test_a_reader_that_goes_away_is_no_error() -> None:
    read_end, write_end = os.pipe()
    os.close(read_end)
    command = [sys.executable, "-m", "loomlight.viewer", "inspect", BEFORE]
    done = subprocess.run(command, stdout=write_end, stderr=subprocess.PIPE, timeout=120)
    os.close(write_end)
    assert done.stderr == b""


def test_a_file_named_like_a_command_is_opened_by_its_path(tmp_path: Path) -> None:
    (tmp_path / "check").write_text(SMALL)
    no_screen = {"DISPLAY": "", "WAYLAND_DISPLAY": "", "QT_QPA_PLATFORM": ""}
    command = _console("check", cwd=tmp_path, env=no_screen)
    assert b"the following arguments are required" in command.stderr
    if sys.platform.startswith("linux"):
        window = _console("./check", cwd=tmp_path, env=no_screen)
        assert window.returncode == 2
        assert window.stderr.startswith(b"loomlight: There is no screen")
