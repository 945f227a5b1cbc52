"""Cycles found at any speed, and laid on each other pulse by pulse."""

import numpy as np
import numpy.typing as npt
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import compare
from loomlight.signal.cycle_pairs import average_cycle, line_up_by_cycle
from loomlight.signal.cycles import find_cycles
from loomlight.signal.difference import difference
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.progress import Cancelled
from loomlight.signal.samples import FloatSamples

Row = npt.NDArray[np.float64]
STEP_S = 1e-5


def angle(seconds: float, step_s: float, speed: float, *, drift: float = 0.0, ripple: float = 0.0) -> Row:
    """Turns over time: ``speed`` a second, ``drift`` more of it at the end, swinging by ``ripple`` of it twice a turn."""
    times = np.arange(round(seconds / step_s)) * step_s
    rate = speed * (1.0 + drift * times / seconds)
    turns = np.cumsum(rate) * step_s
    return turns + ripple / (4 * np.pi) * np.sin(4 * np.pi * turns)


def wheel(turns: Row, *, teeth: int = 60, missing: int = 2) -> Row:
    """A toothed wheel's sensor: one swing a tooth, flat where teeth are left out."""
    place = np.mod(turns, 1.0) * teeth
    return np.where(place < teeth - missing, np.sin(2 * np.pi * place), 0.0)


def pwm(turns: Row, duty: float = 0.3) -> Row:
    return np.where(np.mod(turns, 1.0) < duty, 12.0, 0.5)


def ripple(turns: Row) -> Row:
    return np.abs(np.sin(np.pi * turns)) + 0.1 * np.sin(2 * np.pi * turns)


def channel(values: Row, step_s: float, *, noise: float = 0.0, seed: int = 0, name: str = "wheel") -> Channel:
    """``noise``: standard deviation as a share of the signal's own."""
    rng = np.random.default_rng(seed)
    return Channel(name, "V", FloatSamples(values + rng.normal(0, noise * values.std(), values.size)), 0.0, step_s)


SHAPES = {"wheel": (wheel, 15.0, 58), "pwm": (pwm, 200.0, 1), "ripple": (ripple, 40.0, 1)}


@pytest.mark.parametrize("noise", [0.0, 0.1, 0.32])
@pytest.mark.parametrize("name", SHAPES)
def test_every_cycle_is_found_where_it_was_put(name: str, noise: float) -> None:
    shape, speed, pulses = SHAPES[name]
    turns = angle(1.0, STEP_S, speed, drift=0.3, ripple=0.05)
    found = find_cycles(channel(shape(turns), STEP_S, noise=noise, seed=3))
    assert found is not None
    assert found.pulses == pulses
    assert found.count >= int(turns[-1]) - 2
    assert not found.odd.any()
    at = np.interp(found.bounds_s[:, 0], np.arange(turns.size) * STEP_S, turns)
    # One cycle apart, each at the same angle: to a fiftieth of a pulse where there is no noise. With it, a wheel's first
    # tooth rises out of a flat at the very level that is watched: to a quarter.
    assert np.allclose(np.diff(at), 1.0, atol=(0.02 if noise == 0 else 0.25) / pulses)
    assert found.drift > 0.2


def test_nothing_is_found_where_nothing_repeats() -> None:
    rng = np.random.default_rng(0)
    for values in (rng.normal(size=50_000), np.cumsum(rng.normal(size=50_000)), np.full(5000, 3.3), np.arange(5000.0)):
        assert find_cycles(channel(values, STEP_S)) is None
    assert find_cycles(channel(np.sin(np.arange(10.0)), STEP_S)) is None
    assert find_cycles(channel(pwm(angle(0.015, STEP_S, 200.0)), STEP_S)) is None, "three cycles are too few"


def test_a_level_that_drifts_by_more_than_the_pulses_hides_none() -> None:
    turns = angle(1.0, STEP_S, 40.0)
    found = find_cycles(channel(ripple(turns) + 8.0 * np.linspace(0, 1, turns.size) ** 2, STEP_S))
    assert found is not None
    assert found.count >= 37


def test_a_missing_and_an_extra_pulse_shift_no_other() -> None:
    turns = angle(0.5, STEP_S, 200.0)
    values = pwm(turns)
    values[(turns >= 30) & (turns < 31)] = 0.5
    values[(turns >= 60.6) & (turns < 60.75)] = 12.0
    found = find_cycles(channel(values, STEP_S))
    assert found is not None
    at = np.interp(found.bounds_s[:, 0], np.arange(turns.size) * STEP_S, turns)
    assert np.allclose(np.diff(at), 1.0, atol=0.02)
    assert np.round(at[found.odd]).astype(int).tolist() == [29, 30, 60]


@pytest.mark.parametrize(("teeth", "missing"), [(60, 2), (36, 1)])
def test_a_tooth_too_few_costs_no_turn(teeth: int, missing: int) -> None:
    turns = angle(1.0, STEP_S, 20.0, drift=0.2)
    values = wheel(turns, teeth=teeth, missing=missing)
    values[(turns >= 8 + 20 / teeth) & (turns < 8 + 21 / teeth)] = 0.0
    found = find_cycles(channel(values, STEP_S))
    assert found is not None
    assert found.pulses == teeth - missing
    at = np.interp(found.bounds_s[:, 0], np.arange(turns.size) * STEP_S, turns)
    assert np.allclose(np.diff(at), 1.0, atol=0.05 / teeth)
    assert np.round(at[found.odd]).astype(int).tolist() == [8]
    (row,) = np.flatnonzero(found.odd)
    places = np.interp(found.bounds_s[row], np.arange(turns.size) * STEP_S, turns) - at[row]
    assert np.allclose(places, np.arange(teeth + 1) / teeth, atol=0.1 / teeth), "the lost tooth's place is kept"
    good = channel(wheel(angle(1.0, STEP_S, 33.0), teeth=teeth, missing=missing), STEP_S)
    apart = difference(channel(values, STEP_S), good, line_up_by_cycle(channel(values, STEP_S), good))
    row_v = np.abs(apart.samples.block(0, apart.samples.size))
    beyond = np.round((apart.start_s + np.flatnonzero(row_v > 0.5) * STEP_S) / STEP_S).astype(int)
    assert beyond.size > 0
    lost = (turns[beyond] - 8) * teeth
    assert ((lost > 19.9) & (lost < 21.1)).all(), "and nothing parts but the tooth that was lost"


@pytest.mark.parametrize("name", SHAPES)
def test_any_speed_is_laid_on_any_other(name: str) -> None:
    shape, speed, _ = SHAPES[name]
    suspect = channel(shape(angle(1.0, STEP_S, speed, drift=0.3, ripple=0.05)), STEP_S, noise=0.1)
    good = channel(shape(angle(1.0, 4e-6, 2.5 * speed, drift=-0.4)), 4e-6, noise=0.1, seed=1)
    found = line_up_by_cycle(suspect, good)
    assert found.accepted
    assert (found.by, found.polarity) == ("cycle", 1)
    assert found.fit > 0.97
    assert found.repeats_s == pytest.approx(1 / (2.5 * speed * 0.8), rel=0.1)
    apart = difference(suspect, good, found)
    values = apart.samples.block(0, apart.samples.size)
    known = values[np.isfinite(values)]
    assert known.size > 0.85 * values.size
    size = np.ptp(shape(np.linspace(0, 1, 5000)))
    # Noise of the suspect alone (a tenth of its deviation, at most half its size): the average has none.
    assert np.median(np.abs(known)) < 0.06 * size


def test_an_average_cycle_has_the_shape_and_a_spread_like_the_noise() -> None:
    made = channel(pwm(angle(1.0, STEP_S, 100.0, drift=0.3)), STEP_S, noise=0.1)
    cycles = find_cycles(made)
    assert cycles is not None
    mean, deviation = average_cycle(made, cycles)
    flat = slice(round(0.4 * mean.size), round(0.9 * mean.size))
    assert mean[flat] == pytest.approx(0.5, abs=0.2)
    noise_v = 0.1 * pwm(angle(1.0, STEP_S, 100.0)).std()
    assert np.median(deviation[flat]) == pytest.approx(noise_v, rel=0.25)


def test_a_weak_pulse_stands_in_the_difference_where_it_is() -> None:
    turns = angle(1.0, STEP_S, 30.0, drift=0.2)
    values = ripple(turns)
    weak = (turns >= 12) & (turns < 13)
    values[weak] *= 0.5
    suspect = channel(values, STEP_S)
    good = channel(ripple(angle(1.0, STEP_S, 22.0)), STEP_S)
    apart = difference(suspect, good, line_up_by_cycle(suspect, good))
    row = apart.samples.block(0, apart.samples.size)
    worst = round(apart.start_s / STEP_S) + int(np.nanargmax(np.abs(row)))
    assert weak[worst]
    assert np.nanmax(np.abs(row)) == pytest.approx(0.5, abs=0.1)


def test_upside_down_is_told() -> None:
    suspect = channel(-pwm(angle(1.0, STEP_S, 100.0), 0.2), STEP_S)
    good = channel(pwm(angle(1.0, STEP_S, 130.0), 0.2), STEP_S)
    found = line_up_by_cycle(suspect, good)
    assert (found.accepted, found.polarity) == (True, -1)
    assert found.fit > 0.95


@pytest.mark.parametrize(
    ("other", "word"),
    [
        (channel(np.random.default_rng(1).normal(size=40_000), STEP_S, name="noise"), "'noise' repeats"),
        (channel(wheel(angle(1.0, STEP_S, 20.0), teeth=36, missing=1), STEP_S), "35 on the known-good"),
        (channel(pwm(angle(1.0, STEP_S, 200.0)), STEP_S), "1 on the known-good"),
    ],
)
def test_what_cannot_be_laid_is_refused_with_its_reason(other: Channel, word: str) -> None:
    found = line_up_by_cycle(channel(wheel(angle(1.0, STEP_S, 20.0)), STEP_S), other)
    assert (found.accepted, found.by) == (False, "cycle")
    assert word in found.reason


@pytest.mark.parametrize(("one", "other"), [(0.3, 0.5), (0.1, 0.3)])
def test_pulses_of_another_width_are_not_alike(one: float, other: float) -> None:
    """Of two pulse trains that begin together r² is d₁(1 - d₂) / d₂(1 - d₁), d₁ < d₂ (covariance of two nested events)."""
    suspect = channel(pwm(angle(1.0, STEP_S, 100.0), one), STEP_S)
    found = line_up_by_cycle(suspect, channel(pwm(angle(1.0, STEP_S, 130.0), other), STEP_S))
    assert not found.accepted
    assert "not alike" in found.reason
    assert found.fit == pytest.approx(np.sqrt(one * (1 - other) / (other * (1 - one))), abs=0.03)


def test_auto_goes_by_cycle_where_no_one_shift_lays_the_whole() -> None:
    suspect = channel(wheel(angle(1.0, STEP_S, 15.0, drift=0.5)), STEP_S)
    good = channel(wheel(angle(1.0, STEP_S, 25.0, drift=-0.3)), STEP_S)
    found = compare(suspect, good, kind="own-limits", conditions=Conditions(within_v=0.8))
    assert found.lineup is not None
    assert (found.lineup.by, found.lineup.accepted) == ("cycle", True)
    assert "speeds differ or drift" in found.lineup.why
    assert found.verdict.state == "clean"


def test_units_and_uneven_channels_are_refused_and_work_can_be_given_up() -> None:
    made = channel(pwm(angle(1.0, STEP_S, 100.0)), STEP_S)
    amps = Channel("I", "A", made.samples, 0.0, STEP_S)
    with pytest.raises(CannotUse, match="same unit"):
        line_up_by_cycle(made, amps)
    changes = Channel("c", "V", FloatSamples([1.0, 2.0]), 0.0, None, form="changes", times_s=np.array([0.0, 1.0]))
    with pytest.raises(CannotUse, match="no even time step"):
        line_up_by_cycle(changes, made)

    def stop(_share: float) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        find_cycles(made, stop)
