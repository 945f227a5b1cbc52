"""The difference held against a band: what was put in is found, and a clean pair gives nothing."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from loomlight.signal.band import Band, out_of_band, widened
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import compare
from loomlight.signal.cycle_pairs import line_up_by_cycle
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.laid_fit import laid_fit
from loomlight.signal.lineup import LineUp
from loomlight.signal.local_fit import local_fit
from loomlight.signal.noise import noise_of
from loomlight.signal.samples import FloatSamples

STEP_S = 1e-5


def channel(values: npt.ArrayLike, *, step_s: float = STEP_S, start_s: float = 0.0) -> Channel:
    return Channel("one", "V", FloatSamples(np.asarray(values)), start_s, step_s)


def lined(lag_s: float = 0.0, stretch: float = 1.0) -> LineUp:
    return LineUp(True, "shape", lag_s, stretch, 1.0, 1.0, 1, 1.0, None, 1.0, 0.0, "")


def shape(rng: np.random.Generator, count: int) -> npt.NDArray[np.float64]:
    """Levels that change at random, with slopes of five samples."""
    levels = np.repeat(rng.choice([0.5, 3.0, 11.5], count // 50 + 2), 50)[: count + 4]
    return np.convolve(levels, np.ones(5) / 5, mode="valid")


def found_in(suspect: Channel, good: Channel, half: float, lineup: LineUp | None = None) -> list[Finding]:
    return out_of_band(suspect, good, lineup or lined(), Band(widened(half, suspect, good), 2 * STEP_S))


@pytest.mark.parametrize("kind", ["levels", "sine", "noise of its own"])
def test_a_clean_pair_at_20_db_gives_no_finding(kind: str) -> None:
    """100 pairs a kind, each of 20 000 samples, noise a tenth of the signal on both: at most one cry is chance's own."""
    cries = 0
    for seed in range(100):
        rng = np.random.default_rng(seed)
        base = {
            "levels": lambda rng=rng: shape(rng, 20_000),
            "sine": lambda: 5 + 4 * np.sin(np.arange(20_000) * 0.01),
            "noise of its own": lambda rng=rng: np.convolve(rng.normal(size=20_049), np.hanning(50), mode="valid"),
        }[kind]()
        one, other = (channel(base + rng.normal(0, 0.1 * base.std(), base.size)) for _ in range(2))
        cries += bool(found_in(one, other, 0.05 * float(np.ptp(base))))
    assert cries <= 1


def test_the_noise_is_told_from_slopes_and_edges() -> None:
    rng = np.random.default_rng(0)
    for base in (shape(rng, 50_000), np.linspace(0, 100, 50_000), 5 * np.sin(np.arange(50_000) * 0.02)):
        assert noise_of(channel(base + rng.normal(0, 0.2, base.size))) == pytest.approx(0.2, rel=0.1)
    assert noise_of(channel([1.0, 2.0])) == 0.0
    assert noise_of(channel(np.full(100, np.nan))) == 0.0


def test_the_half_width_has_room_for_the_tail_of_the_noise() -> None:
    """Normal distribution: of a million samples one stands 4.9 deviations out on average (NIST handbook, 1.3.6.7.1)."""
    quiet, noisy = channel(np.zeros(1000)), channel(np.random.default_rng(0).normal(0, 0.1, 1_000_000))
    assert widened(0.5, quiet, quiet) == 0.5
    wide = widened(0.01, noisy, quiet)
    assert 4.9 * 0.1 < wide < 6.5 * 0.1
    assert widened(5.0, noisy, quiet) == 5.0


@pytest.mark.parametrize(("first", "length", "size"), [(7000, 1, 4.0), (300, 900, 2.0), (19_000, 1000, -3.0)])
def test_a_stretch_put_in_is_found_with_size_and_length(first: int, length: int, size: float) -> None:
    base = shape(np.random.default_rng(3), 20_000)
    values = base.copy()
    values[first : first + length] += size
    found = out_of_band(channel(values), channel(base), lined(), Band(0.5, 0.0))
    assert len(found) == 1
    assert found[0].kind == "out of band"
    assert found[0].start_s == pytest.approx(first * STEP_S)
    assert found[0].stop_s - found[0].start_s == pytest.approx(length * STEP_S)
    assert found[0].size == pytest.approx(abs(size) - 0.5, abs=1e-4)


def test_an_edge_that_comes_a_little_late_is_inside_and_one_that_comes_very_late_is_not() -> None:
    base = shape(np.random.default_rng(3), 20_000)
    for shift, cries in ((3, False), (12, True)):
        late, good = channel(base[:-shift], start_s=shift * STEP_S), channel(base)
        found = out_of_band(late, good, lined(), Band(0.5, 4 * STEP_S))
        assert bool(found) == cries


@pytest.mark.parametrize("stretch", [0.87, 1.0, 1.14])
def test_the_stretch_is_honoured(stretch: float) -> None:
    times = np.arange(30_000) * STEP_S
    good = channel(np.sin(2 * np.pi * 300.0 * times**1.5), step_s=STEP_S)
    own = np.arange(20_000) * STEP_S
    there = 0.01 + stretch * own
    values = np.sin(2 * np.pi * 300.0 * there**1.5)
    values[12_000:12_100] += 1.0
    found = out_of_band(channel(values), good, lined(0.01, stretch), Band(0.2, STEP_S))
    assert len(found) == 1
    assert found[0].start_s == pytest.approx(0.12, abs=2 * STEP_S)


def test_a_break_over_two_blocks_is_one_finding_and_neighbours_can_be_joined() -> None:
    values = np.zeros(600_000)
    values[262_000:262_300] = 2.0
    values[262_400:262_500] = 3.0
    good = channel(np.zeros(600_000))
    assert len(out_of_band(channel(values), good, lined(), Band(0.5, 0.0))) == 2
    (one,) = out_of_band(channel(values), good, lined(), Band(0.5, 0.0), join_s=150 * STEP_S)
    assert (one.start_s, one.stop_s) == (pytest.approx(2.62), pytest.approx(2.625))
    assert one.size == pytest.approx(2.5)


def test_gaps_and_what_only_one_covers_are_not_judged() -> None:
    values, good = np.full(1000, 9.0), np.zeros(500)
    values[100:200] = np.nan
    good[300:400] = np.nan
    found = out_of_band(channel(values), channel(good), lined(), Band(1.0, 0.0))
    spans = [(round(one.start_s / STEP_S), round(one.stop_s / STEP_S)) for one in found]
    assert spans == [(0, 100), (200, 300), (400, 500)]


def test_pairs_are_judged_by_the_end_that_matters() -> None:
    pairs = np.column_stack([np.full(100, -0.1), np.full(100, 0.1)])
    pairs[40] = -0.1, 5.0
    pairs[60] = -4.0, 0.1
    suspect = Channel("one", "V", FloatSamples(pairs.ravel()), 0.0, STEP_S, form="pairs")
    found = out_of_band(suspect, channel(np.zeros(100)), lined(), Band(1.0, 0.0))
    assert [round(one.start_s / STEP_S) for one in found] == [40, 60]
    assert [round(one.size, 3) for one in found] == [4.0, 3.0]


def test_by_cycle_the_known_goods_own_spread_is_in_the_band() -> None:
    """A pulse train whose width varies by itself: a width it has had before is no finding, one it never had is."""
    rng = np.random.default_rng(1)

    def train(widths: npt.NDArray[np.float64]) -> Channel:
        rows = [np.where(np.arange(500) < 500 * width, 12.0, 0.0) for width in widths]
        values = np.concatenate(rows)
        return channel(values + rng.normal(0, 0.05, values.size))

    good = train(rng.uniform(0.2, 0.4, 200))
    widths = rng.uniform(0.2, 0.4, 60)
    widths[30] = 0.7
    suspect = train(widths)
    lineup = line_up_by_cycle(suspect, good)
    assert lineup.accepted
    found = out_of_band(suspect, good, lineup, Band(1.0, 10 * STEP_S))
    assert len(found) == 1
    assert 30 * 500 * STEP_S < found[0].start_s < 31 * 500 * STEP_S


def test_lin_levels_within_their_limits_but_off_the_known_good_are_told_and_not_called_clean(
    healthy: object, other_day: object
) -> None:
    wire = healthy.far  # type: ignore[attr-defined]
    good = other_day.near  # type: ignore[attr-defined]
    clean = compare(wire, good, kind="lin", conditions=Conditions())
    assert (clean.verdict.state, clean.findings) == ("clean", ())
    assert clean.lineup is not None
    assert clean.lineup.laid is not None
    frame_s = float(clean.lineup.laid.pairs_s[5, 0])
    volts = wire.samples.block(0, wire.samples.size).copy()
    first, last = (round((frame_s + bits / 19_200) / wire.step_s) for bits in (14, 34))
    header = volts[first:last]
    header[header > 9.0] -= 2.0  # the line sags, but stays above what a receiver needs
    found = compare(replace(wire, samples=FloatSamples(volts)), good, kind="lin", conditions=Conditions())
    (away,) = found.findings
    assert (away.kind, away.severity) == ("out of band", "mild")
    assert frame_s < away.start_s < away.stop_s < frame_s + 40 / 19_200
    assert away.size == pytest.approx(2.0 - 0.1 * 12, abs=0.25)
    assert found.verdict.state == "cannot tell"
    assert found.verdict.reasons[0].startswith("All limits are kept, but 1 stretch stands more than")


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_clean_bus_at_20_db_beside_another_days_gives_no_finding_out_of_band(
    make_bus: Callable[..., Any], seed: int
) -> None:
    """Noise of 0.45 V on a line that swings by about 11 V; seed 1 ends inside a header."""
    one, other = make_bus(seed, noise_v=0.45), make_bus(seed + 50, noise_v=0.45, first_round=seed)
    found = compare(one.far, other.near, kind="lin", conditions=Conditions())
    assert found.lineup is not None
    assert (found.lineup.by, found.lineup.accepted) == ("frame", True)
    assert "out of band" not in {each.kind for each in found.findings}


# Local fit


def test_the_local_fit_is_low_where_they_part_and_near_one_elsewhere() -> None:
    rng = np.random.default_rng(4)
    base = shape(rng, 120_000)
    values = base + rng.normal(0, 0.1, base.size)
    values[60_000:61_000] = 11.5
    suspect, good = channel(values), channel(base)
    found = local_fit(suspect, good, lined())
    middle = 0.5 * (found.bounds_s[:-1] + found.bounds_s[1:])
    inside = (middle > 0.6) & (middle < 0.61)
    assert found.fit[inside].max() < 0.8
    assert found.fit[~inside & ((middle < 0.598) | (middle > 0.612))].min() > 0.99
    assert found.fit.size == 600


def test_over_the_whole_the_local_fit_is_the_fit() -> None:
    """1 - Σd²/Σ(a - ā)² of a fitted line is r² (Draper and Smith 1998, section 1.3); the windows are its parts."""
    rng = np.random.default_rng(4)
    base = shape(rng, 60_000)
    suspect, good = channel(2 * base + 1 + rng.normal(0, 3.0, base.size)), channel(base)
    whole = laid_fit(suspect, good, lined())
    lineup = replace(lined(), gain=whole.gain, offset=whole.offset)
    found = local_fit(suspect, good, lineup)
    assert math.sqrt(float(np.mean(found.fit**2))) == pytest.approx(whole.likeness, abs=1e-3)


def test_the_local_fit_of_flat_lines_of_nothing_in_common_and_of_few_samples() -> None:
    flat = local_fit(channel(np.full(1000, 3.0)), channel(np.full(1000, 3.0)), lined())
    assert not np.isfinite(flat.fit).any(), "a line that says nothing is like nothing"
    with pytest.raises(CannotUse, match="no time in common"):
        local_fit(channel(np.zeros(100)), channel(np.zeros(100)), lined(5.0))
    short = local_fit(channel(np.arange(40.0)), channel(np.arange(40.0)), lined())
    assert short.fit == pytest.approx([1.0, 1.0])


def test_the_local_fit_as_a_channel_holds_each_windows_fit() -> None:
    base = shape(np.random.default_rng(4), 20_000)
    found = local_fit(channel(base), channel(base), lined())
    made = found.channel()
    assert made.form == "changes"
    assert made.samples.size == found.bounds_s.size
    assert made.samples.block(0, 10) == pytest.approx(1.0)
