"""Parts and labour: to the cent, halves up, nothing guessed."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.costs import costs_of, number_in
from loomlight.signal.job_records import CostLine


def test_an_invoice_by_hand() -> None:
    lines = (
        CostLine("bulkhead pin", "part", "2", "3,45"),
        CostLine("diagnosis", "labour", "1.5", "64"),
        CostLine("travel", "labour", "1", "18.005"),
    )
    costs = costs_of(lines, "19")
    assert costs.lines == (Decimal("6.90"), Decimal("96.00"), Decimal("18.01"))
    assert (costs.parts, costs.labour) == (Decimal("6.90"), Decimal("114.01"))
    assert costs.tax == Decimal("22.97")  # 120.91 · 0.19 = 22.9729
    assert costs.total == Decimal("143.88")
    assert costs.open_lines == 0


def test_a_line_without_a_number_is_left_out_and_counted() -> None:
    costs = costs_of(
        (CostLine("pin", "part", "1", ""), CostLine("work", "labour", "x", "5"), CostLine("a", "part", "1", "2"))
    )
    assert costs.lines == (None, None, Decimal("2.00"))
    assert costs.open_lines == 2
    assert costs.total == Decimal("2.00")


@pytest.mark.parametrize("text", ["", "-1", "nan", "inf", "1e99", "1.2.3", "1,000.5", "five"])
def test_what_is_no_amount_is_none(text: str) -> None:
    assert number_in(text) is None


@given(st.lists(st.tuples(st.integers(0, 999), st.integers(0, 99999)), max_size=12))
def test_whole_cents_add_up_exactly(lines: list[tuple[int, int]]) -> None:
    made = tuple(CostLine("x", "part", str(many), f"{cents // 100}.{cents % 100:02d}") for many, cents in lines)
    assert costs_of(made).total == Decimal(sum(many * cents for many, cents in lines)) / 100
