"""What proves a repair: each check by itself, and how long a capture has to be for a fault that comes and goes."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check
from loomlight.signal.examination import BusReport, Conditions, TalkerLevel
from loomlight.signal.finding import Finding
from loomlight.signal.long_enough import needed_s
from loomlight.signal.measure import Measure
from loomlight.signal.proof import Circumstances, Proof, ProofCheck
from loomlight.signal.prove import prove
from loomlight.signal.samples import FloatSamples
from loomlight.signal.verdict import Verdict

CLEAN = Verdict("clean", "none", ("All levels keep their limits.",))
SHAKEN = Verdict("faulty", "open", ("Dropouts where the known-good stays dominant.",), intermittent=True)
RESISTIVE = Verdict(
    "faulty", "resistive", ("Lifted.",), series_ohm=2200.0, series_ohm_low=1700.0, series_ohm_high=2700.0
)
STEP_S = 1e-4
BUS = BusReport(19_200.0, 20, 0, 0, (0x10,), 12.5, "given", talkers=(TalkerLevel("commander", 1.2, 11.8, 0.01, 20),))


def wire(seconds: float) -> Channel:
    return Channel("blower", "V", FloatSamples(np.full(round(seconds / STEP_S), 12.0)), 0.0, STEP_S)


def dropouts(*at_s: float, channel: str = "blower") -> tuple[Finding, ...]:
    return tuple(Finding("dropout", channel, at, at + 1.5e-4, 9.0, "V", "should be dominant", "severe") for at in at_s)


def case(
    verdict: Verdict, *findings: Finding, seconds: float = 0.2, bus: BusReport | None = BUS, kind: str = "lin"
) -> Comparison:
    return Comparison(wire(seconds), None, kind, Conditions(), None, findings, bus, None, verdict, None)


def named(proof: Proof, name: str) -> ProofCheck:
    (check,) = [one for one in proof.checks if one.name == name]
    return check


BEFORE = case(SHAKEN, *dropouts(0.01, 0.05, 0.09, 0.13, 0.17))


def test_proven_with_its_figures() -> None:
    proof = prove(BEFORE, case(CLEAN))
    assert proof.state == "proven"
    assert (named(proof, "dropouts").before, named(proof, "dropouts").after) == (5, 0)
    assert all(check.passed for check in proof.checks)
    told = " ".join(proof.reasons)
    assert "5 episodes in 200 ms before, none in 200 ms after" in told
    assert "a fault as frequent as before would have shown with at least 95 %" in told
    assert "gone" not in told


def test_episodes_are_counted_and_not_dropouts() -> None:
    # Sixty dropouts within four short bursts are four events, so the length of before is not yet enough, 1.2 times it is.
    bursts = dropouts(*(start + 2e-4 * place for start in (0.02, 0.07, 0.12, 0.17) for place in range(15)))
    proof = prove(case(SHAKEN, *bursts), case(CLEAN))
    assert proof.state == "cannot tell"
    assert "4 episodes in 200 ms before" in " ".join(proof.reasons)
    assert prove(case(SHAKEN, *bursts), case(CLEAN, seconds=0.24)).state == "proven"
    assert (named(proof, "episodes of dropouts").before, named(proof, "dropouts").before) == (4, 60)


@given(before_s=st.floats(0.1, 5.0), after_s=st.floats(0.01, 20.0), count=st.integers(3, 8))
def test_length_asked_for_is_the_length_that_proves(before_s: float, after_s: float, count: int) -> None:
    at_s = before_s * (np.arange(count) + 0.5) / count
    needed = needed_s(count, before_s)
    assume(abs(after_s / needed - 1) > 0.01)
    proof = prove(case(SHAKEN, *dropouts(*at_s), seconds=before_s), case(CLEAN, seconds=after_s))
    assert proof.state == ("proven" if after_s > needed else "cannot tell")


@pytest.mark.parametrize("seconds", [0.2, 2.0, 200.0])
def test_under_three_episodes_no_silence_is_enough_unless_the_fault_was_provoked(seconds: float) -> None:
    before, after = case(SHAKEN, *dropouts(0.05, 0.15)), case(CLEAN, seconds=seconds)
    proof = prove(before, after)
    assert proof.state == "cannot tell"
    assert "Repeat what brought the fault on" in " ".join(proof.reasons)
    provoked = prove(before, after, circumstances=Circumstances(provoked=True))
    assert provoked.state == ("proven" if seconds > needed_s(2, 0.2) else "cannot tell")


def test_a_capture_that_was_picked_does_not_tell_how_often_the_fault_comes() -> None:
    after = case(CLEAN, seconds=60.0)
    picked = prove(BEFORE, after, circumstances=Circumstances(picked=True))
    assert picked.state == "cannot tell"
    assert "picked because it showed the fault" in picked.reasons[0]
    assert prove(BEFORE, after, circumstances=Circumstances(picked=True, provoked=True)).state == "proven"
    assert "Assumed: the capture before was not picked" in " ".join(prove(BEFORE, after).reasons)


def test_what_differs_without_hindering_is_said() -> None:
    proof = prove(BEFORE, case(CLEAN, seconds=1.0))
    assert proof.state == "proven"
    assert "Not the same before and after: length 200 ms, then 1 s." in proof.reasons
    told = {one.name: one.same for one in proof.conditions}
    assert told["supply at the node"] is told["bit rate"] is told["probe factor and set-up"] is True


def test_a_set_up_by_hand_on_one_side_only_is_said() -> None:
    after = case(CLEAN)
    other = replace(after.suspect, history=("read from after.csv", "set up by hand: multiplied by 10"))
    proof = prove(BEFORE, replace(after, suspect=other))
    assert "probe factor and set-up as in the file, then multiplied by 10" in proof.reasons[-1]


def test_a_step_longer_than_the_dropouts_of_before_hides_them() -> None:
    after = case(CLEAN)
    coarse = Channel("blower", "V", FloatSamples(np.full(200, 12.0)), 0.0, 1e-3)
    proof = prove(BEFORE, replace(after, suspect=coarse))
    assert proof.state == "cannot tell"
    assert "it may have gone unseen" in proof.reasons[0]


def test_dropouts_on_the_known_good_do_not_count() -> None:
    proof = prove(BEFORE, case(CLEAN, *dropouts(0.02, channel="flap")))
    assert named(proof, "dropouts").after == 0
    assert proof.state == "proven"


@pytest.mark.parametrize(
    ("after", "state", "about"),
    [
        (case(SHAKEN, *dropouts(0.1)), "not proven", "still faulty"),
        (case(Verdict("cannot tell", "unknown", ("Clipped.",))), "cannot tell", "says too little: Clipped"),
        (case(CLEAN, bus=replace(BUS, errors=2)), "not proven", "could not be read"),
        (case(CLEAN, bus=replace(BUS, frames=0)), "cannot tell", "does not talk"),
        (case(CLEAN, bus=replace(BUS, supply_v=9.0)), "cannot tell", "supplies differ"),
        (case(CLEAN, bus=replace(BUS, bit_rate=9600.0)), "cannot tell", "bit rates differ"),
        (case(CLEAN, kind="own-limits"), "cannot tell", "different signal kinds"),
        (
            case(CLEAN, bus=replace(BUS, talkers=(TalkerLevel("commander", 2.9, 11.8, 0.0, 9),))),
            "not proven",
            "dominant level, commander",
        ),
    ],
    ids=["still", "unsound", "errors", "silent", "supply", "rate", "kind", "level"],
)
def test_what_stands_against_it(after: Comparison, state: str, about: str) -> None:
    proof = prove(BEFORE, after)
    assert proof.state == state
    assert about in " ".join(proof.reasons)


@pytest.mark.parametrize("before", [case(CLEAN), case(Verdict("cannot tell", "unknown", ("Asleep.",)))])
def test_a_fault_that_was_never_caught_is_never_proven_gone(before: Comparison) -> None:
    proof = prove(before, case(CLEAN))
    assert proof.state == "cannot tell"
    assert "does not show the fault" in proof.reasons[0]


def test_a_steady_resistance_needs_no_length_but_a_smaller_value() -> None:
    under = Verdict("clean", "none", ("Both probes agree.",), series_ohm_low=0.0, series_ohm_high=220.0)
    proof = prove(case(RESISTIVE), case(under, seconds=0.02))
    assert proof.state == "proven"
    check = named(proof, "series resistance (Ω)")
    assert (check.before, check.after, check.limit, check.passed) == (2200.0, 220.0, 1700.0, True)


def test_a_floor_above_the_old_resistance_proves_nothing() -> None:
    coarse = Verdict("clean", "none", ("Both probes agree.",), series_ohm_low=0.0, series_ohm_high=5000.0)
    proof = prove(case(RESISTIVE), case(coarse))
    assert proof.state == "cannot tell"
    assert "under 5 kΩ" in " ".join(proof.reasons)
    assert named(proof, "series resistance (Ω)").passed is None


def test_a_resistance_that_is_still_there_is_not_proven() -> None:
    left = Verdict(
        "faulty", "resistive", ("Lifted.",), series_ohm=1900.0, series_ohm_low=1500.0, series_ohm_high=2400.0
    )
    assert prove(case(RESISTIVE), case(left)).state == "not proven"


def test_what_was_not_measured_is_said() -> None:
    blind = Verdict("clean", "none", ("All well.", "A series resistance of up to about 1.2 kΩ would not show."))
    proof = prove(case(RESISTIVE), case(blind))
    assert named(proof, "series resistance (Ω)").passed is None
    assert "Not measured after the repair: series resistance (Ω). A series resistance of up to" in proof.reasons[-1]


def test_unanswered_headers_count_but_not_diagnostic_ones() -> None:
    def silent(frame_id: str) -> Finding:
        return Finding("no response", "blower", 0.1, 0.102, 1.0, "", f"frame {frame_id}: no byte followed", "mild")

    assert named(prove(BEFORE, case(CLEAN, silent("0x3d"))), "headers without an answer").after == 0
    proof = prove(BEFORE, case(CLEAN, silent("0x21"), silent("0x21")))
    assert named(proof, "headers without an answer").after == 2
    assert proof.state == "not proven"


def test_figures_of_other_kinds_are_held_by_their_own_limits() -> None:
    """A broken figure before is a check; kept afterwards it passes, and a figure that was always kept is not listed."""
    levels = Channel("x", "V", FloatSamples(np.full(100, 5.0)), 0.0, 1e-3)
    broken = check(levels, kind="own-limits", conditions=Conditions(upper_v=4.0))
    kept = check(levels, kind="own-limits", conditions=Conditions(upper_v=6.0))

    def measured(found: Comparison, drop: bool | None) -> Comparison:
        rows = (
            Measure("level", "drop", 0.4 if drop is False else 0.1, "V", "at most 0.2 V", "x", drop),
            Measure("level", "ripple", 0.1, "V", "at most 0.5 V", "x", True),
        )
        assert found.looked is not None
        return replace(found, looked=replace(found.looked, measures=rows))

    def drop_check(proof: Proof) -> ProofCheck:
        return next(one for one in proof.checks if one.name == "level, drop (V), at most 0.2 V")

    mended = prove(measured(broken, False), measured(kept, True))
    assert (drop_check(mended).before, drop_check(mended).after, drop_check(mended).passed) == (0.4, 0.1, True)
    assert not any("ripple" in one.name for one in mended.checks)
    assert drop_check(prove(measured(broken, False), measured(kept, False))).passed is False
    assert drop_check(prove(measured(broken, False), measured(kept, None))).passed is None
