"""The signal kind that DEVELOPERS.md shows works as it stands there."""

import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds import listing
from loomlight.signal.samples import FloatSamples

GUIDE = Path(__file__).parents[2] / "DEVELOPERS.md"
MOST_LINES = 100


def _code() -> str:
    return GUIDE.read_text(encoding="utf-8").split("```python\n")[1].split("```")[0]


@pytest.fixture
def kind(monkeypatch: pytest.MonkeyPatch) -> Any:
    module = ModuleType("kind_example")
    monkeypatch.setitem(sys.modules, "kind_example", module)
    exec(compile(_code(), str(GUIDE), "exec"), module.__dict__)
    kind = module.SENSOR_SUPPLY
    row = listing.ListedKind(kind.key, kind.title, kind.by, lambda: kind)
    monkeypatch.setattr(listing, "KINDS", (*listing.KINDS, row))
    return kind


def _level(volts: float) -> Channel:
    rng = np.random.default_rng(5)
    return Channel("5 V", "V", FloatSamples((volts + rng.normal(0, 0.01, 1000)).astype(np.float32)), 0.0, 1e-3)


def test_it_is_short() -> None:
    assert len(_code().splitlines()) <= MOST_LINES


@pytest.mark.parametrize(
    ("volts", "state"), [(5.02, "clean"), (4.4, "faulty"), (5.6, "faulty"), (np.nan, "cannot tell")]
)
def test_it_judges(kind: Any, volts: float, state: str) -> None:
    found = check(_level(volts), kind=kind.key, conditions=Conditions())
    assert found.verdict.state == state


def test_its_figures_can_be_changed_and_it_takes_a_known_good(kind: Any) -> None:
    wide = Conditions(settings=(("tolerance", 0.2),))
    assert compare(_level(4.4), _level(5.0), kind=kind.key, conditions=wide).verdict.state == "clean"
