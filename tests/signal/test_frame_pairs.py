"""Line-up by frame: pairs by identifier and order, start on start; refused where there is nothing to pair."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.make_samples import SCHEDULE, record
from loomlight.signal.bus_frames import BusFrame, Word
from loomlight.signal.bus_traffic import COMMANDER, Slot
from loomlight.signal.capture import Channel
from loomlight.signal.circuit import LinBus
from loomlight.signal.comparison import compare
from loomlight.signal.difference import difference
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.frame_pairs import line_up_by_frame, paired
from loomlight.signal.kinds.lin import LIN
from loomlight.signal.lineup import LineUp
from loomlight.signal.samples import FloatSamples
from loomlight.signal.ways import Sides, line_up_by

BIT_S = 1 / 19_200
CONDITIONS = Conditions()


def bus(seed: int, *, noise_v: float = 0.05, step: int = 2, start_s: float = 0.0, **how: object) -> Channel:
    """The near side of a made bus; ``how`` as `record`."""
    wanted = {"series_ohm": 0.02, "seconds": 0.3, "first_round": seed} | how
    near, _, _ = record(wanted.pop("bus", LinBus()), **wanted)  # type: ignore[arg-type]
    volts = near[::step] + np.random.default_rng(seed).normal(0, noise_v, near[::step].size)
    return Channel("LIN", "V", FloatSamples(volts), start_s, step * 1e-6)


def frames_of(channel: Channel) -> tuple[BusFrame, ...]:
    return LIN.frames(LIN.examine(channel, CONDITIONS))


def by_frame(suspect: Channel, good: Channel) -> LineUp:
    return line_up_by_frame(suspect, good, frames_of(suspect), frames_of(good))


def made(starts: list[float], identifiers: list[int], *, bit_s: float = BIT_S) -> list[BusFrame]:
    return [
        BusFrame(at, at + 50 * bit_s, one, bit_s, (Word(at, at + 13 * bit_s, 0x100D, COMMANDER),))
        for at, one in zip(starts, identifiers, strict=True)
    ]


def test_a_shift_in_the_schedule_is_found_to_a_fraction_of_a_sample() -> None:
    whole = bus(1, seconds=0.4)
    volts = whole.samples.block(0, whole.samples.size)
    suspect = Channel("s", "V", FloatSamples(volts[30_000:150_000]), 5.0, 2e-6)
    found = by_frame(suspect, whole)
    assert found.accepted
    assert found.by == "frame"
    assert found.lag_s + found.stretch * 5.0 == pytest.approx(30_000 * 2e-6, abs=0.5e-6)
    assert found.stretch == pytest.approx(1.0, abs=1e-5)
    assert found.fit > 0.99


@pytest.mark.parametrize("rate", [16_700.0, 18_000.0, 20_000.0, 21_900.0])
def test_bit_rates_apart_are_stretched_bit_on_bit(rate: float) -> None:
    """LIN 2.2A, section 6.3: a responder's clock may be off by up to ±14 % before it is set by the sync field."""
    good, suspect = bus(1), bus(4, bit_rate=rate, slot_s=8e-3 * 19_200 / rate)
    found = by_frame(suspect, good)
    assert found.accepted
    assert found.stretch == pytest.approx(rate / 19_200, rel=1e-3)
    assert found.fit > 0.97
    apart = difference(suspect, good, found)
    values = apart.samples.block(0, apart.samples.size)
    known = values[np.isfinite(values)]
    assert known.size > 0.15 * values.size
    assert np.percentile(np.abs(known), 90) < 0.4, "words that say the same lie on each other but for their edges"


def test_another_schedule_is_laid_frame_by_frame_in_order() -> None:
    other = (SCHEDULE[2], Slot(0x3A, COMMANDER, lambda _: bytes([1, 2])), SCHEDULE[0], SCHEDULE[3])
    good, suspect = bus(1), bus(2, schedule=other, slot_s=11e-3)
    found = by_frame(suspect, good)
    assert found.accepted
    assert found.laid is not None
    assert not found.laid.in_time
    assert "order" in found.reason
    assert found.sureness < 1.0
    own = {round(one.start_s, 9): one.identifier for one in frames_of(suspect)}
    theirs = {round(one.start_s, 9): one.identifier for one in frames_of(good)}
    for mine_s, good_s in found.laid.pairs_s.tolist():
        assert own[round(mine_s, 9)] == theirs[round(good_s, 9)]
    assert found.fit > 0.97


def test_words_that_say_something_else_are_not_compared() -> None:
    """Data that differ by right stand in no difference: only what both say alike does."""
    good = bus(1)
    changed = (SCHEDULE[0], SCHEDULE[1], Slot(0x12, COMMANDER, lambda _: bytes([0x5A, 0xA5])), SCHEDULE[3])
    suspect = bus(1, schedule=changed)
    found = by_frame(suspect, good)
    assert found.accepted
    assert found.laid is not None
    apart = difference(suspect, good, found)
    values = apart.samples.block(0, apart.samples.size)
    assert np.nanmax(np.abs(values)) < 1.5, "noise and edges only"
    frame = next(one for one in frames_of(suspect) if one.identifier == 0x12)
    inside = np.array([0.5 * (one.start_s + one.stop_s) for one in frame.words])
    assert found.laid.is_fair(inside).tolist() == [True, True, True, False, False, False]


def test_unrelated_identifiers_too_few_frames_and_other_bit_rates_are_refused() -> None:
    good = bus(1)
    strange = tuple(Slot(0x05 + number, COMMANDER, lambda _: bytes([7])) for number in range(4))
    refused = by_frame(bus(2, schedule=strange), good)
    assert (refused.accepted, refused.sureness) == (False, 0.0)
    assert "same identifier" in refused.reason
    short = bus(1, seconds=0.02)
    assert "2 frames" in by_frame(short, good).reason
    slow = by_frame(bus(3, bit_rate=9600.0, slot_s=16e-3), good)
    assert not slow.accepted
    assert slow.stretch == pytest.approx(0.5, rel=1e-3)
    assert "bit rates differ" in slow.reason


@pytest.mark.parametrize("swap", [False, True])
def test_lost_frames_do_not_shift_the_pairing(swap: bool) -> None:
    rng = np.random.default_rng(5)
    starts = (np.arange(60) * 8e-3 + rng.normal(0, 1e-5, 60)).tolist()
    identifiers = [(0x10, 0x21, 0x12, 0x22, 0x05)[one % 5] for one in range(60)]
    kept = sorted(rng.choice(np.arange(10, 55), 30, replace=False).tolist())
    few = made([starts[one] - 0.05 for one in kept], [identifiers[one] for one in kept])
    many = made(starts, identifiers)
    pairs = paired(many, few) if swap else paired(few, many)
    mine, theirs = (pairs.other, pairs.own) if swap else (pairs.own, pairs.other)
    assert pairs.in_time
    # The schedule repeats: any whole number of its rounds is as good an answer.
    shifts = {theirs_at - kept[mine_at] for mine_at, theirs_at in zip(mine.tolist(), theirs.tolist(), strict=True)}
    assert len(shifts) == 1
    assert shifts.pop() % 5 == 0
    assert pairs.repeats_s == pytest.approx(0.04, abs=2e-3)


def test_the_nearest_of_equal_places_is_taken() -> None:
    identifiers = [(0x10, 0x21, 0x12)[one % 3] for one in range(30)]
    one = made([0.01 + 8e-3 * number for number in range(30)], identifiers)
    pairs = paired(one, one)
    assert np.array_equal(pairs.own, pairs.other)


def test_random_identifiers_are_no_schedule() -> None:
    """Two buses of the same few identifiers in random order: paired in order at most, and never sure of one shift."""
    wrong = 0
    for seed in range(100):
        rng = np.random.default_rng(seed)
        one, other = (made(np.sort(rng.uniform(0, 1, 60)).tolist(), rng.integers(0, 12, 60).tolist()) for _ in range(2))
        wrong += paired(one, other).in_time
    assert wrong == 0


def test_auto_goes_by_frame_on_a_bus_and_says_why(healthy: object, other_day: object) -> None:
    found = compare(healthy.far, other_day.near, kind="lin", conditions=CONDITIONS)  # type: ignore[attr-defined]
    assert found.lineup is not None
    assert (found.lineup.by, found.lineup.accepted) == ("frame", True)
    assert "LIN bus" in found.lineup.why
    asked = compare(healthy.far, other_day.near, kind="lin", conditions=CONDITIONS, by="shape")  # type: ignore[attr-defined]
    assert asked.lineup is not None
    assert (asked.lineup.by, asked.lineup.why) == ("shape", "")


def test_auto_without_readable_frames_goes_by_shape_and_says_why(healthy: object) -> None:
    good = healthy.far  # type: ignore[attr-defined]
    flat = replace(good, name="dead", samples=FloatSamples(np.full(good.samples.size, 11.8)))
    found = line_up_by(flat, good, Sides("LIN bus", "frame", (), frames_of(good)))
    assert (found.by, found.accepted) == ("shape", False)
    assert "'dead'" in found.why


def test_by_frame_is_refused_plainly_where_a_kind_has_none(make_bus: Callable[..., object]) -> None:
    good = bus(1)
    with pytest.raises(CannotUse, match="carries no frames"):
        compare(good, good, kind="own-limits", conditions=Conditions(upper_v=20.0), by="frame")


def test_a_healthy_wire_beside_another_schedule_drops_nothing() -> None:
    """Laid by itself, no frame's header is held against another's bits."""
    other = (SCHEDULE[2], SCHEDULE[0], SCHEDULE[3], SCHEDULE[1])
    good = bus(1, schedule=other, slot_s=11e-3, bit_rate=18_300.0)
    found = compare(bus(2, seconds=0.5), good, kind="lin", conditions=CONDITIONS)
    assert found.lineup is not None
    assert found.lineup.accepted
    assert found.lineup.laid is not None
    assert not found.lineup.laid.in_time
    assert (found.verdict.state, found.findings) == ("clean", ())
