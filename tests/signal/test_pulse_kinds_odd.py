"""Signals that are none of these kinds, too short, or full of holes: a verdict or a sentence, never an error."""

import warnings

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.errors import LoomlightError
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

UNITS = {"toothed-wheel": "V", "pwm": "V", "coil": "A", "wheel-speed": "A"}
LENGTHS = (1, 8, 60, 1500)


def shapes(rng: np.random.Generator, count: int) -> list[np.ndarray]:
    place = np.arange(count)
    return [
        rng.normal(size=count),
        np.where((place // 7) % 2, 5.0, 0.0),
        np.sin(0.3 * place) * np.linspace(0, 9, count),
        np.cumsum(rng.normal(size=count)),
        np.where(rng.random(count) < 0.01, 50.0, 0.1),
        np.repeat(7e-3 * rng.integers(0, 3, count // 5 + 1), 5)[:count],
        np.where((place // 50) % 4 == 0, 1 - np.exp(-(place % 50) / 10), 0.0),
        np.where(place < count // 2, 0.0, 13.0),
    ]


@pytest.mark.parametrize("kind", list(UNITS))
@pytest.mark.parametrize("holes", [0.0, 0.3])
def test_a_verdict_or_a_sentence(kind: str, holes: float) -> None:
    rng = np.random.default_rng(11)
    for count in LENGTHS:
        for values in shapes(rng, count):
            values = np.where(rng.random(count) < holes, np.nan, values)
            for form in ("even", "pairs")[: 1 + (count % 2 == 0)]:
                channel = Channel("x", UNITS[kind], FloatSamples(values), 0.0, 1e-4, form=form)  # type: ignore[arg-type]
                with warnings.catch_warnings():
                    warnings.simplefilter("error")
                    try:
                        found = check(channel, kind=kind, conditions=Conditions())
                    except LoomlightError:
                        continue
                assert found.verdict.reasons
