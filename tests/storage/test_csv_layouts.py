"""Text layouts as instruments and loggers write them, each with the traps it is known for. All content is made."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.storage.open_capture import open_capture

COUNT = 300


def volts(place: int) -> float:
    return 12.0 if place // 20 % 2 == 0 else 0.9


def ripple(place: int) -> float:
    return round(0.04 * (place % 5), 2)


def rows(line: Callable[[int], str], count: int = COUNT) -> str:
    return "".join(line(place) for place in range(count))


def opened(folder: Path, content: str | bytes) -> Capture:
    path = folder / "export.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return open_capture(path)


def test_a_record_that_was_not_full_starts_with_a_gap(tmp_path: Path) -> None:
    content = "Sample Interval,5e-06\n\nTIME,CH1\n" + rows(lambda p: f"{5e-6 * p:.5e},{'nan' if p < 180 else 1}\n")
    (channel,) = opened(tmp_path, content).channels
    assert (channel.samples.size, channel.gaps, channel.start_s) == (COUNT, ((0, 180),), 0.0)


@pytest.mark.parametrize(("one", "other"), [("CH1", "CH1 Peak Detect"), ("CH1(Max)", "CH1(Min)")])
def test_two_columns_of_extremes_are_one_channel(tmp_path: Path, one: str, other: str) -> None:
    content = f"Time (s),{one},{other}\n" + rows(lambda p: f"{1e-5 * p:.6f},{5 + (-1) ** p},5\n")
    (channel,) = opened(tmp_path, content).channels
    assert (channel.name, channel.form, channel.intervals) == ("CH1", "pairs", COUNT)
    assert channel.samples.block(0, 4).tolist() == [5, 6, 4, 5]


def test_each_channel_with_a_time_of_its_own(tmp_path: Path) -> None:
    content = "# /rig/a/time, /rig/a/volts, /rig/b/time, /rig/b/level\n" + rows(
        lambda p: (
            f"{1709460942 + 0.01 * p:.4f}, {volts(p)}, "
            + (f"{1709460942 + 0.02 * p:.4f}, {p % 3}\n" if p < 200 else ", \n")
        )
    )
    one, other = opened(tmp_path, content).channels
    assert (one.name, one.samples.size, one.step_s) == ("/rig/a/volts", COUNT, pytest.approx(0.01))
    assert (other.name, other.samples.size, other.step_s) == ("/rig/b/level", 200, pytest.approx(0.02))


def test_few_digits_are_no_excuse_for_uneven_stamps_that_start_at_a_bare_zero(tmp_path: Path) -> None:
    times = np.cumsum(np.random.default_rng(4).uniform(0.01, 0.9, COUNT))
    content = "Time (s),bus (V)\n0,1\n" + rows(lambda p: f"{times[p]:.4f},{p % 7}\n")
    (channel,) = opened(tmp_path, content).channels
    assert channel.form == "uneven"
    assert channel.times_s is not None
    assert channel.times_s[1:] == pytest.approx(np.round(times, 4))


def test_trailing_zeros_left_away_do_not_coarsen_the_digits(tmp_path: Path) -> None:
    content = rows(lambda p: f"{p / 60_000:g},{p % 7}.5\n", 8192)
    (channel,) = opened(tmp_path, content).channels
    assert channel.form == "even"
    assert channel.step_s == pytest.approx(1 / 60_000, rel=1e-5)


def test_a_stated_interval_wins_over_coarse_stamps(tmp_path: Path) -> None:
    content = "Sample Interval,0.001\n\nTIME,CH2\n" + rows(lambda p: f"{-2 + 0.001 * p:.2f},{ripple(p)}\n")
    capture = opened(tmp_path, content)
    assert capture.channels[0].step_s == 0.001
    assert any("as the preamble states" in note for note in capture.notes)


def test_a_stated_interval_that_disagrees_is_told(tmp_path: Path) -> None:
    content = "Sample Interval,0.5\n\nTIME,CH2\n" + rows(lambda p: f"{0.001 * p:.4f},{ripple(p)}\n")
    capture = opened(tmp_path, content)
    assert capture.channels[0].step_s == pytest.approx(0.001)
    assert any("does not agree" in note for note in capture.notes)


def test_a_stated_count_that_differs_is_told(tmp_path: Path) -> None:
    content = "Record Length,1000\nTime (s),bus (V)\n" + rows(lambda p: f"{1e-5 * p:.6f},{volts(p)}\n")
    assert any("states 1000 samples and holds 300" in note for note in opened(tmp_path, content).notes)


def test_numbers_too_large_for_single_precision_are_beyond_the_range(tmp_path: Path) -> None:
    content = "Time (s),bus (V)\n" + rows(lambda p: f"{1e-5 * p:.6f},{'1e300' if p == 9 else volts(p)}\n")
    assert opened(tmp_path, content).channels[0].clipped == ((9, 10),)


REFUSED = {
    "segments that start unlike one another": (
        "Time,Ampl\n" + rows(lambda p: f"{(p % 100 + p // 100 * 20) * 1e-6:.6e},{volts(p)}\n"),
        "line 102: time goes backwards"),
    "segments of unlike steps": (
        "Time,Ampl\n" + rows(lambda p: f"{p % 100 * 1e-6 * (1 + p // 100):.6e},{volts(p)}\n"),
        "line 102: time goes backwards"),
    "two stamps that lost their digits": (
        "Time (s),bus (V)\n" + rows(lambda p: f"{0.0 if p in (150, 151) else p * 1e-6:.6e},{volts(p)}\n"),
        "line 152: time goes backwards"),
    "rows of unlike length": (
        ",".join(str(volts(p)) for p in range(300)) + "\n" + ",".join(str(volts(p)) for p in range(299)),
        "unlike numbers of values"),
    "only an index": ("n,bus (V)\n" + rows(lambda p: f"{p},{volts(p)}\n"), "neither a time"),
    "no header and an index": (rows(lambda p: f"{p},{volts(p)}\n"), "only counts the rows"),
    "commas for everything": (
        "Zeit (ms),Spannung (V)\n" + rows(lambda p: f"{p // 10},{p % 10},{int(volts(p))},00\n"), "cannot be told apart"),
    "rows that start over without names": (
        "Sample Interval,1e-3\n" + rows(lambda p: f"{p * 0.5},{volts(p)}\n"), "does not agree"),
    "a second block of data": (
        "Time (s),bus (V)\n" + rows(lambda p: f"{p * 1e-6:.6f},{volts(p)}\n") + "# again\nTime (s),bus (V)\n"
        + rows(lambda p: f"{(p + COUNT) * 1e-6:.6f},{volts(p)}\n"), "the time is not a number"),
}  # fmt: skip


@pytest.mark.parametrize(("content", "about"), REFUSED.values(), ids=REFUSED.keys())
def test_what_would_be_read_wrong_is_refused(tmp_path: Path, content: str, about: str) -> None:
    with pytest.raises(FileProblem, match=about) as caught:
        opened(tmp_path, content)
    assert "\n" not in str(caught.value)
