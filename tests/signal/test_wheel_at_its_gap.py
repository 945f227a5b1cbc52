"""A toothed wheel at its gap: a tooth lost beside it, a gap that was seen once only, swings that the instrument cut off."""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples
from loomlight.signal.verdict import Verdict

STEP_S = 1e-5
A_TURN_S = 60.0 / 900.0


def hall(absent: tuple[int, ...], turns: float = 8.0) -> Channel:
    """900 rpm, a wheel of 60 positions, high at each tooth."""
    times_s = np.arange(int(turns * A_TURN_S / STEP_S)) * STEP_S
    place = times_s / A_TURN_S * 60
    tooth = np.floor(place).astype(int) % 60
    volts = np.where((place % 1.0 < 0.5) & ~np.isin(tooth, absent), 5.0, 0.1)
    volts = volts + np.random.default_rng(0).normal(0, 0.03, times_s.size)
    return Channel("crank", "V", FloatSamples(volts.astype(np.float32)), 0.0, STEP_S)


def judged(channel: Channel, **settings: float) -> Verdict:
    return check(channel, kind="toothed-wheel", conditions=Conditions(settings=tuple(settings.items()))).verdict


@pytest.mark.parametrize("lost", [57, 0])
def test_a_tooth_lost_beside_the_gap_is_never_called_clean(lost: int) -> None:
    channel = hall((lost, 58, 59))
    verdict = judged(channel)
    assert verdict.state == "cannot tell"
    assert "60-2 wheel that lost a tooth beside its gap" in verdict.reasons[0]
    given = judged(channel, teeth=60, left_out=2)
    assert given.picture == "tooth missing beside the gap"
    assert judged(channel, teeth=60, left_out=3).state == "clean"


def test_beside_a_known_good_it_is_faulty() -> None:
    found = compare(hall((57, 58, 59)), hall((58, 59)), kind="toothed-wheel", conditions=Conditions())
    assert found.verdict.state == "faulty"


def test_a_gap_that_was_seen_once_is_no_pulse_that_lacks() -> None:
    found = check(hall((58, 59), turns=1.2), kind="toothed-wheel", conditions=Conditions())
    assert found.verdict.state == "cannot tell"
    assert not found.findings
    assert "Record more turns" in found.verdict.next_step


def test_swings_cut_off_far_down_are_the_instruments_doing() -> None:
    times_s = np.arange(int(8 * A_TURN_S / STEP_S)) * STEP_S
    place = times_s / A_TURN_S * 60
    tooth = np.floor(place).astype(int) % 60
    swing = np.where(np.isin(tooth, (58, 59)), 0.0, 9.0 * np.sin(2 * np.pi * place))
    volts = np.clip(swing + np.random.default_rng(1).normal(0, 0.05, swing.size), -2.0, 2.0)
    verdict = judged(Channel("crank", "V", FloatSamples(volts.astype(np.float32)), 0.0, STEP_S))
    assert verdict.state == "clean"
    assert any("cut off there by the instrument" in one for one in verdict.reasons)
