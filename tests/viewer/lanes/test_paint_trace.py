"""What stands on the screen, pixel by pixel: every event is drawn, in its place, and nothing that was not acquired."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from loomlight.signal.capture import Channel
from loomlight.signal.lineup import LineUp
from loomlight.signal.pyramid import Pyramid, build_pyramid
from loomlight.signal.samples import FloatSamples
from loomlight.viewer.lanes.paint_trace import paint_trace
from loomlight.viewer.lanes.pixel_columns import picture_times, visible_columns
from loomlight.viewer.lanes.scale import Scale
from loomlight.viewer.lanes.specs import Trace, laid_over

INK = "#c24f00"
LEFT, TOP, WIDTH, HEIGHT = 80, 10, 800, 200
pytestmark = pytest.mark.usefixtures("qapp")


def painted(trace: Trace, *, width: float = 1.0, marker: str = "") -> Callable[[QPainter, Scale], None]:
    return lambda painter, scale: paint_trace(painter, trace, scale, colour=INK, width=width, marker=marker)


@pytest.mark.parametrize("at", [0, 1, 4_321, 77_777, 99_998, 99_999])
@pytest.mark.parametrize("volts", [-10.0, 24.0])
def test_one_sample_spike_is_seen_at_its_pixel(make_trace, draw, inked, at: int, volts: float) -> None:
    values = np.full(100_000, 5.0)
    values[at] = volts
    trace = make_trace(values)
    for length in (100_000, 9_973, 500, 60):
        first = min(max(at - length // 3, 0), 100_000 - length)
        pixels = inked(draw(painted(trace), (first * 1e-6, (first + length) * 1e-6), (-12.0, 30.0)), INK)
        row = round(TOP + HEIGHT - (volts + 12.0) / 42.0 * HEIGHT)
        tip = pixels[row - 2 : row + 3].any(axis=0)
        assert tip.any(), length
        wanted = LEFT + (at + 0.5 - first) / length * WIDTH
        assert np.abs(np.flatnonzero(tip) - wanted).min() <= 2 + 0.5 * WIDTH / length, length


@pytest.mark.parametrize("length", [100_000, 20_000, 2_500, 700, 90])
def test_a_step_leaves_no_torn_line(make_trace, draw, inked, length: int) -> None:
    trace = make_trace(np.where(np.arange(100_000) < 50_000, 1.0, 12.0))
    first = 50_000 - length // 2
    pixels = inked(draw(painted(trace), (first * 1e-6, (first + length) * 1e-6), (0.0, 14.0)), INK)
    high, low = (round(TOP + HEIGHT - volts / 14.0 * HEIGHT) for volts in (12.0, 1.0))
    seen = pixels[high + 2 : low - 1]
    assert seen.any(axis=1).all(), "the step is drawn over its whole height"
    across = pixels[:, LEFT + 3 : LEFT + WIDTH - 3].any(axis=0)
    assert across.all(), "the line runs through every column of pixels"


@pytest.mark.parametrize("size", [200_000, 3_000, 300])
def test_a_gap_is_drawn_as_nothing(make_trace, draw, inked, size: int) -> None:
    values = np.full(size, 5.0)
    values[size // 4 : size // 2] = np.nan
    pixels = inked(draw(painted(make_trace(values)), (0.0, size * 1e-6), (0.0, 10.0)), INK)
    used = pixels.any(axis=0)
    edge = 3 + WIDTH // size
    assert not used[LEFT + WIDTH // 4 + edge : LEFT + WIDTH // 2 - edge].any()
    assert used[LEFT + 2 : LEFT + WIDTH // 4 - edge].all()
    assert used[LEFT + WIDTH // 2 + edge : LEFT + WIDTH - edge].all()


def test_a_sample_between_two_gaps_is_still_seen(make_trace, draw, inked) -> None:
    values = np.full(400, np.nan)
    values[200] = 5.0
    assert inked(draw(painted(make_trace(values)), (0.0, 400e-6), (0.0, 10.0)), INK).sum() >= 2


def test_nothing_acquired_draws_nothing(make_trace, draw, inked) -> None:
    for size in (0, 1, 30, 70_000):
        picture = draw(painted(make_trace(np.full(size, np.nan)), marker="■"), (0.0, 1.0), (0.0, 1.0))
        assert not inked(picture, INK).any()


def test_slopes_stay_true_where_the_values_run_out_of_the_lane(make_trace, draw, inked) -> None:
    # From 0 V to 1000 V over the whole width; at 10 V full scale the line must leave at a hundredth of the width.
    pixels = inked(draw(painted(make_trace([0.0, 1000.0])), (0.0, 1e-6), (0.0, 10.0)), INK)
    inside = pixels[TOP : TOP + HEIGHT].any(axis=0)
    assert np.flatnonzero(inside).max() <= LEFT + WIDTH // 100 + 2


def test_a_line_between_two_samples_far_outside_the_view_crosses_it_in_the_right_place(make_trace, draw, inked) -> None:
    trace = make_trace([0.0, 10.0], step_s=1.0)
    pixels = inked(draw(painted(trace), (0.25 - 1e-9, 0.25 + 1e-9), (0.0, 10.0)), INK)
    rows = np.flatnonzero(pixels[:, LEFT + 5 : LEFT + WIDTH - 5].any(axis=1))
    assert np.ptp(rows) <= 1  # between two rows of pixels
    assert rows.mean() == pytest.approx(TOP + 0.75 * HEIGHT, abs=1.0)
    assert pixels[:, LEFT + 5 : LEFT + WIDTH - 5].any(axis=0).all()


def test_few_samples_stand_as_dots(make_trace, draw, inked) -> None:
    trace = make_trace(np.full(40, 5.0))
    few = inked(draw(painted(trace), (0.0, 20e-6), (0.0, 10.0)), INK)
    many = inked(draw(painted(make_trace(np.full(400, 5.0))), (0.0, 400e-6), (0.0, 10.0)), INK)
    assert few.any(axis=1).sum() > many.any(axis=1).sum()


def _lineup(**changes: object) -> LineUp:
    base = LineUp(True, "shape", 0.0, 1.0, 0.99, 0.9, 1, 1.0, None, 1.0, 0.0, "made for a test")
    return replace(base, **changes)  # type: ignore[arg-type]


# Unevenly timed samples


def uneven(times_s: np.ndarray, values: np.ndarray, *, form: str = "uneven") -> Trace:
    samples = FloatSamples(values)
    channel = Channel("level", "V", samples, float(times_s[0]), None, form, times_s=times_s)  # type: ignore[arg-type]
    return Trace(channel, build_pyramid(samples), "suspect", "level")


def test_a_level_that_is_held_between_bursts_is_drawn_throughout(draw, inked) -> None:
    bursts = np.concatenate([start + np.arange(5000) * 1e-6 for start in (0.0, 0.5, 0.9)])
    values = np.where(np.arange(bursts.size) % 2, 12.0, 1.0)
    pixels = inked(draw(painted(uneven(bursts, values, form="changes")), (0.0, 0.9), (0.0, 14.0)), INK)
    assert pixels[:, LEFT + 2 : LEFT + WIDTH - 2].any(axis=0).all()
    held = round(TOP + HEIGHT - 12.0 / 14.0 * HEIGHT)
    # The last change of a burst goes to 12 V, and stays there until the next one.
    assert pixels[held - 1 : held + 2, LEFT + 40 : LEFT + 400].any(axis=0).all()
    assert not pixels[held + 5 : TOP + HEIGHT, LEFT + 40 : LEFT + 400].any()


def test_changes_turn_at_right_angles_and_samples_are_joined_straight(draw, inked) -> None:
    times_s, values = np.array([0.0, 0.4, 1.0]), np.array([0.0, 10.0, 10.0])
    stairs, slope = (
        inked(draw(painted(uneven(times_s, values, form=form)), (0.0, 1.0), (-2.0, 12.0)), INK)
        for form in ("changes", "uneven")
    )
    low = round(TOP + HEIGHT - 2.0 / 14.0 * HEIGHT)
    before = slice(LEFT + 20, LEFT + 300)
    assert stairs[low - 1 : low + 2, before].any(axis=0).all()
    assert not stairs[: low - 4, before].any()
    middle = slope[:, LEFT + 160]
    assert np.flatnonzero(middle).mean() == pytest.approx(TOP + HEIGHT - 7.0 / 14.0 * HEIGHT, abs=2)


def test_nothing_is_drawn_after_the_last_change(draw, inked) -> None:
    trace = uneven(np.array([0.0, 0.2, 0.5]), np.array([0.0, 12.0, 0.0]), form="changes")
    pixels = inked(draw(painted(trace), (0.0, 1.0), (-2.0, 14.0)), INK)
    assert not pixels[:, LEFT + WIDTH // 2 + 8 :].any()


def test_a_spike_among_uneven_samples_is_seen_at_its_time(draw, inked) -> None:
    rng = np.random.default_rng(5)
    times_s = np.cumsum(rng.exponential(1e-5, 60_000))
    values = np.full(times_s.size, 5.0)
    for at in rng.integers(0, times_s.size, 8).tolist():
        spiked = values.copy()
        spiked[at] = 24.0
        pixels = inked(draw(painted(uneven(times_s, spiked)), (0.0, float(times_s[-1])), (0.0, 30.0)), INK)
        row = round(TOP + HEIGHT - 24.0 / 30.0 * HEIGHT)
        tip = np.flatnonzero(pixels[row - 1 : row + 3].any(axis=0))
        assert tip.size
        assert abs(tip.mean() - (LEFT + times_s[at] / times_s[-1] * WIDTH)) <= 2


# Where the samples stand


def test_a_pair_stands_in_the_middle_of_its_interval(make_trace) -> None:
    trace = make_trace([0.0, 1.0, 5.0, 6.0, np.nan, 3.0], form="pairs", step_s=1e-3)
    shown = visible_columns(trace, Scale(QRectF(80, 10, 800, 200), 0.0, 3e-3, 0.0, 10.0))
    np.testing.assert_allclose(picture_times(trace, shown), [0.5e-3, 1.5e-3, 2.5e-3])
    np.testing.assert_array_equal(shown.low, [0.0, 5.0, 3.0])
    np.testing.assert_array_equal(shown.high, [1.0, 6.0, 3.0])


def test_a_laid_over_trace_stands_where_the_line_up_puts_it(make_trace, draw, inked) -> None:
    lineup = _lineup(lag_s=0.2e-3, stretch=1.01)
    values = np.zeros(2000)
    values[1000] = 10.0  # at 1 ms of its own axis
    made = make_trace(values)
    trace = laid_over(made.channel, made.pyramid, lineup, role="known-good", label="good")
    pixels = inked(draw(painted(trace), (0.0, 2e-3), (-1.0, 12.0)), INK)
    tip = np.flatnonzero(pixels[TOP + 31 : TOP + 36].any(axis=0)).mean()
    wanted_s = (1e-3 - 0.2e-3) / 1.01  # t_good = lag + stretch · t_suspect, solved for the suspect's time
    assert tip == pytest.approx(LEFT + wanted_s / 2e-3 * WIDTH, abs=2)


def test_a_refused_line_up_moves_nothing_and_turned_polarity_turns_the_trace(make_trace) -> None:
    made = make_trace([0.0, 1.0, 5.0])
    refused = laid_over(made.channel, made.pyramid, _lineup(accepted=False), role="known-good", label="good")
    assert (refused.lag_s, refused.stretch, refused.upside_down) == (0.0, 1.0, False)
    turned = laid_over(made.channel, made.pyramid, _lineup(polarity=-1), role="known-good", label="good")
    assert turned.value_range() == (-5.0, 0.0)


def test_role_markers_repeat_along_the_trace_and_differ_in_place_by_role(make_trace, draw, inked) -> None:
    places = {}
    for role in ("known-good", "suspect", "after repair", "difference"):
        trace = make_trace(np.full(100_000, 5.0), role=role)
        bare = inked(draw(painted(trace), (0.0, 0.1), (0.0, 10.0)), INK)
        marked = inked(draw(painted(trace, marker="■"), (0.0, 0.1), (0.0, 10.0)), INK)
        columns = np.flatnonzero((marked & ~bare).any(axis=0))
        assert (np.diff(columns) > 100).sum() >= 2, "one at least every third of the width"
        places[role] = set(columns.tolist())
    roles = list(places)
    for number, role in enumerate(roles):
        for other in roles[number + 1 :]:
            assert not places[role] & places[other], (role, other)


def test_infinite_values_do_not_break_the_range(make_trace) -> None:
    assert make_trace([1.0, np.inf, 3.0, -np.inf]).value_range() == (1.0, 3.0)
    values = np.zeros(70_000)
    values[5], values[60_000] = np.inf, 4.0
    assert make_trace(values).value_range() == (0.0, 4.0)


def test_pen_and_painter_stay_usable_after_a_channel_without_samples(make_trace, draw) -> None:
    empty = FloatSamples([])
    channel = Channel("nothing", "V", empty, 0.0, 1e-6)
    picture = draw(painted(Trace(channel, Pyramid(0, ()), "suspect", "nothing"), marker="■"), (0.0, 1.0), (0.0, 1.0))
    assert isinstance(picture, QImage)
