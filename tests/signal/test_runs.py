"""Runs above zero against a plain loop, whatever the blocks."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.runs import Runs, runs_above_zero

VALUES = st.lists(st.sampled_from([-1.0, 0.0, 1.0, 2.0, float("inf"), float("nan")]), max_size=60)


def in_blocks(values: list[float], block: int, *, most: int = 1000) -> Runs:
    row = np.array(values, dtype=np.float32)
    return runs_above_zero(((start, row[start : start + block]) for start in range(0, row.size, block)), most=most)


def plain_loop(values: list[float]) -> list[tuple[int, int, float]]:
    found: list[tuple[int, int, float]] = []
    for place, value in enumerate(values):
        if not value > 0:
            continue
        if found and found[-1][1] == place:
            found[-1] = (found[-1][0], place + 1, max(found[-1][2], value))
        else:
            found.append((place, place + 1, value))
    return found


def listed(runs: Runs) -> list[tuple[int, int, float]]:
    return list(zip(runs.first.tolist(), runs.last.tolist(), runs.worst.tolist(), strict=True))


@given(values=VALUES, block=st.integers(1, 9))
def test_same_as_a_plain_loop(values: list[float], block: int) -> None:
    assert listed(in_blocks(values, block)) == plain_loop(values)


@given(values=VALUES, block=st.integers(1, 9), most=st.integers(2, 5))
def test_joined_runs_keep_the_reach_and_the_worst(values: list[float], block: int, most: int) -> None:
    every, few = plain_loop(values), listed(in_blocks(values, block, most=most))
    assert len(few) == min(len(every), most)
    if every:
        assert (few[0][0], few[-1][1]) == (every[0][0], every[-1][1])
        assert max(run[2] for run in few) == max(run[2] for run in every)
    for first, last, worst in every:
        assert any(begin <= first and last <= end and worst <= most_there for begin, end, most_there in few)


def test_the_widest_gaps_are_kept() -> None:
    values = [1.0, -1.0, 1.0, *[-1.0] * 9, 1.0, -1.0, 1.0, *[-1.0] * 5, 3.0]
    assert listed(in_blocks(values, 100, most=3)) == [(0, 3, 1.0), (12, 15, 1.0), (20, 21, 3.0)]


@pytest.mark.bench
def test_ten_million_samples_that_break_at_every_other_one(benchmark) -> None:  # type: ignore[no-untyped-def]
    row = np.tile(np.array([1.0, -1.0], np.float32), 5_000_000)
    rows = [(start, row[start : start + 262_144]) for start in range(0, row.size, 262_144)]
    benchmark.pedantic(lambda: runs_above_zero(rows, most=2000), rounds=3)
    assert benchmark.stats["median"] < 6.0
