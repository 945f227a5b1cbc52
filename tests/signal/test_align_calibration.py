"""A part of the calibration by default, all of it with ``-m long`` (see line_up_calibration.py and its table)."""

import line_up_calibration
import made_pairs
import numpy as np
import pytest

from loomlight.signal.align import line_up

ROUNDS = 24


def test_unrelated_pairs_are_refused() -> None:
    outcomes = [line_up_calibration.unrelated_outcome(number) for number in range(ROUNDS)]
    assert [one for one in outcomes if one["taken"]] == []


def test_related_pairs_are_put_right() -> None:
    outcomes = [line_up_calibration.related_outcome(number) for number in range(2 * ROUNDS)]
    assert sum(not one["taken"] for one in outcomes) <= 1
    assert [one for one in outcomes if one["taken"] and not one["placed"]] == []


@pytest.mark.parametrize("snr_db", [20.0, 3.0])
def test_related_pairs_at_other_noise(snr_db: float) -> None:
    taken = 0
    for number in range(ROUNDS):
        pair = made_pairs.related(np.random.default_rng([17, number]), snr_db)
        taken += line_up(pair.suspect, pair.good).accepted
    assert taken >= 0.95 * ROUNDS


def test_two_buses_of_one_bit_width_are_refused() -> None:
    taken = 0
    for number in range(ROUNDS):
        rng = np.random.default_rng([18, number])
        one, other = (made_pairs.serial_frames(rng, int(rng.integers(2000, 12_000)), 15) for _ in range(2))
        taken += line_up(made_pairs.channel(one), made_pairs.channel(other)).accepted
    assert taken <= 1


@pytest.mark.long
def test_full_calibration() -> None:
    taken = sum(
        bool(line_up_calibration.unrelated_outcome(number)["taken"]) for number in range(line_up_calibration.PAIRS)
    )
    assert taken <= line_up_calibration.MOST_TAKEN
    refused = sum(
        not line_up_calibration.related_outcome(number)["taken"] for number in range(line_up_calibration.PAIRS)
    )
    assert refused <= line_up_calibration.MOST_REFUSED
