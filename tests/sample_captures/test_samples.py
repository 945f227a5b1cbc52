"""The sample captures are what the script makes, tell their story, and stay small."""

import hashlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from loomlight import sample_captures
from loomlight.sample_captures.make_samples import make
from loomlight.signal.capture import Capture
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.prove import prove
from loomlight.storage.open_capture import open_capture

HERE = Path(sample_captures.__path__[0])
TEXTS = ("before.csv", "after.csv", "before_other_layout.csv", "other_vehicle_good.csv")
SUSPECT, GOOD = "blower LIN", "flap LIN"
TRUE_OHM = 2200.0


@pytest.fixture(scope="module")
def opened() -> dict[str, Capture]:
    return {name: open_capture(HERE / name) for name in (*TEXTS, "known_good.h5")}


def together(capture: Capture) -> Comparison:
    conditions = Conditions(same_moment=True)
    return compare(capture.channel(SUSPECT), capture.channel(GOOD), kind="lin", conditions=conditions)


def test_the_script_makes_the_same_bytes_again(tmp_path: Path, opened: dict[str, Capture]) -> None:
    make(tmp_path)
    for name in TEXTS:
        made, kept = ((folder / name).read_bytes() for folder in (tmp_path, HERE))
        assert hashlib.sha256(made).digest() == hashlib.sha256(kept).digest(), name
    made_good, kept_good = open_capture(tmp_path / "known_good.h5"), opened["known_good.h5"]
    one, other = made_good.channels[0].samples, kept_good.channels[0].samples
    assert np.array_equal(one.block(0, one.size), other.block(0, other.size))


def test_all_together_stay_small() -> None:
    assert sum(path.stat().st_size for path in HERE.iterdir() if path.suffix in (".csv", ".h5")) < 12_000_000


@pytest.mark.parametrize(
    ("name", "channels", "step_s", "least_s"),
    [
        ("before.csv", [SUSPECT, GOOD], 2e-6, 0.15),
        ("after.csv", [SUSPECT, GOOD], 2e-6, 0.15),
        ("before_other_layout.csv", [SUSPECT, GOOD], 4e-6, 0.09),
        ("other_vehicle_good.csv", ["door LIN"], 5e-6, 0.15),
        ("known_good.h5", [GOOD], 2e-6, 0.15),
    ],
)
def test_each_file_is_read_as_it_was_meant(
    opened: dict[str, Capture], name: str, channels: list[str], step_s: float, least_s: float
) -> None:
    capture = opened[name]
    assert [one.name for one in capture.channels] == channels
    for one in capture.channels:
        assert (one.unit, one.form) == ("V", "even")
        assert one.step_s == pytest.approx(step_s, rel=1e-6)
        assert one.stop_s - one.start_s > least_s
        values = one.samples.block(0, one.samples.size)
        assert np.isfinite(values).all()
        assert -0.5 < values.min() < 2.0
        assert 11.0 < values.max() < 14.0


def test_before_shows_the_corroded_pin(opened: dict[str, Capture]) -> None:
    verdict = together(opened["before.csv"]).verdict
    assert (verdict.state, verdict.fault, verdict.intermittent) == ("faulty", "resistive", True)
    assert verdict.series_ohm_low is not None
    assert verdict.series_ohm_high is not None
    assert verdict.series_ohm_low < TRUE_OHM < verdict.series_ohm_high


def test_the_other_instrument_saw_the_same(opened: dict[str, Capture]) -> None:
    verdict = together(opened["before_other_layout.csv"]).verdict
    assert (verdict.state, verdict.fault, verdict.intermittent) == ("faulty", "resistive", True)
    fine, coarse = opened["before.csv"].channel(GOOD), opened["before_other_layout.csv"].channel(GOOD)
    offset = round((0.06 - 0.0) / 2e-6)
    one = fine.samples.block(offset, offset + 2 * coarse.samples.size)[::2]
    other = coarse.samples.block(0, coarse.samples.size)
    assert float(np.corrcoef(one, other[: one.size])[0, 1]) > 0.99


def test_after_is_clean_and_the_repair_is_proven(opened: dict[str, Capture]) -> None:
    after = together(opened["after.csv"])
    assert (after.verdict.state, after.findings) == ("clean", ())
    assert prove(together(opened["before.csv"]), after).state == "proven"


def against_library(name: str) -> Callable[[dict[str, Capture]], Comparison]:
    def run(opened: dict[str, Capture]) -> Comparison:
        good = opened["known_good.h5"].channels[0]
        return compare(opened[name].channel(SUSPECT), good, kind="lin", conditions=Conditions())

    return run


def test_the_library_entry_tells_before_from_after(opened: dict[str, Capture]) -> None:
    before, after = (against_library(name)(opened) for name in ("before.csv", "after.csv"))
    for one in (before, after):
        assert one.lineup is not None
        assert one.lineup.accepted
    assert (before.verdict.state, before.verdict.intermittent) == ("faulty", True)
    assert before.verdict.series_ohm_low is None or before.verdict.series_ohm_low < TRUE_OHM
    assert after.verdict.state == "clean"


def test_another_vehicles_bus_is_clean_by_itself_and_no_known_good_for_this_one(opened: dict[str, Capture]) -> None:
    other = opened["other_vehicle_good.csv"].channels[0]
    alone = check(other, kind="lin", conditions=Conditions())
    assert alone.verdict.state == "clean"
    assert alone.bus is not None
    assert alone.bus.bit_rate == pytest.approx(9600, rel=0.01)
    found = compare(opened["before.csv"].channel(SUSPECT), other, kind="lin", conditions=Conditions())
    assert found.lineup is not None
    assert not found.lineup.accepted
