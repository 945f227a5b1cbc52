"""Stages as JSON: null for what is not known, and nothing that is no JSON."""

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.entry import Entry
from loomlight.signal.samples import FloatSamples
from loomlight.signal.verdict import Verdict
from loomlight.viewer.answers import as_json, capture_answer, entries_answer, json_parts, verdict_answer

ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=10,
)


def _refused(text: str) -> float:
    raise AssertionError(f"{text} is no JSON (RFC 8259, section 6)")


def _with_null(value: object) -> object:
    if isinstance(value, dict):
        return {key: _with_null(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_with_null(one) for one in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


@settings(deadline=None, max_examples=60)  # a busy machine is no error
@given(st.dictionaries(st.text(), ANY_JSON, max_size=4), st.booleans())
def test_any_answer_comes_back_with_null_for_what_is_no_number(answer: dict[str, object], ascii_only: bool) -> None:
    text = as_json(answer, ascii_only=ascii_only)
    assert json.loads(text, parse_constant=_refused) == _with_null(answer)
    assert text.isascii() or not ascii_only


def test_a_long_answer_comes_in_parts_that_make_the_same_text() -> None:
    answer = {"findings": [{"start_s": number / 3, "rule": "µ"} for number in range(5000)]}
    parts = list(json_parts(answer))
    assert len(parts) > 3
    assert max(map(len, parts)) < 500_000
    assert "".join(parts) == json.dumps(answer, indent=2, ensure_ascii=False)


def test_an_open_wires_resistance_has_no_upper_bound() -> None:
    verdict = Verdict("faulty", "open", ("r",), series_ohm_low=50_000.0, series_ohm_high=math.inf)
    answer = json.loads(as_json(verdict_answer(verdict)))
    assert (answer["series_ohm_low"], answer["series_ohm_high"]) == (50_000.0, None)


def test_what_to_do_next_is_the_last_reason() -> None:
    assert verdict_answer(Verdict("cannot tell", "unknown", ("a", "b"), next_step="do"))["reasons"] == ["a", "b", "do"]
    assert verdict_answer(Verdict("cannot tell", "unknown", ("a",)))["reasons"] == ["a"]


@pytest.mark.parametrize(
    ("volts", "reach"), [([1.0, math.nan, 3.0], (1.0, 3.0)), ([math.nan, math.nan], (None, None)), ([], (None, None))]
)
def test_least_and_greatest_are_over_finite_samples(volts: list[float], reach: tuple[float | None, ...]) -> None:
    channel = Channel("a", "V", FloatSamples(np.array(volts, np.float32)), 0.0, 0.1, gaps=((1, 2),))
    answer = json.loads(as_json(capture_answer(Capture("x.csv", "columns", (channel,)), "in/x.csv")))
    (told,) = answer["channels"]
    assert (told["min"], told["max"]) == reach
    assert told["gaps"] == [[1, 2]]
    assert answer["file"] == "in/x.csv"


def test_an_entry_that_was_not_compared_has_no_fit() -> None:
    (told,) = entries_answer((Entry("id", "title", "lin", "flap"),))["entries"]
    assert (told["fit"], told["sureness"]) == (None, None)
