"""Dropouts of made buses: found where the contact opened, on the channel that lost the signal, none invented."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from loomlight.sample_captures.make_samples import SIDE, SOLVE_S, record
from loomlight.signal.capture import Channel
from loomlight.signal.circuit import OPEN_OHM, LinBus
from loomlight.signal.comparison import Comparison, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.recurrence import recurrence
from loomlight.signal.samples import FloatSamples
from loomlight.signal.spans import common, covered, joined, spans_of, total

LEAST_S, ENDS_S = 40e-6, 10e-6
SECONDS = 0.18
EVERY = 2


@dataclass(frozen=True, eq=False)
class Opened:
    """A bus whose contact opened at times that are known, and what could be seen of each."""

    found: Comparison
    opened: np.ndarray
    seen_far: np.ndarray
    seen_near: np.ndarray


def random_openings(rng: np.random.Generator) -> np.ndarray:
    """Stretches of 45 µs to 1.5 ms, at least 120 µs apart, in a few bursts."""
    at_s, spans = 12e-3, []
    while at_s < SECONDS - 4e-3:
        for _ in range(int(rng.integers(2, 9))):
            length = float(np.exp(rng.uniform(np.log(45e-6), np.log(1.5e-3))))
            spans.append((at_s, at_s + length))
            at_s += length + rng.uniform(120e-6, 700e-6)
        at_s += rng.uniform(4e-3, 20e-3)
    return spans_of(spans)


def opened_bus(rng: np.random.Generator, openings: np.ndarray, **bus: float) -> Opened:
    count = round(SECONDS / SOLVE_S)
    ohm = np.full(count, 0.05)
    for start_s, stop_s in openings:
        ohm[round(start_s / SOLVE_S) : round(stop_s / SOLVE_S)] = OPEN_OHM
    near, far, sent = record(LinBus(**bus), series_ohm=ohm, seconds=SECONDS, first_round=0)

    def channel(name: str, volts: np.ndarray) -> Channel:
        noisy = volts[::EVERY] + rng.normal(0.0, 0.02, volts[::EVERY].size)
        return Channel(name, "V", FloatSamples(np.round(noisy, 2).astype(np.float32)), 0.0, EVERY * SOLVE_S)

    driven = {
        side: joined(spans_of([span for who, spans in sent.spans.items() if SIDE[who] == side for span in spans]), 0.0)
        for side in ("near", "far")
    }
    found = compare(channel("far", far), channel("near", near), kind="lin", conditions=Conditions(same_moment=True))
    # The far channel loses what near nodes send, and the other way round.
    return Opened(found, openings, common(openings, driven["near"]), common(openings, driven["far"]))


def check_against_truth(made: Opened) -> list[str]:
    wrong = []
    for channel, seen in (("far", made.seen_far), ("near", made.seen_near)):
        spans = np.array(
            [
                (one.start_s, one.stop_s)
                for one in made.found.findings
                if one.kind == "dropout" and one.channel == channel
            ]
        ).reshape(-1, 2)
        for start_s, stop_s in seen[seen[:, 1] - seen[:, 0] >= LEAST_S]:
            near = (np.abs(spans[:, 0] - start_s) <= ENDS_S) & (np.abs(spans[:, 1] - stop_s) <= ENDS_S)
            if near.sum() != 1:
                wrong.append(f"{channel}: not found {start_s * 1e6:.0f} to {stop_s * 1e6:.0f} µs")
        invented = spans[covered(spans, made.opened + np.array([-ENDS_S, ENDS_S])) <= 0]
        wrong += [f"{channel}: invented {start_s * 1e6:.0f} to {stop_s * 1e6:.0f} µs" for start_s, stop_s in invented]
    return wrong


def run(rounds: int) -> tuple[list[str], int]:
    wrong, count = [], 0
    for seed in range(rounds):
        rng = np.random.default_rng(700 + seed)
        bus = {
            "battery_v": float(rng.choice([9.0, 12.6, 14.4])),
            "responder_ohm": float(rng.uniform(20e3, 60e3)),
            "near_f": float(rng.uniform(1e-9, 5e-9)),
            "far_f": float(rng.uniform(0.25e-9, 0.5e-9)),
        }
        made = opened_bus(rng, random_openings(rng), **bus)
        wrong += [f"round {seed}, {text}" for text in check_against_truth(made)]
        count += sum(int((seen[:, 1] - seen[:, 0] >= LEAST_S).sum()) for seen in (made.seen_far, made.seen_near))
    return wrong, count


def test_each_dropout_is_found_with_its_ends_and_none_is_invented() -> None:
    wrong, count = run(3)
    assert wrong == []
    assert count > 60


@pytest.mark.long
def test_each_dropout_is_found_full_table() -> None:
    wrong, count = run(40)
    assert wrong == []
    assert count > 800


@pytest.fixture(scope="module")
def made() -> Opened:
    rng = np.random.default_rng(5)
    return opened_bus(rng, random_openings(rng))


def test_each_dropout_carries_depth_talker_place_and_the_wire(made: Opened) -> None:
    dropouts = [one for one in made.found.findings if one.kind == "dropout"]
    assert {one.channel for one in dropouts} == {"far", "near"}
    for one in dropouts:
        assert 0 < one.size < 12.0
        # While the blower (0x21) talks the near side loses the signal, else the far side.
        assert (one.talker == "response 0x21") == (one.channel == "near")
        assert one.place in one.rule
    places = " ".join(one.place for one in dropouts)
    assert "break of header 0x" in places
    assert "data byte" in places


def test_the_statistics_agree_with_the_findings(made: Opened) -> None:
    rows = {one.name: one for one in made.found.measures if one.group == "dropouts"}
    dropouts = [one for one in made.found.findings if one.kind == "dropout"]
    assert rows["dropouts"].value == len(dropouts)
    by_place = [one.value for name, one in rows.items() if name.startswith("dropouts that begin in")]
    assert sum(value or 0.0 for value in by_place) == len(dropouts)
    by_talker = [one.value for name, one in rows.items() if name.startswith("episodes that begin with")]
    assert sum(value or 0.0 for value in by_talker) <= (rows["episodes"].value or 0.0)
    lengths = sum(one.stop_s - one.start_s for one in dropouts)
    driven_s = (rows["dropouts"].value or 0.0) / (rows["dropout rate"].value or 1.0)
    assert rows["dropouts, share of the driven time"].value == pytest.approx(100 * lengths / driven_s, rel=1e-3)


def test_dropouts_that_come_at_a_steady_rate_are_told_with_it() -> None:
    rng = np.random.default_rng(11)
    starts = np.arange(13e-3, SECONDS - 5e-3, 12.5e-3)
    found = opened_bus(rng, spans_of([(at_s, at_s + 6e-3) for at_s in starts])).found
    row = next(one for one in found.measures if one.name == "episodes, best period")
    assert row.value == pytest.approx(12.5e-3, rel=0.02)


def test_dropouts_of_one_talker_are_tied_to_it(make_bus: Callable[..., Any]) -> None:
    """The wire opens only while the blower answers: its own line, seen on the near channel."""
    rng = np.random.default_rng(12)
    _, _, sent = record(LinBus(), series_ohm=0.05, seconds=SECONDS, first_round=0)
    talks = [(frame.header_stop_s, frame.stop_s) for frame in sent.frames if frame.talker == "blower"]
    openings = spans_of([(start_s + 0.4e-3, start_s + 0.9e-3) for start_s, _ in talks])
    found = opened_bus(rng, openings).found
    assert {one.channel for one in found.findings if one.kind == "dropout"} == {"near"}
    assert (found.verdict.state, found.verdict.intermittent) == ("faulty", True)
    assert any("tied to it" in reason and "response 0x21" in reason for reason in found.verdict.reasons)


SEEN = spans_of([(at_s, at_s + 2e-3) for at_s in np.arange(0.0, 2.0, 8e-3)])


def thrown(rng: np.random.Generator, count: int) -> np.ndarray:
    """Events at random in the seen time."""
    elapsed = np.sort(rng.uniform(0.0, total(SEEN), count))
    return 8e-3 * (elapsed // 2e-3) + elapsed % 2e-3


def test_random_events_are_rarely_called_anything_else() -> None:
    rng = np.random.default_rng(3)
    found = [recurrence(thrown(rng, 25), SEEN) for _ in range(60)]
    called = [one is not None and (one.is_clustered or one.is_periodic) for one in found]
    assert sum(called) <= 6  # three tests at 1 % each: 1.8 are to be expected


def test_a_period_is_found_through_the_pauses_in_which_nothing_is_seen() -> None:
    rng = np.random.default_rng(4)
    times = np.arange(0.0, 2.0, 44.7e-3) + rng.normal(0.0, 1e-3, 45)
    inside = np.sort(times[covered(np.column_stack([times - 1e-6, times + 1e-6]), SEEN) > 0])
    found = recurrence(inside, SEEN)
    assert found is not None
    assert found.p_period <= 0.01
    assert found.period_s == pytest.approx(44.7e-3, rel=0.02)


def test_clusters_are_told_and_few_events_are_not_judged() -> None:
    rng = np.random.default_rng(5)
    clusters = np.sort(np.concatenate([0.2 + rng.uniform(0, 1.5e-3, 9), 1.2 + rng.uniform(0, 1.5e-3, 9)]))
    found = recurrence(clusters, SEEN)
    assert found is not None
    assert found.is_clustered
    assert recurrence(clusters[:5], SEEN) is None


def test_a_dropout_in_a_header_that_it_tore_still_has_its_place(make_bus: Callable[..., Any]) -> None:
    """Against another day's known-good only the torn header itself says where it stands."""
    rng = np.random.default_rng(13)
    _, _, sent = record(LinBus(), series_ohm=0.05, seconds=SECONDS, first_round=0)
    bit_s, frame = 1 / 19_200, sent.frames[7]
    opening = spans_of([(frame.start_s + 4.3 * bit_s, frame.start_s + 7.6 * bit_s)])
    suspect = opened_bus(rng, opening).found.suspect
    found = compare(suspect, make_bus(14).near, kind="lin", conditions=Conditions())
    places = [one.place for one in found.findings if one.kind == "dropout"]
    assert places == ["bit 5 of the break of a header that could not be read"]
