"""Every signal kind finds the faults that its maker puts in, and leaves clean signals in peace."""

import os
import pkgutil
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from multiprocessing import get_context

import pytest
from kind_tables import Row, maker_of, problems, whole_table

from loomlight.sample_captures import makers

MODULES = [maker_of(one.name) for one in pkgutil.iter_modules(makers.__path__)]
KINDS = sorted(one.KIND for one in MODULES if hasattr(one, "KIND"))
Tables = dict[str, Future[list[Row]]]


def _worked(share: float) -> Iterator[Tables]:
    """All tables at once, on every core there is."""
    with ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("spawn")) as pool:
        yield {kind: pool.submit(whole_table, kind, share) for kind in KINDS}


@pytest.fixture(scope="module")
def tenths() -> Iterator[Tables]:
    """A seeded tenth of each kind's table."""
    yield from _worked(0.1)


@pytest.fixture(scope="module")
def wholes() -> Iterator[Tables]:
    """Each kind's table."""
    yield from _worked(1.0)


@pytest.mark.parametrize("kind", KINDS)
def test_a_tenth_of_the_table(kind: str, tenths: Tables) -> None:
    assert not problems(tenths[kind].result())


@pytest.mark.long
@pytest.mark.parametrize("kind", KINDS)
def test_the_whole_table(kind: str, wholes: Tables) -> None:
    assert not problems(wholes[kind].result())
