"""Stretches laid over one another: held against a slow, plain way to do the same; nothing is lost, nothing is added."""

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from loomlight.signal import fold as fold_module
from loomlight.signal.capture import Channel
from loomlight.signal.fold import fold
from loomlight.signal.progress import Cancelled
from loomlight.signal.samples import BLOCK, FloatSamples

LOW, HIGH, ROWS = -10.0, 10.0, 40


def plainly(
    times_s: npt.NDArray[np.float64],
    values: npt.NDArray[np.float64],
    starts_s: list[float],
    edges_s: object,
    *,
    holds: bool,
) -> npt.NDArray[np.int64]:
    """One stretch, one column at a time: the least and greatest of the line over each column."""
    edges = np.asarray(edges_s)
    counts = np.zeros((ROWS, edges.size - 1), np.int64)
    for start_s in starts_s:
        for column in range(edges.size - 1):
            a, b = start_s + edges[column], start_s + edges[column + 1]
            inside = values[(times_s >= a) & (times_s <= b)]
            ends = [value for at_s in (a, b) if (value := read(times_s, values, at_s, holds=holds)) is not None]
            seen = np.array([*inside, *ends])
            seen = seen[np.isfinite(seen)]
            if seen.size:
                rows = np.clip((np.array([seen.min(), seen.max()]) - LOW) / (HIGH - LOW) * ROWS, 0, ROWS - 1).astype(
                    int
                )
                counts[rows[0] : rows[1] + 1, column] += 1
    return counts


def read(
    times_s: npt.NDArray[np.float64], values: npt.NDArray[np.float64], at_s: float, *, holds: bool
) -> float | None:
    if not times_s[0] <= at_s <= times_s[-1]:
        return None
    before = int(np.searchsorted(times_s, at_s, side="right")) - 1
    if holds or times_s[before] == at_s:
        return float(values[before])
    share = (at_s - times_s[before]) / (times_s[before + 1] - times_s[before])
    return float(values[before] * (1 - share) + values[before + 1] * share)


SHAPES = st.tuples(
    st.integers(20, 200),  # samples
    st.integers(1, 30),  # columns
    st.floats(0.5, 40.0),  # length of a stretch
    st.lists(st.floats(-20.0, 210.0), min_size=1, max_size=8),  # starts
    st.integers(0, 2**32 - 1),
)


@given(SHAPES)
@settings(deadline=None)
def test_as_the_plain_way(shape: tuple[int, int, float, list[float], int]) -> None:
    count, columns, length, starts, seed = shape
    rng = np.random.default_rng(seed)
    values = rng.normal(0.0, 6.0, count).astype(np.float32).astype(float)
    values[rng.random(count) < 0.1] = np.nan
    starts_s = np.sort(np.round(np.array(starts), 3)) + 0.00037
    edges_s = np.linspace(-1.3, length, columns + 1)
    channel = Channel("x", "V", FloatSamples(values), 0.0, 1.0)
    settings_ = {"begin_s": -1.3, "end_s": length, "low": LOW, "high": HIGH, "columns": columns, "rows": ROWS}
    found = fold(channel, starts_s, **settings_)  # type: ignore[arg-type]
    times_s = np.arange(count, dtype=float)
    assert (found.counts == plainly(times_s, values, starts_s.tolist(), edges_s, holds=False)).all()
    own_s = np.cumsum(rng.uniform(0.1, 2.0, count))
    for form in ("uneven", "changes"):
        timed = Channel("x", "V", FloatSamples(values), float(own_s[0]), None, form, times_s=own_s)  # type: ignore[arg-type]
        found = fold(timed, starts_s, **settings_)  # type: ignore[arg-type]
        wanted = plainly(own_s, values, starts_s.tolist(), edges_s, holds=form == "changes")
        assert (found.counts == wanted).all()


@given(SHAPES)
@example((88, 1, 1.0, [0.0, 45.0], 0))  # the second stretch begins where the pairs end
@settings(deadline=None)
def test_blocks_make_no_difference(shape: tuple[int, int, float, list[float], int]) -> None:
    count, columns, length, starts, seed = shape
    values = np.random.default_rng(seed).normal(0.0, 6.0, count)
    starts_s = np.sort(np.array(starts))
    own_s = np.cumsum(np.random.default_rng(seed).uniform(0.1, 2.0, count))
    for channel in (
        Channel("x", "V", FloatSamples(values), 0.0, 1.0),
        Channel("x", "V", FloatSamples(values[: count // 2 * 2]), 0.0, 1.0, "pairs"),
        Channel("x", "V", FloatSamples(values), float(own_s[0]), None, "uneven", times_s=own_s),
    ):
        found = []
        for block in (BLOCK, 7):
            with pytest.MonkeyPatch.context() as patch:
                patch.setattr(fold_module, "BLOCK", block)
                found.append(
                    fold(channel, starts_s, begin_s=-1.0, end_s=length, low=LOW, high=HIGH, columns=columns, rows=ROWS)
                )
        assert (found[0].counts == found[1].counts).all()
        assert found[0].laid == found[1].laid


@pytest.mark.parametrize("place", [0, 1, 49_999, 99_998, 99_999])
def test_a_spike_of_one_sample_is_seen_in_one_column_of_ten_thousand_samples(place: int) -> None:
    values = np.zeros(100_000)
    values[place] = 9.0
    found = fold(
        Channel("x", "V", FloatSamples(values), 0.0, 1e-6),
        np.array([0.0]),
        begin_s=0.0,
        end_s=0.1,
        low=LOW,
        high=HIGH,
        columns=10,
        rows=ROWS,
    )
    assert found.counts[-3:].any()
    assert found.laid == 1


def test_pairs_fill_their_whole_interval() -> None:
    channel = Channel("x", "V", FloatSamples([0.0, 1.0, -5.0, 5.0, 0.0, 1.0]), 0.0, 1.0, "pairs")
    found = fold(channel, np.array([0.0]), begin_s=0.0, end_s=3.0, low=LOW, high=HIGH, columns=12, rows=20)
    assert (found.counts[5:16, 4:8] == 1).all()
    assert not found.counts[:9, :3].any()


def test_a_thousand_bits_are_counted_a_thousand_times() -> None:
    values = np.where(np.arange(100_000) // 50 % 2, 5.0, -5.0)
    channel = Channel("x", "V", FloatSamples(values), 0.0, 1e-6)
    starts_s = 50e-6 * np.arange(1000)
    found = fold(channel, starts_s, begin_s=10e-6, end_s=40e-6, low=LOW, high=HIGH, columns=30, rows=ROWS)
    assert (found.counts[10] + found.counts[30] == 1000).all()
    assert found.counts.sum() == 30_000


def test_beyond_the_range_is_held_in_the_outermost_row() -> None:
    channel = Channel("x", "V", FloatSamples([50.0, 50.0, -50.0, -50.0, np.inf, -np.inf]), 0.0, 1.0)
    found = fold(channel, np.array([0.0]), begin_s=0.0, end_s=5.0, low=LOW, high=HIGH, columns=5, rows=ROWS)
    assert found.counts[-1, 0] == 1
    assert found.counts[0, 2] == 1
    assert found.counts[-1, 4] == 1


def test_nothing_there_is_an_empty_picture() -> None:
    channel = Channel("x", "V", FloatSamples([1.0, 2.0]), 0.0, 1.0)
    for starts_s in (np.empty(0), np.array([1e6]), np.array([-1e6])):
        found = fold(channel, starts_s, begin_s=0.0, end_s=5.0, low=LOW, high=HIGH, columns=5, rows=ROWS)
        assert not found.counts.any()
        assert found.laid == 0


@pytest.mark.parametrize("wrong", [{"end_s": 0.0}, {"high": LOW}, {"columns": 0}, {"rows": 0}])
def test_an_empty_range_is_refused(wrong: dict[str, float]) -> None:
    good = {"begin_s": 0.0, "end_s": 1.0, "low": LOW, "high": HIGH, "columns": 3, "rows": 3}
    with pytest.raises(ValueError, match="nothing to fill"):
        fold(Channel("x", "V", FloatSamples([1.0]), 0.0, 1.0), np.array([0.0]), **(good | wrong))  # type: ignore[arg-type]


def test_it_can_be_given_up() -> None:
    def gives_up(share: float) -> None:
        if share > 0:
            raise Cancelled

    channel = Channel("x", "V", FloatSamples(np.zeros(2 * BLOCK)), 0.0, 1.0)
    with pytest.raises(Cancelled):
        fold(
            channel,
            np.arange(0.0, 2.0 * BLOCK, 100.0),
            begin_s=0.0,
            end_s=90.0,
            low=LOW,
            high=HIGH,
            columns=50,
            rows=50,
            progress=gives_up,
        )


@pytest.mark.bench
def test_fifty_thousand_bits_against_plain_minima(benchmark) -> None:  # type: ignore[no-untyped-def]
    import time

    values = np.where(np.arange(5_000_000) // 50 % 2, 5.0, -5.0).astype(np.float32)
    channel = Channel("x", "V", FloatSamples(values), 0.0, 1e-6)
    starts_s = 100e-6 * np.arange(50_000)
    begin = time.perf_counter()
    np.minimum.reduceat(values, np.arange(0, values.size, 10))
    np.maximum.reduceat(values, np.arange(0, values.size, 10))
    plain = time.perf_counter() - begin
    found = benchmark.pedantic(
        lambda: fold(channel, starts_s, begin_s=0.0, end_s=100e-6, low=LOW, high=HIGH, columns=400, rows=200), rounds=2
    )
    benchmark.extra_info["times a plain minimum and maximum"] = benchmark.stats["median"] / plain
    assert found.laid == 50_000
    assert benchmark.stats["median"] < 400 * plain
