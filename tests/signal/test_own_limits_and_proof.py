"""Own limits, comparisons and the proof."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.circuit import LinBus
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse, UnknownKind
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.listing import KINDS, kind_named
from loomlight.signal.kinds.own_limits import MOST_FINDINGS
from loomlight.signal.progress import Cancelled
from loomlight.signal.prove import prove
from loomlight.signal.samples import FloatSamples
from loomlight.signal.verdict import Verdict


def channel(values: np.ndarray, unit: str | None = "V") -> Channel:
    return Channel("x", unit, FloatSamples(values), 10.0, 1e-3)


def own(values: np.ndarray, **limits: float) -> Comparison:
    return check(channel(values), kind="own-limits", conditions=Conditions(**limits))


def test_stretches_beyond_the_limits_are_found_where_they_are() -> None:
    values = np.full(1000, 5.0)
    values[100:110], values[500] = 9.0, 1.0
    found = own(values, upper_v=8.0, lower_v=2.0)
    assert [(one.kind, one.start_s, one.stop_s, one.size) for one in found.findings] == [
        ("too high", pytest.approx(10.1), pytest.approx(10.11), pytest.approx(1.0)),
        ("too low", pytest.approx(10.5), pytest.approx(10.501), pytest.approx(1.0)),
    ]
    assert (found.verdict.state, found.verdict.fault) == ("faulty", "unknown")


def test_a_stretch_over_two_blocks_is_one() -> None:
    values = np.zeros(600_000)
    values[262_000:262_300] = 3.0
    assert [(one.start_s, one.size) for one in own(values, upper_v=2.0).findings] == [
        (10.0 + 262.0, pytest.approx(1.0))
    ]


def test_kept_limits_are_clean_and_at_the_limit_is_kept() -> None:
    found = own(np.full(100, 8.0), upper_v=8.0)
    assert (found.verdict.state, found.findings) == ("clean", ())


def test_thousands_of_breaks_are_joined() -> None:
    values = np.zeros(100_000)
    values[::4] = 5.0
    found = own(values, upper_v=1.0)
    assert 0 < len(found.findings) <= 2 * MOST_FINDINGS
    assert found.findings[0].start_s == pytest.approx(10.0)
    assert found.findings[-1].stop_s == pytest.approx(10.0 + 99_997e-3)


def test_tolerance_around_a_known_good() -> None:
    rng = np.random.default_rng(1)
    base = np.convolve(rng.normal(size=6000), np.hanning(20), mode="same")
    suspect = base[1000:5000].copy()
    suspect[2000:2050] += 4.0
    found = compare(channel(suspect), channel(base), kind="own-limits", conditions=Conditions(within_v=2.0))
    assert [one.kind for one in found.findings] == ["out of band"]
    assert found.findings[0].start_s == pytest.approx(12.0, abs=2e-3)
    assert found.tolerance_v == 2.0


def test_a_tolerance_without_a_line_up_cannot_be_told() -> None:
    rng = np.random.default_rng(2)
    one, other = rng.normal(size=(2, 4000))
    verdict = compare(channel(one), channel(other), kind="own-limits", conditions=Conditions(within_v=9.0)).verdict
    assert verdict.state == "cannot tell"


@pytest.mark.parametrize(
    ("limits", "about"),
    [
        ({}, "give an upper level"),
        ({"upper_v": 1.0, "lower_v": 2.0}, "above the lower"),
        ({"within_v": 0.0}, "above 0"),
    ],
)
def test_limits_that_make_no_sense_are_refused(limits: dict[str, float], about: str) -> None:
    with pytest.raises(CannotUse, match=about):
        own(np.zeros(100), **limits)


def test_an_unknown_kind_names_those_there_are() -> None:
    with pytest.raises(UnknownKind, match="own-limits"):
        kind_named("telegraph")


def test_every_kind_brings_sources_and_cautions() -> None:
    for kind in (listed.load() for listed in KINDS):
        assert kind.cautions
        assert all(limit.source for limit in kind.limits)


def test_lin_wants_volts(healthy: Any) -> None:
    amps = Channel("clamp", "A", healthy.near.samples, 0.0, healthy.near.step_s)
    with pytest.raises(CannotUse, match="judges volts"):
        check(amps, kind="lin", conditions=Conditions())


def test_a_comparison_can_be_given_up(healthy: Any) -> None:
    def stop(share: float) -> None:
        if share > 0.5:
            raise Cancelled

    with pytest.raises(Cancelled):
        compare(healthy.far, healthy.near, kind="lin", conditions=Conditions(same_moment=True), progress=stop)


def test_progress_goes_from_nothing_to_all(healthy: Any) -> None:
    shares: list[float] = []
    compare(healthy.far, healthy.near, kind="lin", conditions=Conditions(same_moment=True), progress=shares.append)
    assert shares == sorted(shares)
    assert shares[0] == 0.0
    assert shares[-1] <= 1.0


@pytest.mark.parametrize(("state", "fault"), [("clean", "open"), ("faulty", "none")])
def test_a_verdict_cannot_contradict_itself(state: str, fault: str) -> None:
    with pytest.raises(ValueError, match="contradict"):
        Verdict(state, fault, ("why",))  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="reason"):
        Verdict("clean", "none", ())


# Proof


def together(made: Any) -> Comparison:
    return compare(made.far, made.near, kind="lin", conditions=Conditions(same_moment=True))


@pytest.fixture
def shaken(make_bus: Callable[..., Any]) -> Comparison:
    return together(make_bus(20, series_ohm=2000.0, bursts_per_s=60.0))


@pytest.fixture
def mended(make_bus: Callable[..., Any]) -> Comparison:
    return together(make_bus(21, first_round=4, seconds=0.3))


def test_a_mended_wire_is_proven(shaken: Comparison, mended: Comparison) -> None:
    proof = prove(shaken, mended)
    assert proof.state == "proven"
    assert all(check.passed for check in proof.checks)
    assert {"dropouts", "severe findings", "series resistance (Ω)"} <= {check.name for check in proof.checks}
    assert proof.lineup is not None


def test_a_wire_that_still_drops_out_is_not(shaken: Comparison) -> None:
    proof = prove(shaken, shaken)
    assert proof.state == "not proven"


def test_nothing_is_proven_where_the_fault_was_never_caught(mended: Comparison) -> None:
    proof = prove(mended, mended)
    assert proof.state == "cannot tell"
    assert "does not show the fault" in proof.reasons[0]


def test_a_short_capture_after_says_how_long_it_has_to_be(shaken: Comparison, make_bus: Callable[..., Any]) -> None:
    short = together(make_bus(22, seconds=0.03))
    proof = prove(shaken, short)
    assert proof.state == "cannot tell"
    assert "record at least" in " ".join(proof.reasons)


def test_another_supply_cannot_be_compared(shaken: Comparison, make_bus: Callable[..., Any]) -> None:
    weak = together(make_bus(23, bus=LinBus(battery_v=9.0)))
    proof = prove(shaken, weak)
    assert proof.state == "cannot tell"
    assert "supplies differ" in " ".join(proof.reasons)


def test_own_limits_are_proven_too() -> None:
    bad, good = np.full(500, 5.0), np.full(500, 5.0)
    bad[100:400] = 9.0
    proof = prove(own(bad, upper_v=8.0), own(good, upper_v=8.0))
    assert proof.state == "proven"
    assert "stretches beyond the limits" in {check.name for check in proof.checks}


def test_a_limit_broken_once_has_to_be_waited_for() -> None:
    bad, good = np.full(500, 5.0), np.full(500, 5.0)
    bad[100:110] = 9.0
    proof = prove(own(bad, upper_v=8.0), own(good, upper_v=8.0))
    assert proof.state == "cannot tell"
    assert "1 episode in 500 ms before: too few" in proof.reasons[0]
