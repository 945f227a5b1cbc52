"""Found again among others: noise, another begin, length, rate, gain and offset; and what is in no library."""

from pathlib import Path

import made_library
import match_calibration
import numpy as np
import pytest

from loomlight.signal.alike import distances
from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse, LoomlightError
from loomlight.signal.fingerprint import SIZE, fingerprint
from loomlight.signal.match import Match, matches
from loomlight.signal.samples import FloatSamples

SEED, ENTRIES, QUERIES = 70_001, 304, 32


def opened(number: int) -> Channel:
    return made_library.entry(SEED, number)


@pytest.fixture(scope="module")
def table() -> np.ndarray:
    return np.array([fingerprint(opened(number)).vector for number in range(ENTRIES)])


def test_the_right_one_first(table: np.ndarray) -> None:
    asked = np.random.default_rng(SEED).choice(ENTRIES, QUERIES, replace=False).tolist()
    found = [[one.index for one in matches(made_library.query(SEED, number), table, opened)] for number in asked]
    first = sum(one[0] == number for one, number in zip(found, asked, strict=True))
    among_five = sum(number in one for one, number in zip(found, asked, strict=True))
    assert first >= 0.95 * QUERIES
    assert among_five >= 0.98 * QUERIES


def test_only_entries_of_the_kind_that_was_asked_for(table: np.ndarray) -> None:
    kinds = [made_library.sort_of(number) for number in range(ENTRIES)]
    found = matches(made_library.query(SEED, 4), table, opened, kinds=kinds, kind="pwm")
    assert {kinds[one.index] for one in found} == {"pwm"}
    assert matches(made_library.query(SEED, 0), table, opened, kinds=kinds, kind="pwm") == ()


def test_an_entry_without_fingerprint_or_that_cannot_be_opened_is_passed_over(table: np.ndarray) -> None:
    holed = table.copy()
    holed[3] = np.nan

    def broken(number: int) -> Channel:
        if number == 0:
            raise LoomlightError("The file is damaged.")
        return opened(number)

    found = matches(made_library.query(SEED, 0), holed, broken, most=3)
    assert len(found) == 3
    assert not {0, 3} & {one.index for one in found}


def test_upside_down_is_told(table: np.ndarray) -> None:
    query = made_library.query(SEED, 15)
    turned = Channel("x", "V", FloatSamples(-query.samples.block(0, query.samples.size)), query.start_s, query.step_s)
    for channel, polarity in ((query, 1), (turned, -1)):
        best: Match = matches(channel, table, opened)[0]
        assert (best.index, best.polarity) == (15, polarity)


def test_no_library_no_match() -> None:
    assert matches(made_library.query(SEED, 0), np.empty((0, SIZE), np.float32), opened) == ()


def test_a_flat_line_cannot_be_told() -> None:
    flat = Channel("supply", "V", FloatSamples(np.full(1000, 12.0)), 0.0, 1e-3)
    with pytest.raises(CannotUse, match="Nothing changes on 'supply'"):
        fingerprint(flat)


def test_nothing_alike_is_an_answer(table: np.ndarray) -> None:
    hiss = Channel("x", "V", FloatSamples(np.random.default_rng(5).normal(size=20_000)), 0.0, 1e-3)
    assert matches(hiss, table, opened) == ()


def test_another_stretch_of_the_same_bus_is_known_by_its_fingerprint_and_not_called_lined_up(table: np.ndarray) -> None:
    later = made_library.recorded(
        made_library.made(SEED, 2),
        np.random.default_rng(1),
        start=1.02,
        length=0.45,
        rate=0.9,
        gain=1.5,
        offset=1.0,
        db=15.0,
    )
    best = matches(later, table, opened)[0]
    assert best.index == 2


def test_forms_with_times_of_their_own_and_pairs_have_fingerprints_too() -> None:
    rng = np.random.default_rng(8)
    edges_s = np.cumsum(rng.choice([1e-3, 2e-3, 5e-3], 400))
    states = np.arange(400) % 2 * 5.0
    changes = Channel("x", "V", FloatSamples(states), 0.0, None, form="changes", times_s=edges_s)
    at_s = np.arange(edges_s[0], edges_s[-1], 1e-4)
    values = states[np.searchsorted(edges_s, at_s, side="right") - 1]
    even = Channel("x", "V", FloatSamples(values), 0.0, 1e-4)
    pairs = Channel("x", "V", FloatSamples(np.repeat(values, 2)), 0.0, 1e-4, form="pairs")
    whole = fingerprint(even).vector
    for other in (changes, pairs):
        assert distances(fingerprint(other).vector, whole[None])[0] < 30


def test_a_long_recording_and_a_short_one_of_the_same_are_near(table: np.ndarray) -> None:
    made = made_library.made(SEED, 4)
    parts = [
        made_library.recorded(
            made, np.random.default_rng(3), start=0.0, length=1.0, rate=rate, gain=1.0, offset=0.0, db=30.0
        )
        for rate in (1.0, 20.0)
    ]
    assert parts[1].samples.size > 131_072
    one, other = (fingerprint(part).vector for part in parts)
    near = distances(other, np.vstack([one[None], table]))
    assert int(np.argmin(near)) in (0, 5)


@pytest.mark.long
def test_a_tenth_of_the_table_again(tmp_path: Path) -> None:
    match_calibration.table_of(tmp_path)
    outcomes = [
        match_calibration.outcome(str(tmp_path), seed, number) for seed, number in match_calibration.asked()[:130]
    ]
    places = np.array([match_calibration.place_of(one) for one in outcomes if one["seed"] == match_calibration.SEED])
    assert (places < 1).mean() >= match_calibration.LEAST_FIRST
    assert (places < 5).mean() >= 0.97  # of 100: what 99 % may miss by luck
