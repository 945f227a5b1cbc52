"""A part of the calibration by default, all of it with ``-m long`` (see line_up_calibration.py and its table)."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from loomlight.signal.align import line_up

ROUNDS = 24


def _beside(name: str) -> ModuleType:
    path = Path(__file__).with_name(f"{name}.py")
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


CALIBRATION = _beside("line_up_calibration")
MADE = CALIBRATION.MADE


def test_unrelated_pairs_are_refused() -> None:
    outcomes = [CALIBRATION.unrelated_outcome(number) for number in range(ROUNDS)]
    assert [one for one in outcomes if one["taken"]] == []


def test_related_pairs_are_put_right() -> None:
    outcomes = [CALIBRATION.related_outcome(number) for number in range(2 * ROUNDS)]
    assert sum(not one["taken"] for one in outcomes) <= 1
    assert [one for one in outcomes if one["taken"] and not one["placed"]] == []


@pytest.mark.parametrize("snr_db", [20.0, 3.0])
def test_related_pairs_at_other_noise(snr_db: float) -> None:
    taken = 0
    for number in range(ROUNDS):
        pair = MADE.related(np.random.default_rng([17, number]), snr_db)
        taken += line_up(pair.suspect, pair.good).accepted
    assert taken >= 0.95 * ROUNDS


def test_two_buses_of_one_bit_width_are_refused() -> None:
    taken = 0
    for number in range(ROUNDS):
        rng = np.random.default_rng([18, number])
        one, other = (MADE.serial_frames(rng, int(rng.integers(2000, 12_000)), 15) for _ in range(2))
        taken += line_up(MADE.channel(one), MADE.channel(other)).accepted
    assert taken <= 1


@pytest.mark.long
def test_full_calibration() -> None:
    taken = sum(bool(CALIBRATION.unrelated_outcome(number)["taken"]) for number in range(CALIBRATION.PAIRS))
    assert taken <= CALIBRATION.MOST_TAKEN
    refused = sum(not CALIBRATION.related_outcome(number)["taken"] for number in range(CALIBRATION.PAIRS))
    assert refused <= CALIBRATION.MOST_REFUSED
