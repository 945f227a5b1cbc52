"""``compare``, ``check`` and ``inspect``: exit status, the keys of the JSON answers, and what the options do."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from loomlight import sample_captures
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.command_line import main

SAMPLES = Path(str(sample_captures.__path__[0]))
BEFORE, AFTER = str(SAMPLES / "before.csv"), str(SAMPLES / "after.csv")
KNOWN_GOOD = str(SAMPLES / "known_good.h5")
TOGETHER = ("--good", BEFORE, "--good-channel", "flap LIN", "--kind", "lin")

LINEUP = ["accepted", "by", "lag_s", "stretch", "fit", "sureness", "polarity", "overlap_s", "repeats_s"]
FINDING = ["file", "kind", "channel", "start_s", "stop_s", "size", "unit", "rule", "severity", "talker", "place"]
BUS = ["bit_rate", "frames", "no_response", "errors", "identifiers", "supply_v"]
VERDICT = [
    *("state", "fault", "short_to", "intermittent"),
    *("series_ohm", "series_ohm_low", "series_ohm_high", "reasons", "picture"),
]
CHANNEL = [
    *("name", "unit", "form", "samples", "segments", "start_s", "step_s", "min", "max", "gaps", "clipped"),
]


def _no_constant(text: str) -> float:
    raise AssertionError(f"{text} is no JSON")


def _answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, Any]:
    status = main([*arguments, "--json"])
    out, err = capsys.readouterr()
    assert err == ""
    return status, json.loads(out, parse_constant=_no_constant)


def _text(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    status = main(list(arguments))
    out, err = capsys.readouterr()
    assert err == ""
    return status, out


def _sine(path: Path, *, spike_v: float = 0.0, offset_v: float = 0.0) -> str:
    """Uneven bursts on 5 V, 1 kHz sampling; ``spike_v`` is added to three samples from 1.5 s on."""
    times_s = np.arange(3000) * 0.001
    volts = 5.0 + np.sin(40.0 * times_s**2) + offset_v
    volts[1500:1503] += spike_v
    rows = [f"{at:.3f},{value:.4f}" for at, value in zip(times_s.tolist(), volts.tolist(), strict=True)]
    path.write_text("\n".join(["time (s),sensor (V)", *rows]) + "\n")
    return str(path)


def test_compare_answers_with_the_keys_in_their_order(capsys: pytest.CaptureFixture[str]) -> None:
    status, answer = _answer(capsys, "compare", BEFORE, "--channel", "BLOWER lin", *TOGETHER)
    assert status == 1
    assert list(answer) == ["lineup", "findings", "bus", "verdict", "measures"]
    assert list(answer["lineup"]) == LINEUP
    assert {tuple(one) for one in answer["findings"]} == {tuple(FINDING)}
    assert list(answer["bus"])[: len(BUS)] == BUS
    assert list(answer["verdict"]) == VERDICT
    assert {one["file"] for one in answer["findings"]} == {BEFORE}


def test_compare_finds_the_made_fault(capsys: pytest.CaptureFixture[str]) -> None:
    """The sample's own truth: about 2.2 kΩ in the blower's branch, coming and going (sample_captures/make_samples.py)."""
    _, answer = _answer(capsys, "compare", BEFORE, "--channel", "blower LIN", *TOGETHER)
    verdict = answer["verdict"]
    assert (verdict["state"], verdict["fault"], verdict["intermittent"]) == ("faulty", "resistive", True)
    assert verdict["series_ohm_low"] <= verdict["series_ohm"] <= verdict["series_ohm_high"]
    assert answer["lineup"]["lag_s"] == 0.0, "recorded together on one time axis"
    starts = [one["start_s"] for one in answer["findings"]]
    assert starts == sorted(starts)
    assert "dropout" in {one["kind"] for one in answer["findings"] if one["channel"] == "blower LIN"}


def test_compare_of_the_mended_wire_is_clean_and_ends_with_zero(capsys: pytest.CaptureFixture[str]) -> None:
    good = ("--good", AFTER, "--good-channel", "flap LIN", "--kind", "lin")
    status, text = _text(capsys, "compare", AFTER, "--channel", "blower LIN", *good)
    assert status == 0
    assert text.startswith("✓ Clean")
    assert "No findings." in text


def test_compare_takes_the_kind_of_an_entry_and_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    status, text = _text(capsys, "compare", BEFORE, "--channel", "#2", "--good", KNOWN_GOOD)
    assert status == 1
    assert text.splitlines()[-1].startswith("Judged as LIN bus, as known_good.h5 says")
    _, given = _text(capsys, "compare", BEFORE, "--channel", "#2", "--good", KNOWN_GOOD, "--kind", "lin")
    assert "Judged as" not in given


def test_text_shows_verdict_first_and_twenty_findings_at_most(capsys: pytest.CaptureFixture[str]) -> None:
    _, answer = _answer(capsys, "compare", BEFORE, "--channel", "#1", *TOGETHER)
    _, text = _text(capsys, "compare", BEFORE, "--channel", "#1", *TOGETHER)
    lines = text.splitlines()
    assert lines[0] == "✗ Faulty: series resistance in the bus wire, comes and goes"
    count = len(answer["findings"])
    assert f"{count} findings (! the function may suffer):" in lines
    assert lines[-1] == f"  … and {count - 20} more"
    assert "Next: " in text
    assert "Lined up by shape" in text
    assert "Bus: 19" in text


def test_supply_as_figure_decimal_comma_or_channel(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capture = open_capture(Path(BEFORE))
    volts = capture.channel("blower LIN").samples.block(0, 20_000)
    step_s = capture.channels[0].step_s
    assert step_s is not None
    path = tmp_path / "with_supply.csv"
    rows = [f"{step_s * place:.6f},{value:.3f},12.4" for place, value in enumerate(volts.tolist())]
    path.write_text("\n".join(["time (s),blower (V),battery (V)", *rows]) + "\n")
    found = []
    for given in ("12.4", "12,4", "battery"):
        _, answer = _answer(capsys, "check", str(path), "--channel", "blower", "--kind", "lin", "--supply", given)
        found.append((round(answer["bus"]["supply_v"], 2), answer["bus"]["supply_from"]))
    assert found == [(11.7, "given")] * 3, (
        "limits are shares of the supply behind the node's diode, 0.7 V below its pin"
    )


def test_check_answers_as_compare_without_a_lineup(capsys: pytest.CaptureFixture[str]) -> None:
    status, answer = _answer(capsys, "check", AFTER, "--channel", "#1", "--kind", "lin")
    assert status == 0
    assert list(answer) == ["lineup", "findings", "bus", "verdict", "measures"]
    assert answer["lineup"] is None
    assert answer["verdict"]["state"] == "clean"


@pytest.mark.parametrize(
    ("limits", "kind"), [(("--upper", "9"), "too high"), (("--upper", "9", "--lower", "-1.5"), "too high")]
)
def test_check_own_limits_finds_the_spike_where_it_was_put(
    limits: tuple[str, ...], kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = _sine(tmp_path / "spike.csv", spike_v=6.0)
    status, answer = _answer(capsys, "check", path, "--channel", "sensor", "--kind", "own-limits", *limits)
    assert status == 1
    assert answer["bus"] is None
    (finding,) = answer["findings"]
    assert finding["kind"] == kind
    assert finding["start_s"] == pytest.approx(1.5, abs=0.001)
    assert finding["stop_s"] == pytest.approx(1.503, abs=0.001)
    clean = _sine(tmp_path / "clean.csv")
    assert _answer(capsys, "check", clean, "--channel", "sensor", "--kind", "own-limits", *limits)[0] == 0


def test_compare_within_a_tolerance_of_the_known_good(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good = _sine(tmp_path / "good.csv")
    bad = _sine(tmp_path / "bad.csv", spike_v=2.0)
    own = ("--channel", "sensor", "--good", good, "--kind", "own-limits", "--within", "0.5")
    status, answer = _answer(capsys, "compare", bad, *own)
    assert status == 1
    assert answer["lineup"]["accepted"] is True
    assert abs(answer["lineup"]["lag_s"]) < 0.001
    assert {one["kind"] for one in answer["findings"]} == {"out of band"}
    copy = _sine(tmp_path / "copy.csv")
    assert _answer(capsys, "compare", copy, *own)[0] == 0


def test_files_of_different_lengths_are_lined_up_over_what_both_cover(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """``t_good = lag_s + stretch · t_suspect``: the suspect's axis begins at zero with the good's sample 1000."""
    good = _sine(tmp_path / "good.csv")
    head, *rows = Path(good).read_text().splitlines()
    later = [f"{place * 0.001:.3f},{row.split(',')[1]}" for place, row in enumerate(rows[1000:2500])]
    short = tmp_path / "short.csv"
    short.write_text("\n".join([head, *later]) + "\n")
    own = ("--channel", "sensor", "--good", good, "--kind", "own-limits", "--within", "0.5")
    status, answer = _answer(capsys, "compare", str(short), *own)
    assert status == 0
    assert answer["lineup"]["lag_s"] == pytest.approx(1.0, abs=0.0005)
    assert answer["lineup"]["overlap_s"] == pytest.approx(1.5, abs=0.01)


def test_inspect_answers_with_the_keys_in_their_order(capsys: pytest.CaptureFixture[str]) -> None:
    status, answer = _answer(capsys, "inspect", BEFORE)
    assert status == 0
    assert list(answer) == ["file", "layout", "channels", "notes"]
    assert [list(one) for one in answer["channels"]] == [CHANNEL, CHANNEL]
    assert answer["file"] == BEFORE


def test_inspect_gives_gaps_as_ranges_and_range_over_finite_samples(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "gap.csv"
    rows = [f"{0.001 * row:.3f},{'' if 100 <= row < 110 else row % 7}" for row in range(300)]
    path.write_text("\n".join(["time (s),volts (V)", *rows]) + "\n")
    (channel,) = _answer(capsys, "inspect", str(path))[1]["channels"]
    assert channel["gaps"] == [[100, 110]]
    assert (channel["min"], channel["max"], channel["samples"]) == (0.0, 6.0, 300)


def test_inspect_text_numbers_the_channels(capsys: pytest.CaptureFixture[str]) -> None:
    _, text = _text(capsys, "inspect", BEFORE)
    assert "  #1 blower LIN (V): " in text
    assert "  #2 flap LIN (V): " in text


@pytest.mark.parametrize(
    ("extra", "told"),
    [
        (("--set", "teeth=36"), "no setting 'teeth'"),
        (("--beside", "current=#2"), "no role 'current'"),
    ],
)
def test_a_setting_or_role_that_the_kind_lacks_is_told(
    capsys: pytest.CaptureFixture[str], extra: tuple[str, str], told: str
) -> None:
    assert main(["check", BEFORE, "--channel", "blower LIN", "--kind", "lin", *extra]) == 2
    assert told in capsys.readouterr().err
