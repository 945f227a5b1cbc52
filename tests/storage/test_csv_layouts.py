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


BESIDE = (
    "Record Length,3.0e+02",
    "Sample Interval,4.000000e-06",
    "Trigger Point,1.5e+02",
    ",",
    "Source,{name}",
    "Vertical Units,{unit}",
    "Probe Atten,1.0e+01",
)


def beside(place: int, name: str = "CH2", unit: str = "V") -> str:
    return BESIDE[place].format(name=name, unit=unit) if place < len(BESIDE) else ","


def block(place: int, name: str) -> str:
    keys = ("Record Length,300,Points", "Sample Interval,1.0E-6,s", ",,", f"Source,{name},", "Vertical Units,V,")
    return keys[place] if place < len(keys) else ",,"


# Content; names, units, start, step, first values of each channel.
LAYOUTS = {
    "preamble beside the data": (
        rows(lambda p: f"{beside(p)},,{'-00.' if p % 2 else '  -0.'}{4000 - 4 * p:06d}000,  {volts(p):.5f},\n"),
        ["CH2"], ["V"], -0.004, 4e-6, [12.0],
    ),
    "the same after human hands": (
        ",,,zeit,spannung,\n" + rows(lambda p: f"{beside(p)},,{4e-6 * p - 0.004:.6f},{volts(p):.2f}\n"),
        ["spannung"], ["V"], -0.004, 4e-6, [12.0],
    ),
    "blocks side by side": (
        rows(
            lambda p: f"{block(p, 'CH1')},{p - 600.000002:.6f}E-6,{volts(p)},,"
            f"{block(p, 'CH2')},{p - 600.000002:.6f}E-6,{ripple(p)},\n"
        ),
        ["CH1", "CH2"], ["V", "V"], -600.000002e-6, 1e-6, [12.0, 0.0],
    ),
    "index, start and increment in the header": (
        "X,CH1,CH2,Start,Increment,\nSequence,Volt,Volt,-2.500000e-03,1.000000e-06\n"
        + rows(lambda p: f"{p},{volts(p):.2e},{ripple(p):.1e},\n"),
        ["CH1", "CH2"], ["V", "V"], -2.5e-3, 1e-6, [12.0, 0.0],
    ),
    "no index either": (
        "CH1,CH2,Start,Increment,\nVolt,Volt,-5.00000e-02,5.00000e-05\n"
        + rows(lambda p: f"{volts(p):.5e},{ripple(p):.5e},\n"),
        ["CH1", "CH2"], ["V", "V"], -5e-2, 5e-5, [12.0, 0.0],
    ),
    "names row, units row, ragged end": (
        ",CH1,CH3\r\nSecond,Volt,Volt\r\n"
        + rows(lambda p: f"{2e-6 * p - 1e-2:.6e},{volts(p):.2e},{ripple(p):.2e}, \r\n"),
        ["CH1", "CH3"], ["V", "V"], -1e-2, 2e-6, [12.0, 0.0],
    ),
    "source row, quantity row": (
        "Record Length,Analog:300\nSample Interval,CH1:0.0000020000\nVertical Units,CH1:V CH4:V,,\nHorizontal Units,us\n"
        "Source,CH1,CH4\nSecond,Volt,Volt\n"
        + rows(lambda p: f"{2e-6 * p - 0.002 + 5e-11 * (p % 3 - 1):.11f},{ripple(p):.5f},{volts(p):.5f}\n"),
        ["CH1", "CH4"], ["V", "V"], -0.00200000005, 2e-6, [0.0, 12.0],
    ),
    "axis row, engineering exponents, packed logic": (
        "x-axis,1,2,D0-D7\nsecond,Volt,Volt,\n"
        + rows(lambda p: f"{5e-7 * p - 2e-3:.5E},{volts(p) * 1000:+.1f}E-03,+{ripple(p) * 1000:.2f}E-03,{p % 7}\n"),
        ["CH 1", "CH 2", "D0-D7"], ["V", "V", None], -2e-3, 5e-7, [12.0, 0.0, 0.0],
    ),
    "long preamble, labels, unit by channel": (
        "Instrument,model\n\nWaveform Type,ANALOG,\nSample Interval,5e-06,\nProbe Attenuation,10,1\nVertical Units,V,A\n"
        ",,\nLabel,battery,starter\nTIME,CH1,CH2\n"
        + rows(lambda p: f"{5e-6 * p - 5e-2:.5e},{volts(p)},{ripple(p)}\n"),
        ["battery", "starter"], ["V", "A"], -5e-2, 5e-6, [12.0, 0.0],
    ),
    "key block closed by a marker row": (
        "Memory Length,300,\nTrigger Level,-20.0mV,\nSource,CH1,\nVertical Units,V,\nHorizontal Units,S,\n"
        "Sampling Period,2.000E-06,\nTime,03-Mar-24 10:15:42,\nWaveform Data,\n"
        + rows(lambda p: f"{2e-6 * p - 1e-2:.5e},{volts(p):.2e}\n"),
        ["CH1"], ["V"], -1e-2, 2e-6, [12.0],
    ),
    "raw counts and no time": (
        "Memory Length,300,\nSource,CH2,\nVertical Units,V,\nVertical Scale,5.0E-01,\nSampling Period,1.000E-05,\n"
        "Waveform Data,\n" + rows(lambda p: f"{24 if p // 20 % 2 else -31},\n"),
        ["CH2"], ["counts"], 0.0, 1e-5, [-31.0],
    ),
    "bracketed units row, decimal comma": (
        "Zeit;Kanal A;Kanal B\n(us);(V);(mV)\n;;\n"
        + rows(lambda p: f"{0.002 * p - 20:.8f};{volts(p):.8f};{ripple(p) * 1000:.8f}\n").replace(".", ","),
        ["Kanal A", "Kanal B"], ["V", "V"], -20e-6, 2e-9, [12.0, 0.0],
    ),
    "a time that is called frequency": (
        "Frequency,Channel A\n(ms),(V)\n\n" + rows(lambda p: f"{0.002 * p - 20:.8f},{volts(p):.8f}\n"),
        ["Channel A"], ["V"], -0.02, 2e-6, [12.0],
    ),
    "comment block": (
        "#Title\n#Sample rate: 250000Hz\n#Samples: 300\n#Trigger: Source: Channel 1, Level: 2 V\n\n"
        "Time (s),Channel 1 (V),Channel 2 (V)\n"
        + rows(lambda p: f"{4e-6 * p - 0.032768:.16f},{volts(p):.7f},{ripple(p):.7f}\n"),
        ["Channel 1", "Channel 2"], ["V", "V"], -0.032768, 4e-6, [12.0, 0.0],
    ),
    "interval in the head, values only": (
        "t0\t03/03/2024  10:15:42,118000\ndelta t\t1,25E-05\n\t\nY\t\n"
        + rows(lambda p: f"{volts(p) + 0.0412:.6f}\t\n").replace(".", ","),
        ["Y"], [None], 0.0, 1.25e-5, [12.0412],
    ),
    "logger with a wall clock": (
        (
            '\ufeff"Index","Timestamp","Voltage(V)","Serial","Name"\r\n'
            + rows(
                lambda p: f'"{p}","03.03.2024 {10 + p // 360:02d}:{p // 6 % 60:02d}:{p % 6 * 10:02d}","12,{p % 90 + 10}"'
                + (',"000","van battery"\r\n' if p == 0 else "\r\n")
            )
        ).encode("utf-16-le"),
        ["Voltage"], ["V"], 0.0, 10.0, [12.1],
    ),
    "stray NULs and unit words": (
        "Zeit\tKanal 1\tKanal 2\n\0Sekunden\t( mV )\t( mV )\n\0"
        + rows(lambda p: f"{3 * p}\t{volts(p) * 100:.3f}\t{ripple(p) * 100:.3f}\n").replace(".", ","),
        ["Kanal 1", "Kanal 2"], ["V", "V"], 0.0, 3.0, [1.2, 0.0],
    ),
    "header cells with single blanks, columns by wide ones": (
        "  Time (s)     A (V)    B (mV)\n"
        + rows(lambda p: f"  {p * 1e-5:.6f}   {volts(p):.3f}  {ripple(p) * 1000:8.3f}\n"),
        ["A", "B"], ["V", "V"], 0.0, 1e-5, [12.0, 0.0],
    ),
    "the time in the second column": (
        rows(lambda p: f"{volts(p):.3f},{p * 1e-5:.6f}\n"), ["column 1"], [None], 0.0, 1e-5, [12.0],
    ),
}  # fmt: skip


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS.keys())
def test_layout(tmp_path: Path, layout: tuple[str, list[str], list[str | None], float, float, list[float]]) -> None:
    content, names, units, start_s, step_s, first = layout
    capture = opened(tmp_path, content)
    assert [channel.name for channel in capture.channels] == names
    assert [channel.unit for channel in capture.channels] == units
    for channel, value in zip(capture.channels, first, strict=True):
        assert channel.form == "even"
        assert channel.samples.size == COUNT
        assert channel.start_s == pytest.approx(start_s, abs=1e-3 * step_s)
        # The span of the stamps is as good as their last digits.
        assert channel.step_s == pytest.approx(step_s, rel=1e-5)
        assert float(channel.samples.block(0, 1)[0]) == pytest.approx(value, rel=1e-6)


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
    "spectrum beside its preamble": (
        rows(lambda p: f"{beside(p, 'MATH', 'dB')},,{p * 2.5:.4f},{-volts(p)},\n"), "spectrum"),
    "spectrum by its units": (
        "Source,FFT\nHorizontal Units,Hz\nSampling Period,2\n" + rows(lambda p: f"{p * 2},{-volts(p)}\n"), "spectrum"),
    "segments": ("Time,Ampl\n" + rows(lambda p: f"{p % 100 * 1e-6:.6e},{volts(p)}\n"), "line 102: time goes backwards"),
    "channels under each other": (
        "#CHANNEL:CH1\n#CLOCK=20.0uS\n" + rows(lambda p: f"{volts(p)}\n") + "#CHANNEL:CH2\n"
        + rows(lambda p: f"{ripple(p)}\n"), "line 303: a second block"),
    "one row for each channel": (
        ",".join(str(p) for p in range(999)) + "\n" + ",".join(str(volts(p)) for p in range(999)), "999 columns"),
    "only an index": ("n,bus (V)\n" + rows(lambda p: f"{p},{volts(p)}\n"), "neither a time"),
    "no header and an index": (rows(lambda p: f"{p},{volts(p)}\n"), "only counts the rows"),
    "a table over a position": ("Position (mm),Height (V)\n" + rows(lambda p: f"{p * 0.5},{volts(p)}\n"), "neither a time"),
    "commas for everything": (
        "Zeit (ms),Spannung (V)\n" + rows(lambda p: f"{p // 10},{p % 10},{int(volts(p))},00\n"), "cannot be told apart"),
    "settings": ("[Channel]\n" + rows(lambda p: f"Key{p}:Value{p}\n", 40), "no table of numbers"),
    "rows that start over without names": (
        "Sample Interval,1e-3\n" + rows(lambda p: f"{p * 0.5},{volts(p)}\n"), "does not agree"),
}  # fmt: skip


@pytest.mark.parametrize(("content", "about"), REFUSED.values(), ids=REFUSED.keys())
def test_what_would_be_read_wrong_is_refused(tmp_path: Path, content: str, about: str) -> None:
    with pytest.raises(FileProblem, match=about) as caught:
        opened(tmp_path, content)
    assert "\n" not in str(caught.value)
