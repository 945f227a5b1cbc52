"""Supply, charging and cranking on rows that are too short, empty, infinite, flat or absurd: an answer or a clear error."""

import numpy as np
import pytest

from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.errors import LoomlightError
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples


def odd(count: int) -> dict[str, np.ndarray]:
    """Rows of one length."""
    rng, at = np.random.default_rng(count), np.arange(count)
    steady = 12.6 + rng.normal(0.0, 0.05, count)
    third = slice(count // 3, count // 2)
    rows = {"steady": steady, "none": np.full(count, np.nan), "huge": np.full(count, 1e30), "ramp": at * 30.0 / count}
    for name, value in (("gap", np.nan), ("infinite", np.inf), ("dip", 8.0), ("zero", 0.0)):
        rows[name] = steady.copy()
        rows[name][third] = value
    rows["starts low"] = np.where(at < count // 2, 8.0, 12.6)
    rows["ends dead"] = np.where(at < count // 2, 12.6, 0.0)
    rows["every second"] = np.where(at % 2, 12.6, 40.0)
    rows["every seventh"] = np.where(at % 7, 12.6, -40.0)
    return rows


@pytest.mark.parametrize("kind", ["supply", "charging", "cranking"])
@pytest.mark.parametrize("count", [1, 2, 64, 300, 4000])
def test_an_answer_or_a_clear_error(kind: str, count: int) -> None:
    for row in odd(count).values():
        for form in ("even", "pairs") if count % 2 == 0 else ("even",):
            for step_s in (1e-6, 1e-3):
                made = {
                    unit: Channel(unit, unit, FloatSamples(row if unit == "V" else row - 7.0), 0.0, step_s, form)
                    for unit in ("V", "A")
                }
                roles = {"supply": "far end", "charging": "current", "cranking": "sync"}
                besides = (Beside(roles[kind], made["A" if kind == "charging" else "V"]),)
                try:
                    found = check(made["V"], kind=kind, conditions=Conditions(besides=besides))
                except LoomlightError:
                    continue
                assert found.verdict.reasons


@pytest.mark.parametrize("kind", ["supply", "charging", "cranking"])
def test_what_was_beyond_the_range_is_said(kind: str) -> None:
    row = odd(4000)["infinite"]
    found = check(Channel("x", "V", FloatSamples(row), 0.0, 1e-4), kind=kind, conditions=Conditions())
    assert any("667 of 4000 samples of 'x' are beyond" in one for one in found.verdict.reasons)


@pytest.mark.parametrize("kind", ["supply", "charging", "cranking"])
@pytest.mark.parametrize(
    ("volts", "told"), [(360.0, "can kill"), (-380.0, "can kill"), (130.0, "can kill"), (48.0, "48 V")]
)
def test_high_voltage_is_never_taken_for_a_supply_that_does_not_arrive(kind: str, volts: float, told: str) -> None:
    values = volts + np.random.default_rng(1).normal(0.0, 0.2, 20_000)
    channel = Channel("battery", "V", FloatSamples(values.astype(np.float32)), 0.0, 1e-4)
    verdict = check(channel, kind=kind, conditions=Conditions()).verdict
    assert verdict.state == "cannot tell"
    assert told in verdict.reasons[0]
    assert "Touch" not in verdict.next_step
