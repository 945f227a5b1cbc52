"""Text tables of many structures: exact counts, starts, steps, names and units; and clear refusals."""

import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.storage.open_capture import open_capture

FUZZ_SEED = 99


def opened(folder: Path, text: str | bytes, name: str = "capture.csv") -> Capture:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return open_capture(path)


def rows(separator: str = ",", *, comma: bool = False, count: int = 60, end: str = "") -> str:
    lines = [f"{place * 2e-6 - 2e-5:.6f}{separator}{12.0 - place * 0.1:.2f}{end}" for place in range(count)]
    text = "\n".join(lines) + "\n"
    return text.replace(".", ",") if comma else text


@pytest.mark.parametrize(
    ("head", "name", "unit"),
    [
        ("Time (s),bus (V)\n", "bus", "V"),
        ("Time [s],bus [V]\n", "bus", "V"),
        ("in s,bus in V\n", "bus", "V"),
        ('"Time (s)","bus (V)"\n', "bus", "V"),
        ("x-axis,1\nsecond,Volt\n", "CH 1", "V"),
        (",CH1\nSecond,Volt\n", "CH1", "V"),
        ("Source,CH2\nSecond,Volt\n", "CH2", "V"),
        ("Time,Channel A\n(s),(V)\n\n", "Channel A", "V"),
        ("#Title of a program\n#Sample rate: 500000Hz\n\nTime (s),Channel 1 (V)\n", "Channel 1", "V"),
        ("Memory Length,60,\nSource,CH1,\nSampling Period,2.000E-06,\nWaveform Data,\n", "CH1", None),
        ("Sample Interval,2e-06\nRecord Length,60\n\nLabel,battery\nTIME,CH1\n", "battery", None),
        ("", "column 2", None),
    ],
)
def test_heads_of_many_kinds(tmp_path: Path, head: str, name: str, unit: str | None) -> None:
    (channel,) = opened(tmp_path, head + rows()).channels
    assert (channel.name, channel.unit, channel.samples.size) == (name, unit, 60)
    assert channel.start_s == pytest.approx(-2e-5)
    assert channel.step_s == pytest.approx(2e-6)
    assert channel.samples.block(0, 2).tolist() == pytest.approx([12.0, 11.9])


@pytest.mark.parametrize(
    ("separator", "comma"), [(",", False), (";", False), (";", True), ("\t", False), ("\t", True), ("   ", False)]
)
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r", "\r\r\n"])
@pytest.mark.parametrize("last_end", [True, False])
def test_delimiters_decimal_signs_and_line_ends(
    tmp_path: Path, separator: str, comma: bool, line_end: str, last_end: bool
) -> None:
    text = f"Time (s){separator}bus (V)\n".replace("   ", " ") if separator != "   " else ""
    text += rows(separator, comma=comma)
    text = (text if last_end else text.rstrip("\n")).replace("\n", line_end)
    (channel,) = opened(tmp_path, text.encode()).channels
    assert channel.samples.size == 60
    assert channel.step_s == pytest.approx(2e-6)
    assert float(channel.samples.block(59, 60)[0]) == pytest.approx(12.0 - 5.9, abs=1e-5)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    (channel,) = opened(
        tmp_path, ("Zeit (µs);Geber für Lüfter (mV)\n" + rows(";", comma=True)).encode(encoding)
    ).channels
    assert (channel.name, channel.unit) == ("Geber für Lüfter", "V")
    assert channel.step_s == pytest.approx(2e-12)
    assert float(channel.samples.block(0, 1)[0]) == pytest.approx(0.012)


def test_a_trailing_comma_is_no_channel(tmp_path: Path) -> None:
    assert len(opened(tmp_path, ",CH1\nSecond,Volt\n" + rows(end=", ")).channels) == 1
    assert len(opened(tmp_path, "Time (s),bus (V),\n" + rows(end=",")).channels) == 1


def test_text_cells_left_of_the_numbers_are_preamble_and_their_rows_are_data(tmp_path: Path) -> None:
    lines = [
        f"{key},{value},,  {place * 4e-6:.9f},   {place * 0.5:.3f}," for place, (key, value) in enumerate(PREAMBLE)
    ]
    lines += [f",,,{place * 4e-6:.9f},   {place * 0.5:.3f}," for place in range(len(PREAMBLE), 50)]
    (channel,) = opened(tmp_path, "\n".join(lines)).channels
    assert (channel.samples.size, channel.start_s) == (50, 0.0)
    assert channel.step_s == pytest.approx(4e-6)


PREAMBLE = (
    ("Record Length", "5.0e+01"),
    ("Sample Interval", "4.000000e-06"),
    ("Trigger Point", "0.0"),
    ("Source", "CH2"),
)


def test_few_digits_in_the_time_do_not_make_a_wrong_step(tmp_path: Path) -> None:
    text = "Time (s),bus (V)\n" + "".join(f"{-7.4e-5 + place * 2e-8:.2e},{place % 5}\n" for place in range(200))
    capture = opened(tmp_path, text)
    assert capture.channels[0].form == "even"
    assert capture.channels[0].step_s == pytest.approx(2e-8, rel=0.03)
    assert any("repeat" in note for note in capture.notes)


def test_stamps_that_stand_twice_are_pairs(tmp_path: Path) -> None:
    text = "in s,C1 in V\n" + "".join(f"{place // 2 * 1e-4:.5f},{11 + place % 2}\n" for place in range(200))
    (channel,) = opened(tmp_path, text).channels
    assert (channel.form, channel.intervals, channel.step_s) == ("pairs", 100, pytest.approx(1e-4))
    assert channel.samples.block(0, 4).tolist() == [11, 12, 11, 12]


def test_a_list_of_changes_is_no_even_record(tmp_path: Path) -> None:
    text = "Time [s],crank\n0.000000000,0\n1.204118250,1\n1.208930125,0\n1.297340875,1\n1.3,0\n"
    (channel,) = opened(tmp_path, text).channels
    assert (channel.form, channel.step_s) == ("changes", None)
    assert channel.times_s is not None


def test_missing_cells_are_gaps_and_beyond_range_is_the_rail(tmp_path: Path) -> None:
    lines = (rows().splitlines())[:50]
    for place, cell in ((0, ""), (1, ""), (20, "∞"), (21, "∞"), (30, "-∞"), (40, "????")):
        lines[place] = lines[place].split(",")[0] + "," + cell
    capture = opened(tmp_path, "Time (s),bus (V)\n" + "\n".join(lines) + "\n")
    (channel,) = capture.channels
    assert channel.gaps == ((0, 2), (40, 41))
    assert channel.clipped == ((20, 22), (30, 31))
    values = channel.samples.block(0, 50)
    assert np.isnan(values[[0, 1, 40]]).all()
    assert values[20] == np.nanmax(values)
    assert any("'????' in line 42" in note for note in capture.notes)


def test_one_stray_row_at_the_end_is_left_out(tmp_path: Path) -> None:
    capture = opened(
        tmp_path, "Time (s),bus (V)\n" + "".join(f"{place * 1e-3:.3f},5\n" for place in range(1, 60)) + "0,0\n"
    )
    assert capture.channels[0].samples.size == 59
    assert any("last row" in note for note in capture.notes)


def test_an_index_with_an_interval_in_the_head(tmp_path: Path) -> None:
    text = "Sampling Period,1e-05\nIndex,CH1 (V)\n" + "".join(f"{place},{place % 7}\n" for place in range(80))
    (channel,) = opened(tmp_path, text).channels
    assert (channel.name, channel.step_s, channel.samples.size) == ("CH1", 1e-5, 80)


def test_seconds_since_1970_are_counted_from_the_first(tmp_path: Path) -> None:
    text = "time,volts\n" + "".join(f"{1709460942.5 + place * 0.01:.4f},{place % 3}\n" for place in range(60))
    (channel,) = opened(tmp_path, text).channels
    assert channel.start_s == 0.0
    assert channel.step_s == pytest.approx(0.01)


def test_an_unknown_unit_is_never_called_volts(tmp_path: Path) -> None:
    capture = opened(tmp_path, "A,B\n" + rows())
    assert capture.channels[0].unit is None
    assert any("no unit" in note for note in capture.notes)


BAD = {
    "empty": (b"", "is empty"),
    "blank": (b"\n\n  \n", "is empty"),
    "binary": (bytes(range(256)) * 40, "no text"),
    "words only": (b"once upon a time\nthere was a bus\n", "no table of numbers"),
    "one row": (b"Time (s),bus (V)\n0.0,12.0\n", "one row"),
    "time going backwards": (("Time (s),bus (V)\n" + rows() + rows().split("\n", 20)[20]).encode(), "backwards"),
    "time not a number": (
        ("Time (s),bus (V)\n" + rows() + "oops,12\n" + rows().replace("-0.0000", "0.0012")).encode(),
        "line 62",
    ),
    "no time": (("bus (V)\n" + "".join(f"{p % 9}.5\n" for p in range(99))).encode(), "neither a time column"),
    "same stamps": (("Time (s),bus (V)\n" + "0.1,5\n" * 60).encode(), "same"),
    "spectrum": (("Frequency (Hz),CH1 (dB)\n" + rows()).encode(), "spectrum"),
    "web page": (b"<!DOCTYPE html><html><body>404</body></html>", "web page"),
    "pointer": (b"version https://git-lfs.github.com/spec/v1\noid sha256:00\nsize 1\n", "pointer"),
}


@pytest.mark.parametrize(("content", "about"), BAD.values(), ids=BAD.keys())
def test_what_is_no_capture_is_refused_in_one_line(tmp_path: Path, content: bytes, about: str) -> None:
    with pytest.raises(FileProblem, match=about) as caught:
        opened(tmp_path, content)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("capture.csv")


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="no such file"):
        open_capture(tmp_path / "nothing.csv")
    with pytest.raises(FileProblem, match="folder"):
        open_capture(tmp_path)


def test_the_place_of_an_error_counts_blank_lines(tmp_path: Path) -> None:
    text = "Time (s),bus (V)\n\n\n" + rows(count=30) + "\n" + rows(count=25).split("\n", 20)[20]
    with pytest.raises(FileProblem, match="line 35"):
        opened(tmp_path, text)


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    separator=st.sampled_from([(",", False), (";", True), (";", False), ("\t", True), ("\t", False)]),
    count=st.integers(3, 400),
    step_exponent=st.integers(-8, -2),
    start=st.integers(-500, 500),
    channels=st.integers(1, 4),
    digits=st.integers(1, 5),
    exponent=st.booleans(),
    trailing=st.booleans(),
    units=st.sampled_from(["bracket", "row", "none"]),
    preamble=st.integers(0, 4),
)
def test_exact_whatever_the_layout(
    tmp_path: Path,
    separator: tuple[str, bool],
    count: int,
    step_exponent: int,
    start: int,
    channels: int,
    digits: int,
    exponent: bool,
    trailing: bool,
    units: str,
    preamble: int,
) -> None:
    divider, comma = separator
    step = 2 * 10.0**step_exponent
    rng = np.random.default_rng(count)
    values = np.round(rng.uniform(-20, 20, (count, channels)), digits)
    end = divider if trailing else ""

    def written(value: float) -> str:
        text = f"{value:.9e}" if exponent else f"{value:.12f}"
        return text.replace(".", ",") if comma else text

    names = [f"wire {letter}" for letter in "abcd"[:channels]]
    lines = [f"Key {number}{divider}value{number}" for number in range(preamble)]
    if units == "bracket":
        lines.append(divider.join(["Time (s)", *(f"{name} (V)" for name in names)]) + end)
    elif units == "row":
        lines += [divider.join(["Time", *names]) + end, divider.join(["s", *["V"] * channels]) + end]
    lines += [
        divider.join(map(written, ((start + place) * step, *row))) + end for place, row in enumerate(values.tolist())
    ]
    capture = opened(tmp_path, "\n".join(lines) + "\n")
    assert len(capture.channels) == channels
    for place, channel in enumerate(capture.channels):
        assert channel.samples.size == count
        assert channel.start_s == pytest.approx(start * step, abs=step * 1e-3)
        assert channel.step_s == pytest.approx(step, rel=1e-5)
        assert channel.samples.block(0, count) == pytest.approx(values[:, place].astype(np.float32), abs=1e-6)
        if units != "none":
            assert (channel.name, channel.unit) == (names[place], "V")


def test_fast_and_careful_ways_agree_on_a_large_file(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    values = np.round(rng.uniform(0, 14, 120_000), 4)
    lines = [f"{place * 1e-6:.7f},{value:.4f}" for place, value in enumerate(values)]
    plain = opened(tmp_path, "Time (s),bus (V)\n" + "\n".join(lines) + "\n")
    lines[60_000] = lines[60_000].split(",")[0] + ","  # one empty cell sends its block the careful way
    holed = opened(tmp_path, "Time (s),bus (V)\n" + "\n".join(lines) + "\n", "holed.csv")
    one, other = (capture.channels[0].samples.block(0, 120_000) for capture in (plain, holed))
    assert np.isnan(other[60_000])
    other = other.copy()
    other[60_000] = one[60_000]
    assert np.array_equal(one, other)
    assert one == pytest.approx(values.astype(np.float32))


def spoilt(rng: np.random.Generator, content: bytes) -> bytes:
    raw = bytearray(content)
    for _ in range(int(rng.integers(1, 20))):
        place = int(rng.integers(0, len(raw)))
        kind = rng.integers(0, 4)
        if kind == 0:
            raw[place] = int(rng.integers(0, 256))
        elif kind == 1:
            del raw[place : place + int(rng.integers(1, 50))]
        elif kind == 2:
            raw[place:place] = bytes(rng.integers(0, 256, int(rng.integers(1, 20))).astype(np.uint8))
        else:
            raw = raw[: max(place, 1)]
        if not raw:
            break
    return bytes(raw)


def fuzz(folder: Path, rounds: int) -> None:
    rng = np.random.default_rng(FUZZ_SEED)
    seeds = [
        ("Time (s),bus (V)\n" + rows()).encode(),
        ("Zeit;bus\n(ms);(V)\n;;\n" + rows(";", comma=True)).encode("utf-16"),
        ("Sample Interval,2e-06\n\nTIME,CH1\n" + rows()).encode(),
    ]
    for content in itertools.islice(itertools.cycle(seeds), rounds):
        try:
            capture = opened(folder, spoilt(rng, content))
        except LoomlightError as error:
            said = str(error)
        else:
            said = ""
            assert all(channel.samples.size >= 2 for channel in capture.channels)
        assert "\n" not in said


@pytest.mark.parametrize("stated", ["2e+506", "1e-320", "0", "-2e-06", "nan"])
def test_an_interval_that_no_recorder_has_is_not_taken(tmp_path: Path, stated: str) -> None:
    capture = opened(tmp_path, f"Sample Interval,{stated}\n\nTIME,CH1\n" + rows())
    assert capture.channels[0].step_s == pytest.approx(2e-6)


def test_spoilt_files_end_in_one_line_or_a_capture(tmp_path: Path) -> None:
    fuzz(tmp_path, 300)


@pytest.mark.long
def test_spoilt_files_full(tmp_path: Path) -> None:
    fuzz(tmp_path, 3000)


def test_what_is_missing_in_a_pair_is_marked_where_it_stands(tmp_path: Path) -> None:
    cells = [["12.5", "12.0"] for _ in range(60)]
    cells[10], cells[20], cells[30] = ["", "12.0"], ["inf", "12.0"], ["12.0", "inf"]
    rows = [f"{place * 1e-3:.3f},{cell}\n" for place, pair in enumerate(cells) for cell in pair]
    (tmp_path / "a.csv").write_text("Time (s),bus (V)\n" + "".join(rows))
    (channel,) = open_capture(tmp_path / "a.csv").channels
    values = channel.samples.block(0, 120)
    assert channel.form == "pairs"
    assert np.flatnonzero(np.isnan(values)).tolist() == [21]
    assert channel.gaps == ((21, 22),)
    assert channel.clipped == ((41, 42), (61, 62))


def test_a_column_beyond_its_range_throughout_is_left_out(tmp_path: Path) -> None:
    rows = [f"{place * 1e-3:.3f},9.9E37,{place % 5}.5\n" for place in range(80)]
    (tmp_path / "a.csv").write_text("Time (s),bus (V),lamp (V)\n" + "".join(rows))
    capture = open_capture(tmp_path / "a.csv")
    assert [channel.name for channel in capture.channels] == ["lamp"]
    assert any("bus" in note and "left out" in note for note in capture.notes)
