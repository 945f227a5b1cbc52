"""Options that say how a file is to be read: they mean what the panel's answers mean, and are said back."""

import json
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loomlight.storage.capture_memory import CaptureMemory
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.reading import DateOrder, Decimal, Delimiter, Reading, TimeUnit
from loomlight.storage.reading_memory import ReadingMemory
from loomlight.storage.reading_preview import preview
from loomlight.viewer.command_line import OneLineParser, main
from loomlight.viewer.commands.reading_options import add_reading_options, reading_of

COLUMNS = st.integers(1, 30)
WORDS = st.text("abcVΩµ %/1", min_size=1, max_size=6).map(str.strip).filter(bool)
SCALES = st.floats(-1e9, 1e9, allow_nan=False).filter(bool)
READINGS = st.builds(
    Reading,
    skip_rows=st.none() | st.integers(0, 99),
    delimiter=st.none() | st.sampled_from(get_args(Delimiter)),
    decimal=st.none() | st.sampled_from(get_args(Decimal)),
    time_column=st.none() | st.integers(0, 30),
    time_unit=st.none() | st.sampled_from(get_args(TimeUnit)),
    step_s=st.none() | st.floats(1e-12, 1e6),
    start_s=st.none() | st.floats(-1e6, 1e6),
    date_order=st.none() | st.sampled_from(get_args(DateOrder)),
    units=st.dictionaries(COLUMNS, WORDS, max_size=3).map(lambda one: tuple(one.items())),
    names=st.dictionaries(COLUMNS, WORDS, max_size=3).map(lambda one: tuple(one.items())),
    scales=st.dictionaries(COLUMNS, st.tuples(SCALES, SCALES), max_size=2).map(
        lambda found: tuple((column, *both) for column, both in found.items())
    ),
    left_out=st.sets(COLUMNS, max_size=3).map(tuple),
    pairs=st.none() | st.booleans(),
    rows_are_channels=st.none() | st.booleans(),
)


def parsed(options: list[str], path: Path) -> Reading:
    parser = OneLineParser()
    add_reading_options(parser)
    return reading_of(parser.parse_args(options), path)


@given(READINGS)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_options_reproduce_every_answer(tmp_path: Path, reading: Reading) -> None:
    assert parsed(list(reading.options()), tmp_path / "any.csv") == reading


@pytest.fixture
def unnamed(tmp_path: Path) -> Path:
    path = tmp_path / "unnamed.csv"
    path.write_text("A,B\n" + "".join(f"{p / 10:.1f},{p % 7 * 1000}.5\n" for p in range(90)))
    return path


def test_inspect_says_what_is_open_and_how_to_answer(unnamed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["inspect", str(unnamed)]) == 0
    out = capsys.readouterr().out
    assert "? Which column is the time? Taken: column 1, in s." in out
    assert "--time-column 1 --time-unit ms" in out
    assert "--unit 2=mV" in out


def test_options_are_obeyed_and_said_back(unnamed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    options = ["--time-column", "A", "--time-unit", "ms", "--unit", "B=mV", "--name", "2=bus", "--start", "-5ms"]
    assert main(["inspect", str(unnamed), *options]) == 0
    out = capsys.readouterr().out
    assert "#1 bus (V): 90 samples every 100 µs" in out
    assert "Read as you said: --time-column 1 --time-unit ms --start -0.005 --unit 2=mV --name 2=bus" in out
    assert "?" not in out
    assert main(["inspect", str(unnamed), *options, "--json"]) == 0
    (channel,) = json.loads(capsys.readouterr().out)["channels"]
    assert (channel["name"], channel["unit"], channel["start_s"]) == ("bus", "V", -0.005)


def test_values_alone_are_read_once_the_step_was_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "values.csv"
    path.write_text("".join(f"{p % 9}.5\n" for p in range(90)))
    assert main(["inspect", str(path)]) == 2
    assert "--step" in capsys.readouterr().err
    assert main(["inspect", str(path), "--step", "10us"]) == 0
    assert "90 samples every 10 µs" in capsys.readouterr().out


def test_what_was_answered_before_is_taken_over_and_said(unnamed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = Reading(time_column=1, time_unit="ms", units=((2, "mV"),), step_s=1.0, scales=((2, 3.0, 0.0),))
    ReadingMemory().remember(preview(unnamed).fingerprint, said)
    assert main(["inspect", str(unnamed)]) == 0
    out = capsys.readouterr().out
    assert "B (V): 90 samples every 100 µs" in out  # the step and the scale were another record's
    assert "Read as you said for files of this structure before: --time-column 1 --time-unit ms --unit 2=mV." in out
    assert main(["inspect", str(unnamed), "--time-unit", "us"]) == 0
    assert "every 100 ns" in capsys.readouterr().out


def test_without_header_words_nothing_is_taken_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "numbers.csv"
    path.write_text("".join(f"{p / 10:.1f},{p % 7}.5\n" for p in range(90)))
    ReadingMemory().remember(preview(path).fingerprint, Reading(time_column=1, time_unit="ms"))
    assert main(["inspect", str(path)]) == 0
    assert "every 100 ms" in capsys.readouterr().out


def test_the_options_hold_for_a_known_good_that_is_laid_out_the_same(
    tmp_path: Path, unnamed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = tmp_path / "good.csv"
    good.write_text(unnamed.read_text().replace("0.1,", "0.10,"))
    wanted = ["--channel", "B", "--good", str(good), "--kind", "own-limits", "--upper", "9", "--json"]
    assert main(["compare", str(unnamed), *wanted, "--time-unit", "ms", "--unit", "B=mV"]) in (0, 1)
    answer = json.loads(capsys.readouterr().out)
    assert answer["lineup"]["overlap_s"] == pytest.approx(0.009, rel=0.1)


def test_what_was_said_goes_into_the_job_with_the_file(
    tmp_path: Path, unnamed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job"
    assert main(["job", "new", str(job), "--title", "made up"]) == 0
    assert main(["job", "add", str(job), str(unnamed), "--time-unit", "ms", "--step", "1ms"]) == 0
    (kept,) = JobFolder.open(job).job.captures
    assert json.loads(kept.reading) == {"time_unit": "ms", "step_s": 0.001}
    capsys.readouterr()


def test_this_very_file_is_read_with_the_step_that_was_said_about_it(
    unnamed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    CaptureMemory().keep_reading(unnamed, Reading(time_column=1, step_s=0.25))
    assert main(["inspect", str(unnamed)]) == 0
    out = capsys.readouterr().out
    assert "90 samples every 250 ms" in out
    assert "Read as you said for this file before: --time-column 1 --step 0.25." in out


@pytest.mark.parametrize(
    ("options", "about"),
    [
        (["--unit", "V"], "COLUMN=VALUE"),
        (["--unit", "C=V"], "has no column 'C'. Its columns: 1 A, 2 B"),
        (["--unit", "9=V"], "column 9 holds no numbers"),
        (["--unit", "0=V"], "counted from 1"),
        (["--step", "0"], "above 0 s"),
        (["--step", "fast"], "is no time"),
        (["--scale", "2=a"], "is no scale"),
        (["--scale", "2=0"], "must be finite and not 0"),
        (["--delimiter", "dash"], "is none of semicolon, comma, tab, blank"),
        (["--skip-rows", "-1"], "is no count"),
        (["--skip-rows", "500"], "no row of data"),
        (["--time-column", "7"], "column 7 holds no numbers"),
    ],
)
def test_options_that_cannot_be_obeyed_are_refused_in_one_line(
    unnamed: Path, capsys: pytest.CaptureFixture[str], options: list[str], about: str
) -> None:
    assert main(["inspect", str(unnamed), *options]) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert about in err


def test_nothing_said_is_nothing_said(tmp_path: Path) -> None:
    assert parsed([], tmp_path / "any.csv").is_empty
