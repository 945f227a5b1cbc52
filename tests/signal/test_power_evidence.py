"""The evidence tables of supply, charging and cranking point where each made fault is."""

import numpy as np
import pytest

from loomlight.sample_captures.makers import charging, cranking, supply
from loomlight.sample_captures.makers.shape import Made, Maker
from loomlight.signal.comparison import check
from loomlight.signal.evidence import SUSPECTS
from loomlight.signal.verdict import Verdict


def verdict_of(maker: Maker, fault: str, seed: int = 4) -> tuple[Made, Verdict]:
    made = maker.made(fault, np.random.default_rng(seed))
    return made, check(made.suspect, kind=made.kind, conditions=made.conditions).verdict


def weighed(verdict: Verdict) -> dict[str, int]:
    return {part: sum(one.move(part) for one in verdict.evidence) for part in SUSPECTS}


@pytest.mark.parametrize(
    ("maker", "fault", "part"),
    [
        (supply, "cut off", "wire"),
        (supply, "voltage drop", "wire"),
        (supply, "load dump", "wire"),
        (supply, "ripple", "component"),
        (supply, "too high", "component"),
        (supply, "deep dip", "component"),
        (charging, "open diode", "component"),
        (charging, "lost phase", "component"),
        (charging, "too high", "component"),
        (charging, "fixed value", "wire"),
        (charging, "belt slip", "component"),
        (cranking, "weak cylinder", "component"),
        (cranking, "flat battery", "component"),
        (cranking, "low voltage", "component"),
        (cranking, "high resistance", "wire"),
        (cranking, "no crank", "wire"),
    ],
)
def test_the_fault_raises_its_suspect_above_the_others(maker: Maker, fault: str, part: str) -> None:
    _, verdict = verdict_of(maker, fault)
    assert verdict.state == "faulty"
    sums = weighed(verdict)
    assert sums[part] >= 1
    assert sums[part] == max(sums.values())


@pytest.mark.parametrize("maker", [supply, charging, cranking])
def test_a_clean_one_raises_nobody_and_says_what_was_not_recorded(maker: Maker) -> None:
    for seed in range(6):
        made, verdict = verdict_of(maker, "", seed)
        assert all(one.answer for one in verdict.evidence)
        assert max(weighed(verdict).values()) <= 0, verdict.evidence
        if maker is not charging and not any(one.role == "far end" for one in made.conditions.besides):
            assert any(one.answer == "not recorded" for one in verdict.evidence)


def test_a_current_alone_gives_what_it_can() -> None:
    made = next(
        one
        for seed in range(40)
        if (one := cranking.made("", np.random.default_rng(seed))).conditions.beside("current") is not None
    )
    clamp = made.conditions.beside("current")
    assert clamp is not None
    found = check(clamp, kind="cranking", conditions=made.conditions)
    assert [one.question for one in found.verdict.evidence] == [
        "Is the engine turned fast enough?",
        "Are the compressions alike?",
    ]
