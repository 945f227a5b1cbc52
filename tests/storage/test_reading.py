"""Answers about a text file: kept whole, applied, previewed, remembered by structure."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.errors import FileProblem
from loomlight.storage.open_capture import open_capture
from loomlight.storage.reading import Reading
from loomlight.storage.reading_memory import ReadingMemory
from loomlight.storage.reading_preview import preview
from loomlight.storage.reading_questions import OpenQuestion

FINITE = st.floats(allow_nan=False, allow_infinity=False)
COLUMNS = st.integers(1, 99)
READINGS = st.builds(
    Reading,
    skip_rows=st.none() | st.integers(0, 99),
    delimiter=st.sampled_from([None, ";", ",", "\t", " "]),
    decimal=st.sampled_from([None, ".", ","]),
    time_column=st.none() | st.integers(0, 99),
    time_unit=st.sampled_from([None, "s", "ms", "us", "ns"]),
    step_s=st.none() | st.floats(1e-12, 1e6),
    start_s=st.none() | FINITE,
    date_order=st.sampled_from([None, "day-first", "month-first"]),
    units=st.lists(st.tuples(COLUMNS, st.text(max_size=5))).map(tuple),
    names=st.lists(st.tuples(COLUMNS, st.text(max_size=5))).map(tuple),
    scales=st.lists(st.tuples(COLUMNS, FINITE.filter(bool), FINITE)).map(tuple),
    left_out=st.lists(COLUMNS).map(tuple),
    pairs=st.none() | st.booleans(),
    rows_are_channels=st.none() | st.booleans(),
)


def written(folder: Path, text: str) -> Path:
    path = folder / "export.csv"
    path.write_text(text)
    return path


@given(READINGS)
def test_answers_survive_being_kept(reading: Reading) -> None:
    assert Reading.from_json(reading.to_json()) == reading
    assert reading.over(Reading()) == reading
    assert reading.is_empty == (reading.options() == ())


@pytest.mark.parametrize(
    "kept",
    [[], {"time_column": "2"}, {"time_column": -1}, {"step_s": 0}, {"units": [["V", 2]]}, {"units": [[1]]},
     {"delimiter": "|"}, {"pairs": "yes"}, {"left_out": [0]}, {"scales": [[1, 0, 0]]}, {"skip_rows": True}],
)  # fmt: skip
def test_answers_that_make_no_sense_are_refused(kept: object) -> None:
    with pytest.raises(ValueError, match=r".+"):
        Reading.from_json(kept)


def test_what_was_said_wins_over_the_structure(tmp_path: Path) -> None:
    path = written(tmp_path, "A,B,C\n" + "".join(f"{p % 7},{p * 0.5},{p % 3}\n" for p in range(60)))
    said = Reading(time_column=2, time_unit="ms", units=((1, "mV"),), names=((1, "bus"),), left_out=(3,), start_s=-1.0)
    (channel,) = open_capture(path, reading=said).channels
    assert (channel.name, channel.unit, channel.start_s) == ("bus", "V", -1.0)
    assert channel.step_s == pytest.approx(5e-4)
    assert channel.samples.block(0, 8) == pytest.approx([0, 1e-3, 2e-3, 3e-3, 4e-3, 5e-3, 6e-3, 0])


def test_a_step_makes_values_alone_readable(tmp_path: Path) -> None:
    path = written(tmp_path, "".join(f"{p % 9}.5\n" for p in range(99)))
    with pytest.raises(OpenQuestion, match="--step") as caught:
        open_capture(path)
    assert caught.value.question.about == "step"
    (channel,) = open_capture(path, reading=Reading(step_s=1e-4)).channels
    assert (channel.samples.size, channel.start_s, channel.step_s, channel.unit) == (99, 0.0, 1e-4, None)


def test_counts_become_volts_only_when_it_was_said(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        "Source,CH2,\nVertical Units,V,\nVertical Scale,5.0E-01,\nSampling Period,1.0E-05,\nWaveform Data,\n"
        + "".join(f"{p % 50 - 25},\n" for p in range(300)),
    )
    shown = preview(path)
    (question,) = shown.questions
    assert (question.about, question.guess, shown.capture is not None) == ("counts", "counts", True)
    (channel,) = open_capture(path, reading=question.offers[0].reading).channels
    assert channel.unit == "V"
    assert channel.samples.block(0, 2) == pytest.approx([-0.5, -0.48])
    (channel,) = open_capture(path, reading=question.offers[1].reading).channels
    assert (channel.unit, float(channel.samples.block(0, 1)[0])) == ("counts", -25.0)


def test_a_column_without_numbers_cannot_be_spoken_of(tmp_path: Path) -> None:
    path = written(tmp_path, "Time (s),bus (V)\n" + "".join(f"{p / 10},{p}\n" for p in range(60)))
    with pytest.raises(FileProblem, match="column 7 holds no numbers"):
        open_capture(path, reading=Reading(time_column=7))
    with pytest.raises(FileProblem, match="no row of data"):
        open_capture(path, reading=Reading(skip_rows=900))


def test_preview_shows_rows_as_they_stand_and_what_was_taken(tmp_path: Path) -> None:
    path = written(tmp_path, "made up\n\nA;B;C\n" + "".join(f"{p / 10};{p};x\n" for p in range(90)))
    shown = preview(path)
    assert [(row.line, row.is_data) for row in shown.rows[:3]] == [(1, False), (3, False), (4, True)]
    assert shown.rows[2].cells == ("0.0", "0", "x")
    assert len(shown.rows) == 40
    assert shown.first_data_row == 2
    assert [(one.name, one.role, one.is_guess) for one in shown.columns] == [
        ("A", "time", True), ("B", "value", False), ("", "not numbers", False),
    ]  # fmt: skip
    assert [question.about for question in shown.questions] == ["time", "unit"]
    changed = preview(path, shown.questions[0].offers[-1].reading)  # no column is the time
    assert (changed.time_column, changed.problem != "", changed.questions[0].about) == (0, True, "step")


def test_answers_are_remembered_by_structure_not_by_path_or_values(tmp_path: Path) -> None:
    head, other = "Recording,{}\nA,B\n", tmp_path / "other"
    other.mkdir()
    one = written(tmp_path, head.format(1) + "".join(f"{p / 10},{p}\n" for p in range(60)))
    two = written(other, head.format(2) + "".join(f"{p / 7:.4f},{p % 5}.25\n" for p in range(400)))
    three = tmp_path / "three.csv"
    three.write_text(head.format(1) + "".join(f"{p / 10},{p},7\n" for p in range(60)))
    assert preview(one).fingerprint == preview(two).fingerprint != preview(three).fingerprint
    memory = ReadingMemory(tmp_path / "kept" / "readings.json")
    said = Reading(time_column=1, time_unit="ms", units=((2, "V"),))
    memory.remember(preview(one).fingerprint, said)
    assert memory.remembered(preview(two).fingerprint) == said
    assert memory.remembered(preview(three).fingerprint).is_empty
    memory.remember(preview(two).fingerprint, Reading())
    assert memory.remembered(preview(one).fingerprint).is_empty


def test_a_damaged_memory_counts_as_empty(tmp_path: Path) -> None:
    memory = ReadingMemory(tmp_path / "readings.json")
    for content in ("", "{", "[]", '{"format": "loomlight readings", "readings": {"a": {"pairs": 3}}}'):
        memory.path.write_text(content)
        assert memory.remembered("a").is_empty
