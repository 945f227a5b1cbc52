"""Found again among others: noise, another begin, length, rate, gain and offset; and what is in no library."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse, LoomlightError
from loomlight.signal.fingerprint import SIZE, fingerprint
from loomlight.signal.match import Match, matches
from loomlight.signal.samples import FloatSamples

SEED, ENTRIES, QUERIES = 70_001, 304, 40


def _made_library() -> ModuleType:
    path = Path(__file__).with_name("made_library.py")
    spec = importlib.util.spec_from_file_location("made_library", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


MADE = _made_library()


def opened(number: int) -> Channel:
    channel: Channel = MADE.entry(SEED, number)
    return channel


@pytest.fixture(scope="module")
def table() -> np.ndarray:
    return np.array([fingerprint(opened(number)).vector for number in range(ENTRIES)])


def test_the_right_one_first(table: np.ndarray) -> None:
    asked = np.random.default_rng(SEED).choice(ENTRIES, QUERIES, replace=False).tolist()
    found = [[one.index for one in matches(MADE.query(SEED, number), table, opened)] for number in asked]
    first = sum(one[0] == number for one, number in zip(found, asked, strict=True))
    among_five = sum(number in one for one, number in zip(found, asked, strict=True))
    assert first >= 0.95 * QUERIES
    assert among_five >= 0.98 * QUERIES


def test_only_entries_of_the_kind_that_was_asked_for(table: np.ndarray) -> None:
    kinds = [MADE.sort_of(number) for number in range(ENTRIES)]
    found = matches(MADE.query(SEED, 0), table, opened, kinds=kinds, kind="pwm")
    assert {kinds[one.index] for one in found} == {"pwm"}


def test_an_entry_without_fingerprint_or_that_cannot_be_opened_is_passed_over(table: np.ndarray) -> None:
    holed = table.copy()
    holed[3] = np.nan

    def broken(number: int) -> Channel:
        if number == 0:
            raise LoomlightError("The file is damaged.")
        return opened(number)

    found = matches(MADE.query(SEED, 0), holed, broken, most=3)
    assert len(found) == 3
    assert not {0, 3} & {one.index for one in found}


def test_upside_down_is_told(table: np.ndarray) -> None:
    query = MADE.query(SEED, 15)
    turned = Channel("x", "V", FloatSamples(-query.samples.block(0, query.samples.size)), query.start_s, query.step_s)
    for channel, polarity in ((query, 1), (turned, -1)):
        best: Match = matches(channel, table, opened)[0]
        assert (best.index, best.polarity) == (15, polarity)


def test_no_library_no_match() -> None:
    assert matches(MADE.query(SEED, 0), np.empty((0, SIZE), np.float32), opened) == ()


def test_a_flat_line_cannot_be_told() -> None:
    flat = Channel("supply", "V", FloatSamples(np.full(1000, 12.0)), 0.0, 1e-3)
    with pytest.raises(CannotUse, match="Nothing changes on 'supply'"):
        fingerprint(flat)
