"""What must not happen: each trap that text exports are known for, sprung."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.storage.open_capture import open_capture
from loomlight.storage.reading import Reading

COUNT = 400


def opened(folder: Path, text: str | bytes, reading: Reading | None = None) -> Capture:
    path = folder / "export.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return open_capture(path, reading=reading)


def timed(stamp: Callable[[int], str], count: int = COUNT, head: str = "Time (s),bus (V)\n") -> str:
    return head + "".join(f"{stamp(p)},{p % 7 + 0.5}\n" for p in range(count))


# True step, how each stamp is written, and how well its digits can tell the step.
STAMPS: dict[str, tuple[float, Callable[[int], str], float]] = {
    "three significant digits": (2.5e-8, lambda p: f"{-7.4e-5 + 2.5e-8 * p:.2e}", 0.02),
    "enough digits before the trigger, too few after": (1.6e-6, lambda p: f"{1.6e-6 * p - 1e-6:.3g}", 0.01),
    "float32 rounding": (1e-6, lambda p: f"{np.float32(1e-6 * p - 0.005):.9g}", 2e-4),
    "exponents in threes": (5e-4,
        lambda p: f"{0.5 * p - 1000.5:+.3f}E-03" if p % 2 else f"{5e-4 * p - 1.0005:+.6f}E+00", 1e-6),
    "mixed notation": (2.5e-5, lambda p: f"{2.5e-5 * p:.1E}" if p < 4 else f"{2.5e-5 * p:.6f}", 1e-6),
    "three-digit exponents": (1 / 3 * 1e-4, lambda p: f"{p / 3 * 1e-4:.6e}".replace("e-0", "e-00"), 1e-5),
    "no leading zero": (0.01, lambda p: f"{0.01 * p - 0.25:.2f}".replace("0.", "."), 1e-6),
    "padded with zeros": (4e-6, lambda p: f"{'-' if p < 200 else ''}00.{abs(4 * p - 800):06d}", 1e-6),
    "padded with blanks": (4e-6, lambda p: f"{4e-6 * p - 8e-4:14.6f}", 1e-6),
}  # fmt: skip


@pytest.mark.parametrize(("step_s", "stamp", "within"), STAMPS.values(), ids=STAMPS.keys())
def test_the_step_is_never_one_difference_nor_their_median(
    tmp_path: Path, step_s: float, stamp: Callable[[int], str], within: float
) -> None:
    (channel,) = opened(tmp_path, timed(stamp)).channels
    assert (channel.form, channel.samples.size) == ("even", COUNT)
    assert channel.step_s == pytest.approx(step_s, rel=within)
    assert channel.start_s == pytest.approx(float(stamp(0)))


def test_a_stated_interval_is_taken_where_the_stamps_are_coarse_and_not_where_it_is_rounded(tmp_path: Path) -> None:
    coarse = opened(tmp_path, timed(lambda p: f"{1.6e-6 * p:.3g}", head="Sample Interval,1.6e-06\n,,\nTIME,CH1\n"))
    assert coarse.channels[0].step_s == 1.6e-6
    rounded = opened(tmp_path, timed(lambda p: f"{p / 60_000:.12f}", head="Sample Interval,1.67e-05\n,,\nTIME,CH1\n"))
    assert rounded.channels[0].step_s == pytest.approx(1 / 60_000, rel=1e-9)
    assert any("is the same, rounded" in note for note in rounded.notes)
    rate = opened(tmp_path, timed(lambda p: f"{5.6e-5 * p:.12f}", head="#Sample rate: 17857.1Hz\nTime (s),CH1 (V)\n"))
    assert rate.channels[0].step_s == pytest.approx(5.6e-5, rel=1e-9)


def test_pairs_are_neither_interleaved_nor_thinned(tmp_path: Path) -> None:
    (channel,) = opened(tmp_path, timed(lambda p: f"{p // 2 * 1e-4:.5f}")).channels
    assert (channel.form, channel.intervals, channel.samples.size) == ("pairs", COUNT // 2, COUNT)
    low, high = channel.samples.block(0, COUNT).reshape(-1, 2).T
    assert (low <= high).all()
    spread = opened(tmp_path, timed(lambda p: f"{p // 2 * 1e-4:.5f}"), Reading(pairs=False)).channels[0]
    assert (spread.form, spread.step_s) == ("even", pytest.approx(5e-5))


def test_pauses_between_bursts_are_kept_and_no_rate_is_pretended(tmp_path: Path) -> None:
    capture = opened(tmp_path, timed(lambda p: f"{p // 10 * 2 + p % 10 * 1e-3:.4f}"))
    (channel,) = capture.channels
    assert (channel.form, channel.step_s, channel.gaps) == ("uneven", None, ())
    assert any("a pause is no dropout" in note for note in capture.notes)


def test_one_spoilt_stamp_is_put_in_line_only_where_all_others_stand_there(tmp_path: Path) -> None:
    for spoilt in ("oops", "", "9.9", "0.0000"):
        capture = opened(tmp_path, timed(lambda p, cell=spoilt: cell if p == 50 else f"{1e-4 * p:.4f}"))
        assert capture.channels[0].step_s == pytest.approx(1e-4)
        assert capture.channels[0].samples.size == COUNT
        assert any("1 time stamp is spoilt" in note for note in capture.notes)
    lost_row = timed(lambda p: "oops" if p == 50 else f"{1e-4 * (p + (p > 50)):.4f}")  # a row beside it is missing
    with pytest.raises(FileProblem, match="line 52: the time is not a number"):
        opened(tmp_path, lost_row)


def test_segments_keep_the_times_of_the_file_and_beyond_a_bound_only_the_first_are_opened(tmp_path: Path) -> None:
    capture = opened(tmp_path, timed(lambda p: f"{p % 60 * 1e-6:.6f}", 60 * 70))
    assert len(capture.channels) == 64
    assert {channel.segments for channel in capture.channels} == {70}
    assert {channel.start_s for channel in capture.channels} == {0.0}
    assert any("The first 64 of 70 segments" in note for note in capture.notes)


def test_a_last_segment_that_was_stopped_is_kept(tmp_path: Path) -> None:
    capture = opened(tmp_path, timed(lambda p: f"{p % 100 * 1e-6:.6f}", 230))
    assert [channel.samples.size for channel in capture.channels] == [100, 100, 30]
    assert any("30 samples a segment are too short to be lined up" in note for note in capture.notes)


def test_not_acquired_is_a_gap_never_zero(tmp_path: Path) -> None:
    text = "Time (s),bus (V)\n" + "".join(
        f"{p * 1e-5:.6f},{'' if p < 2 else 'nan' if p < 250 else 12}\n" for p in range(COUNT)
    )
    (channel,) = opened(tmp_path, text).channels
    assert channel.gaps == ((0, 250),)
    assert np.isnan(channel.samples.block(0, 250)).all()
    assert (channel.start_s, channel.samples.size) == (0.0, COUNT)


@pytest.mark.parametrize(
    ("mark", "rail"),
    [("inf", 12.0), ("∞", 12.0), ("1.#INF", 12.0), ("9.9E37", 12.0), ("****", 12.0), ("Overload", 12.0),
     ("Out of range", 12.0), ("-inf", 1.0), ("-∞", 1.0), ("-9.9E+37", 1.0)],
)  # fmt: skip
def test_beyond_the_range_is_at_least_the_rail_with_its_sign(tmp_path: Path, mark: str, rail: float) -> None:
    text = "Time (s),bus (V)\n" + "".join(f"{p * 1e-5:.6f},{mark if p == 9 else 1 + p % 12}\n" for p in range(COUNT))
    (channel,) = opened(tmp_path, text).channels
    assert (channel.clipped, channel.gaps) == (((9, 10),), ())
    assert float(channel.samples.block(9, 10)[0]) == rail


def test_a_record_that_touches_both_ends_again_and_again_is_told(tmp_path: Path) -> None:
    wave = np.clip(np.round(8 * np.sin(np.arange(2000) / 15), 2), -5, 5)
    text = "Time (s),bus (V)\n" + "".join(f"{p * 1e-5:.6f},{value}\n" for p, value in enumerate(wave))
    assert any("touches both ends of its range, -5 V and 5 V" in note for note in opened(tmp_path, text).notes)
    digital = "Time (s),bus (V)\n" + "".join(f"{p * 1e-5:.6f},{12 if p // 50 % 2 else 0}\n" for p in range(2000))
    assert not any("touches" in note for note in opened(tmp_path, digital).notes)


def test_one_row_is_neither_a_header_nor_thousands_of_channels(tmp_path: Path) -> None:
    values = np.round(np.random.default_rng(3).uniform(0, 14, 40_000), 3)
    capture = opened(tmp_path, ",".join(map(str, values)), Reading(step_s=1e-6))  # one line of 250 kB and more
    (channel,) = capture.channels
    assert channel.samples.size == 40_000
    assert channel.samples.block(0, 40_000) == pytest.approx(values.astype(np.float32))


def test_whole_numbers_without_a_unit_are_counts_never_volts(tmp_path: Path) -> None:
    capture = opened(tmp_path, "".join(f"{p * 7 % 256}\n" for p in range(COUNT)), Reading(step_s=1e-6))
    assert capture.channels[0].unit == "counts"
    assert capture.questions == ("column 1 holds converter counts: how many volts is one?",)
    said = opened(tmp_path, "".join(f"{p * 7 % 256}\n" for p in range(COUNT)), Reading(step_s=1e-6, units=((1, "V"),)))
    assert said.channels[0].unit == "V"


@pytest.mark.parametrize(
    ("order", "dates", "span_s"),
    [(None, ("30/04/2024", "01/05/2024"), 86400.0), (None, ("04/30/2024", "05/01/2024"), 86400.0),
     ("month-first", ("03/04/2024", "03/05/2024"), 86400.0), ("day-first", ("03/04/2024", "04/04/2024"), 86400.0),
     (None, ("3-Mar-2024", "4-MAR-24"), 86400.0), (None, ("2024/03/04", "2024-03-05"), 86400.0),
     (None, ("03.04.2024", "04.04.2024"), 86400.0)],
)  # fmt: skip
def test_day_and_month(tmp_path: Path, order: str | None, dates: tuple[str, str], span_s: float) -> None:
    stamps = [f"{date} {hour:02d}:00:00" for date in dates for hour in range(24)]
    text = "Timestamp,bus (V)\n" + "".join(f"{stamp},{p % 5}.5\n" for p, stamp in enumerate(stamps))
    (channel,) = opened(tmp_path, text, Reading(date_order=order)).channels  # type: ignore[arg-type]
    assert channel.step_s == pytest.approx(3600.0)
    assert (channel.stop_s - channel.start_s) == pytest.approx(2 * span_s)


def test_dates_that_contradict_what_was_said_are_refused(tmp_path: Path) -> None:
    text = "Timestamp,bus (V)\n" + "".join(f"{p + 1}/04/2024 10:00:00,{p % 5}.5\n" for p in range(20))
    with pytest.raises(FileProblem, match="cannot be read month-first"):
        opened(tmp_path, text, Reading(date_order="month-first"))


def test_a_clock_that_was_never_set_is_no_start(tmp_path: Path) -> None:
    text = "Timestamp,bus (V)\n" + "".join(f"01.01.1904 00:{p // 60:02d}:{p % 60:02d},{p % 5}.5\n" for p in range(90))
    capture = opened(tmp_path, text)
    assert capture.channels[0].start_s == 0.0
    assert any("clock was not set" in note for note in capture.notes)
    assert not any("1904" in note for note in capture.notes)


def test_a_probe_factor_is_shown_and_never_multiplied(tmp_path: Path) -> None:
    (channel,) = opened(
        tmp_path, "Probe Attenuation,10\nVertical Units,V\n,,\nTIME,CH1\n" + timed(lambda p: f"{p * 1e-5:.6f}", head="")
    ).channels
    assert float(channel.samples.block(0, 1)[0]) == 0.5


def test_text_left_of_the_numbers_loses_no_row_and_quotes_keep_a_comma(tmp_path: Path) -> None:
    keys = ["Record Length,400", "Sample Interval,1e-5", "Source,CH1"] + [","] * (COUNT - 3)
    text = "".join(f"{key},,{p * 1e-5:.6f},{p % 7}.5\n" for p, key in enumerate(keys))
    assert opened(tmp_path, text).channels[0].samples.size == COUNT
    quoted = '"Time (s)","bus (V)"\n' + "".join(f'"{p // 10},{p % 10}","{p % 7},5"\n' for p in range(COUNT))
    (channel,) = opened(tmp_path, quoted).channels
    assert (channel.step_s, float(channel.samples.block(3, 4)[0])) == (pytest.approx(0.1), 3.5)


def test_counts_made_volts_by_the_preamble_are_whole_ones_only(tmp_path: Path) -> None:
    head = "XIncrement,1e-6\nYOrigin,0\nYIncrement,0.5\nYReference,0\nY Units,V\n"
    scaled = opened(tmp_path, head + "".join(f"{p % 9}\n" for p in range(COUNT)))
    assert scaled.channels[0].samples.block(0, 3) == pytest.approx([0, 0.5, 1.0])
    volts = opened(tmp_path, head + "".join(f"{p % 9}.25\n" for p in range(COUNT)))
    assert volts.channels[0].samples.block(0, 3) == pytest.approx([0.25, 1.25, 2.25])


@pytest.mark.parametrize(
    "cells",
    [
        lambda s: f"2024-03-03,{s // 3600:02d}:{s // 60 % 60:02d}:{s % 60:02d}",
        lambda s: f"03.03.24,{s // 3600:02d}:{s // 60 % 60:02d}:{s % 60:02d}.000",
        lambda s: (
            f"x,3/30/2024 {(s // 3600 + 11) % 12 + 1}:{s // 60 % 60:02d}:{s % 60:02d} {'PM' if s >= 43200 else 'AM'}"
        ),
        lambda s: f"x,2024-03-03T{s // 3600:02d}:{s // 60 % 60:02d}:{s % 60:02d}Z",
    ],
    ids=["date and time in two columns", "short year", "morning and afternoon", "with a zone"],
)
def test_clocks_as_loggers_write_them(tmp_path: Path, cells: Callable[[int], str]) -> None:
    text = "Date,Time,bus (V)\n" + "".join(f"{cells(43000 + 5 * p)},{p % 7}.5\n" for p in range(90))
    (channel,) = opened(tmp_path, text).channels
    assert (channel.name, channel.start_s, channel.step_s) == ("bus", 0.0, pytest.approx(5.0))


def test_midnight_is_no_new_segment(tmp_path: Path) -> None:
    def clock(seconds: int) -> str:
        return f"{seconds // 3600 % 24:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"

    text = "Time,bus (V)\n" + "".join(f"{clock(86_000 + 10 * p)},{p % 7}.5\n" for p in range(120))
    capture = opened(tmp_path, text)
    assert [(one.samples.size, one.step_s) for one in capture.channels] == [(120, pytest.approx(10.0))]
    assert any("taken at 23:53:20" in note for note in capture.notes)


def test_a_file_that_was_cut_in_its_last_row_keeps_its_axis(tmp_path: Path) -> None:
    text = timed(lambda p: f"{2.0876826e-5 * p + 0.3:.9E}", 200)
    for cut in range(1, 20):
        channel = opened(tmp_path, text[:-cut]).channels[0]
        assert (channel.form, channel.start_s) == ("even", pytest.approx(0.3))
        assert channel.step_s == pytest.approx(2.0876826e-5, rel=1e-6)
        assert 199 <= channel.samples.size <= 200


def test_pairs_that_were_cut_stay_pairs(tmp_path: Path) -> None:
    text = timed(lambda p: f"{p // 2 * 1e-4:.5f}")
    for cut in range(1, 28):
        (channel,) = opened(tmp_path, text[:-cut]).channels
        assert (channel.form, channel.step_s) == ("pairs", pytest.approx(1e-4))
        assert COUNT // 2 - 2 <= channel.intervals <= COUNT // 2


def test_pairs_behind_coarse_stamps_are_asked_about(tmp_path: Path) -> None:
    wave = np.sin(np.arange(600) // 2 / 9) + 0.1 * (np.arange(600) % 2)
    text = "Time (s),bus (V)\n" + "".join(f"{p // 2 * 2.5e-7 + 1e-3:.4g},{value:.3f}\n" for p, value in enumerate(wave))
    capture = opened(tmp_path, text)
    assert capture.questions == (
        "Each second value is the greater one: are these minimum and maximum of each interval?",
    )
    (channel,) = opened(tmp_path, text, Reading(pairs=True)).channels
    assert (channel.form, channel.intervals, channel.step_s) == ("pairs", 300, pytest.approx(2.5e-7, rel=0.02))


def test_seconds_since_1970_keep_what_a_double_can(tmp_path: Path) -> None:
    (channel,) = opened(
        tmp_path, timed(lambda p: f"17094609{42 + (p * 3 + 9) // 1_000_000}.{p * 3 + 9:06d}0000")
    ).channels
    assert (channel.form, channel.start_s) == ("even", 0.0)
    assert channel.step_s == pytest.approx(3e-6, rel=1e-3)


@pytest.mark.parametrize(
    ("head", "name", "unit", "step_s"),
    [
        ("t/ms,U/V", "U", "V", 5e-4),
        ("time_ms,ch1_mV", "ch1", "V", 5e-4),
        ("t_us,bus_volts", "bus", "V", 5e-7),
        ("Time (min),bus (v)", "bus", "V", 30.0),
        ("Time [h],Kanal_A", "Kanal_A", None, 1800.0),
        ("Time (s),node_A (V)", "node_A", "V", 0.5),
    ],
)
def test_units_as_scripts_write_them(tmp_path: Path, head: str, name: str, unit: str | None, step_s: float) -> None:
    (channel,) = opened(tmp_path, timed(lambda p: f"{p * 0.5}", head=f"{head}\n")).channels
    assert (channel.name, channel.unit) == (name, unit)
    assert channel.step_s == pytest.approx(step_s)


def test_the_same_time_twice_is_one_axis_and_a_time_without_values_is_left_out(tmp_path: Path) -> None:
    twice = "Time (s),Time (ms),bus (V)\n" + "".join(f"{p / 1000},{p},{p % 7}.5\n" for p in range(COUNT))
    (channel,) = opened(tmp_path, twice).channels
    assert (channel.name, channel.step_s) == ("bus", pytest.approx(1e-3))
    epoch = "epoch (s),Time (s),bus (V)\n" + "".join(f"{1709460942 + p},{p / 10},{p % 7}.5\n" for p in range(COUNT))
    capture = opened(tmp_path, epoch)
    assert [(one.name, one.step_s) for one in capture.channels] == [("bus", pytest.approx(0.1))]
    assert any("Column 1 is a time without values" in note for note in capture.notes)


@pytest.mark.parametrize(
    "words", ["Sampling frequency: 2 kHz", "Rate,2000", "fs = 2kHz", "#Sample rate: 2 kSa/s", "dt = 0.5 ms"]
)
def test_a_rate_in_other_words(tmp_path: Path, words: str) -> None:
    (channel,) = opened(tmp_path, f"{words}\nbus (V)\n" + "".join(f"{p % 7}.5\n" for p in range(COUNT))).channels
    assert (channel.name, channel.step_s) == ("bus", pytest.approx(5e-4))


def test_a_time_that_runs_backwards_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileProblem, match="runs backwards"):
        opened(tmp_path, timed(lambda p: f"{(COUNT - p) / 1000}"))


def test_more_rows_than_can_be_told_from_instants_are_asked_about(tmp_path: Path) -> None:
    text = "".join(",".join(f"{row + (p % 5) / 4}" for p in range(100)) + "\n" for row in range(12))
    with pytest.raises(FileProblem, match=r"100 columns of numbers.*--rows-are-channels"):
        opened(tmp_path, text)
    capture = opened(tmp_path, text, Reading(rows_are_channels=True, step_s=1e-3))
    assert [channel.samples.size for channel in capture.channels] == [100] * 12
