"""Every sentence that shows a stage, in the trade's words."""

import itertools
from typing import get_args

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.examination import BusReport
from loomlight.signal.finding import Finding, FindingKind
from loomlight.signal.lineup import LineUp
from loomlight.signal.proof import ProofCheck, ProofState
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import FloatSamples
from loomlight.signal.verdict import Fault, ShortTo, State, Verdict
from loomlight.viewer.wording import (
    CHECK_COLUMNS,
    FINDING_COLUMNS,
    STATE_SIGNS,
    bus_sentence,
    channel_summary,
    check_cells,
    finding_cells,
    finding_sentence,
    lineup_sentence,
    series_text,
    verdict_headline,
)

LINEUP = LineUp(True, "shape", -0.0208, 1.0, 0.92, 0.67, 1, 0.164, 0.032, 1.0, 0.0, "The signal repeats every 32 ms.")


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (2300.0, "Ω", "2.3 kΩ"),
        (4.5e-05, "s", "45 µs"),
        (0.9996, "V", "1 V"),
        (999.6, "Ω", "1 kΩ"),
        (-0.0208, "s", "-20.8 ms"),
        (0.0, "V", "0 V"),
        (12.0, "", "12"),
        (None, "Ω", "not known"),
        (float("nan"), "V", "not known"),
        (float("inf"), "Ω", "no upper bound"),
    ],
)
def test_quantities_as_a_person_writes_them(value: float | None, unit: str, words: str) -> None:
    """Prefixes as in the SI Brochure (BIPM, 9th edition), table 7."""
    assert in_words(value, unit) == words


def _every_verdict() -> list[Verdict]:
    found = [Verdict("clean", "none", ("All kept.",)), Verdict("cannot tell", "unknown", ("Too short.",))]
    faults = [one for one in get_args(Fault) if one != "none"]
    for fault, comes_and_goes, short_to in itertools.product(faults, (False, True), (None, *get_args(ShortTo))):
        if short_to is None or fault == "short":
            found.append(Verdict("faulty", fault, ("Because.",), short_to=short_to, intermittent=comes_and_goes))
    return found


def test_every_verdict_has_a_headline_of_its_own() -> None:
    verdicts = _every_verdict()
    headlines = [verdict_headline(one) for one in verdicts]
    assert len(set(headlines)) == len(verdicts)
    for verdict, headline in zip(verdicts, headlines, strict=True):
        assert headline.lower().startswith(verdict.state)
        assert ("comes and goes" in headline) == verdict.intermittent
        assert verdict.short_to is None or f"short to {verdict.short_to}" in headline


def test_every_state_has_a_sign_beside_its_word() -> None:
    for state in (*get_args(State), *get_args(ProofState), "open"):
        assert STATE_SIGNS[state].strip(), state
    assert len({STATE_SIGNS[one] for one in get_args(State)}) == 3


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (Verdict("faulty", "open", ("r",)), ""),
        (
            Verdict("faulty", "resistive", ("r",), series_ohm=2198.0, series_ohm_low=1690.0, series_ohm_high=2630.0),
            "Series resistance about 2.2 kΩ, 1.7 kΩ to 2.6 kΩ",
        ),
        (
            Verdict("faulty", "open", ("r",), series_ohm_low=50_000.0),
            "Series resistance above 50 kΩ, no upper bound",
        ),
        (
            Verdict("clean", "none", ("r",), series_ohm_low=0.0, series_ohm_high=220.0),
            "Series resistance under 220 Ω with this instrument",
        ),
    ],
)
def test_series_resistance_is_an_interval_and_never_a_bare_figure(verdict: Verdict, words: str) -> None:
    assert series_text(verdict) == words


@pytest.mark.parametrize("kind", get_args(FindingKind))
def test_a_finding_fills_its_row(kind: FindingKind) -> None:
    finding = Finding(kind, "blower LIN", 0.0094878, 0.0095888, 9.5, "V", "rises to 11.60 V", "severe")
    cells = finding_cells(finding)
    assert len(cells) == len(FINDING_COLUMNS)
    assert cells == ("9.4878 ms", f"! {kind}", "9.5 V", "101 µs", "blower LIN: rises to 11.60 V")
    assert "the function may suffer" in finding_sentence(finding)


def test_a_mild_finding_has_another_sign_and_a_count_no_unit() -> None:
    finding = Finding("no response", "flap LIN", -0.01, -0.008, 1.0, "", "frame 0x21", "mild")
    assert finding_cells(finding)[:3] == ("-10 ms", "· no response", "1")


def test_lineups_accepted_refused_upside_down_and_none() -> None:
    accepted = lineup_sentence(LINEUP)
    assert accepted.startswith("Lined up by shape: shifted by -20.8 ms, fit 0.92, sureness 0.67, over 164 ms.")
    assert accepted.endswith("The signal repeats every 32 ms.")
    refused = LineUp(False, "shape", 0.0, 1.0, 0.2, 0.0, 1, 0.1, None, 1.0, 0.0, "The two do not look alike.")
    assert lineup_sentence(refused) == "Line-up refused. The two do not look alike."
    turned = LineUp(True, "shape", 0.0, 1.0, 0.9, 0.9, -1, 0.1, None, -1.0, 0.0, "")
    assert lineup_sentence(turned).startswith("Lined up upside down")
    assert lineup_sentence(None) == "No known-good: judged against the limits alone."


def test_bus_tells_where_its_supply_comes_from() -> None:
    identifiers = tuple(range(0x10, 0x1A))
    words = {
        "given": "12.0 V (what was given, less the diode)",
        "recessive level": "12.0 V (from the resting level)",
    }
    for source, told in words.items():
        bus = BusReport(19_200.0, 10, 0, 1, identifiers, 12.0, source)  # type: ignore[arg-type]
        assert bus_sentence(bus).endswith(f"node supply {told}")
    quiet = BusReport(None, 0, 0, 0, (), None, "unknown")
    assert bus_sentence(quiet) == ("0 frames, 0 with errors")
    assert bus_sentence(None) == ""


def test_bus_tells_its_load_and_where_frames_break_off() -> None:
    counts = (("error flag: data, byte 3", 2), ("no acknowledge: acknowledge slot", 1))
    bus = BusReport(500e3, 40, 1, 2, (0x10,), None, "unknown", load=0.42, error_counts=counts)
    told = "load 42%; 2 × error flag: data, byte 3; 1 × no acknowledge: acknowledge slot"
    assert bus_sentence(bus).endswith(told)


def test_channels_of_every_form_are_told_in_one_line() -> None:
    volts = FloatSamples(np.zeros(4, np.float32))
    times = np.array([0.0, 1.0, 2.0, 4.0])
    even = Channel("a", "V", volts, 0.0, 0.5)
    assert channel_summary(even) == "a (V): 4 samples every 500 ms, 2 s long"
    pairs = Channel("a", None, volts, 0.0, 0.5, form="pairs")
    assert channel_summary(pairs) == "a (unit unknown): 4 samples, a minimum and maximum every 500 ms, 1 s long"
    changes = Channel("a", "V", volts, 0.0, None, form="changes", times_s=times)
    assert channel_summary(changes) == "a (V): 4 changes, 4 s long"
    uneven = Channel("a", "V", volts, 0.0, None, form="uneven", times_s=times)
    assert channel_summary(uneven) == "a (V): 4 samples, unevenly spaced, 4 s long"


@pytest.mark.parametrize(
    ("passed", "after", "result"), [(True, 0.0, "✓ passed"), (False, 3.0, "✗ failed"), (None, None, "? not measured")]
)
def test_a_check_fills_its_row_with_sign_and_word(passed: bool | None, after: float | None, result: str) -> None:
    cells = check_cells(ProofCheck("dropouts", 52.0, after, 0.0, passed))
    assert len(cells) == len(CHECK_COLUMNS)
    assert cells[-1] == result
    assert cells[2] == ("–" if after is None else f"{after:.0f}")
