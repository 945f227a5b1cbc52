"""Identification numbers: signs by ISO 3779, check digit by 49 CFR 565.15 (weights and values from memory)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.vin import LENGTH, VALUES, check_digit, check_vin, plain_vin

SIGNS = st.sampled_from(sorted(VALUES))


def test_seventeen_ones_fit() -> None:
    """The weights add up to 89 = 8 · 11 + 1, so a number of ones has the check digit 1 (the usual hand check)."""
    assert check_vin("1" * LENGTH).state == "right"


def made(signs: list[str]) -> str:
    number = "".join(signs)
    return number[:8] + check_digit(number) + number[9:]


@given(st.lists(SIGNS, min_size=LENGTH, max_size=LENGTH))
def test_a_number_with_its_check_digit_is_right(signs: list[str]) -> None:
    assert check_vin(made(signs)).state == "right"


@given(st.lists(SIGNS, min_size=LENGTH, max_size=LENGTH), st.integers(0, LENGTH - 1), SIGNS)
def test_one_wrong_sign_shows_unless_both_signs_have_the_same_value(signs: list[str], place: int, other: str) -> None:
    number = made(["1", *signs[1:]])
    slip = number[:place] + other + number[place + 1 :]
    # Place 10 has the weight 10 and no weight is a multiple of 11: only signs of one value can stand for each other.
    if place == 8:
        same = number[place] == other
    else:
        same = VALUES[number[place]] == VALUES[other]
    found = check_vin(slip).state
    assert (found == "right") == same
    if not same:
        assert found == ("wrong" if slip[0] in "12345" else "not checked")


def test_elsewhere_a_check_digit_is_not_asked_for() -> None:
    number = made(list("W" + "0" * 16))
    other = number[:8] + ("1" if number[8] != "1" else "2") + number[9:]
    assert check_vin(other).state == "not checked"


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("1" * 16, "16 signs"),
        ("1" * 18, "18 signs"),
        ("1" * 5 + "O" + "1" * 11, "Sign 6 is 'O', which no identification number holds; it may be 0."),
        ("ÄÖ", "Sign 1 is 'Ä'"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(written: str, told: str) -> None:
    found = check_vin(written)
    assert found.state == "wrong"
    assert told in found.text


def test_blanks_dashes_and_small_letters_do_not_matter() -> None:
    assert plain_vin(" wa-b c1 ") == "WABC1"
    assert check_vin("  ").state == "empty"
