"""Every signal kind finds the faults that its maker puts in, and leaves clean signals in peace."""

import pkgutil

import pytest
from kind_tables import maker_of, problems, rows

from loomlight.sample_captures import makers

MODULES = [maker_of(one.name) for one in pkgutil.iter_modules(makers.__path__)]
KINDS = sorted(one.KIND for one in MODULES if hasattr(one, "KIND"))


@pytest.mark.parametrize("kind", KINDS)
def test_a_tenth_of_the_table(kind: str) -> None:
    assert not problems(list(rows(kind, 0.1)))


@pytest.mark.long
@pytest.mark.parametrize("kind", KINDS)
def test_the_whole_table(kind: str) -> None:
    assert not problems(list(rows(kind)))
