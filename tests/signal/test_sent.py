"""SENT: tick, nibbles, checks, the slow channel, and what a technician is told."""

import numpy as np
import pytest

from loomlight.sample_captures.makers import sent
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples
from loomlight.signal.sent_decode import SentTraffic, decode
from loomlight.signal.sent_reading import SentExamination, SentReading
from loomlight.signal.sent_words import FORMS, Form, check_of, enhanced_check

TICK_S = 3e-6


def falls_of(frames: list[list[int]], *, tick_s: float = TICK_S, pause_ticks: float = 0.0) -> np.ndarray:
    """Falling edges of frames; a pause after each where wanted."""
    lengths: list[float] = []
    for nibbles in frames:
        lengths += [56.0, *(12.0 + one for one in nibbles)]
        lengths += [pause_ticks] if pause_ticks else []
    return np.concatenate([[0.0], np.cumsum(lengths)]) * tick_s


def frames_of(statuses: list[int], form: Form, *, data: int = 6) -> list[list[int]]:
    rng = np.random.default_rng(5)
    found = []
    for status in statuses:
        nibbles = rng.integers(0, 16, data).tolist()
        found.append([status, *nibbles, check_of(nibbles, form, status=status)])
    return found


def read(frames: list[list[int]], **more: float) -> SentTraffic:
    return decode(falls_of(frames, **more))  # type: ignore[arg-type]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("pause_ticks", [0.0, 12.0, 56.0, 300.0, 768.0])
@pytest.mark.parametrize("data", [1, 3, 6])
def test_form_pause_and_nibbles_are_found(form: Form, pause_ticks: float, data: int) -> None:
    frames = frames_of([number % 4 for number in range(24)], form, data=data)
    found = read(frames, pause_ticks=pause_ticks)
    assert (found.form, found.data_nibbles, found.has_pause) == (form, data, pause_ticks > 0)
    assert [list(one.nibbles) for one in found.frames] == frames
    assert found.tick_s == pytest.approx(TICK_S, rel=1e-9)


@pytest.mark.parametrize("tick_s", [2.5e-6, 10e-6, 90e-6])
def test_any_tick_is_found_also_where_all_nibbles_are_alike(tick_s: float) -> None:
    for nibble in (0, 15):
        frames = [[nibble] * 7 + [check_of([nibble] * 6, "recommended", status=nibble)]] * 12
        found = read(frames, tick_s=tick_s)
        assert found.tick_s == pytest.approx(tick_s, rel=1e-9)
        assert [one.state for one in found.frames] == ["good"] * 12


def test_a_short_slow_message_is_read_from_its_status_bits() -> None:
    identifier, value = 0x9, 0xA5
    bits = f"{identifier:04b}{value:08b}{check_of([identifier, value >> 4, value & 15], 'recommended'):04b}"
    statuses = [int(bit) << 2 | (8 if place == 0 else 0) for place, bit in enumerate(bits)]
    [message] = read(frames_of([0] * 3 + statuses + [0] * 2, "recommended")).slow
    assert (message.form, message.identifier, message.value, message.is_right) == ("short", identifier, value, True)
    statuses[6] ^= 4
    [message] = read(frames_of([*statuses, 0], "recommended")).slow
    assert not message.is_right


def test_an_enhanced_slow_message_is_read() -> None:
    value, identifier = 0x7C3, 0x52
    bits_3 = [1, 1, 1, 1, 1, 1, 0, 0, *map(int, f"{identifier >> 4:04b}"), 0, *map(int, f"{identifier & 15:04b}"), 0]
    bits_2 = [int(bit) for bit in f"{value:012b}"]
    bits_2 = [int(bit) for bit in f"{enhanced_check(bits_2, bits_3[6:]):06b}"] + bits_2
    statuses = [two << 2 | three << 3 for two, three in zip(bits_2, bits_3, strict=True)]
    [message] = read(frames_of(statuses, "recommended")).slow
    assert (message.form, message.identifier, message.value, message.is_right) == ("enhanced", identifier, value, True)


def test_a_missing_pulse_is_found_in_its_frame() -> None:
    falls = falls_of(frames_of([0] * 10, "recommended"))
    found = decode(np.delete(falls, 4 * 9 + 5))
    assert [place for place, one in enumerate(found.frames) if one.state == "pulse missing"] == [4]


def test_a_capture_that_begins_and_ends_inside_a_frame() -> None:
    falls = falls_of(frames_of([0] * 10, "legacy"))
    for first in range(1, 9):
        found = decode(falls[first:-3])
        assert found.form == "legacy"
        assert [one.state for one in found.frames] == ["good"] * 8 + ["past the end"]


def test_noise_is_no_sent() -> None:
    rng = np.random.default_rng(1)
    assert decode(np.cumsum(rng.exponential(1e-5, 300))).form is None
    assert decode(np.empty(0)).tick_s is None
    assert decode(np.arange(50) * 1e-5).tick_s is None


def judged(channel: Channel, **settings: float) -> Comparison:
    return check(channel, kind="sent", conditions=Conditions(settings=tuple(settings.items())))


def reading(found: Comparison) -> SentReading:
    assert isinstance(found.looked, SentExamination)
    return found.looked.line


@pytest.mark.parametrize("seed", range(6))
def test_what_was_made_is_read(seed: int) -> None:
    made = sent.made("", np.random.default_rng((seed, 77)))
    found = judged(made.suspect)
    assert found.verdict.state == "clean", found.verdict.reasons
    traffic = reading(found).traffic
    assert traffic is not None
    assert traffic.tick_s == pytest.approx(made.truth["tick"], rel=2e-3)
    assert traffic.data_nibbles == made.truth["data"]
    assert traffic.form == sent.FORMS[int(made.truth["form"])]
    assert found.looked is not None
    assert {one.name for one in found.looked.tracks} >= {"tick"}
    assert all(np.isfinite(one.values).all() for one in found.looked.tracks)
    assert found.looked.frames
    assert found.looked.frames[0].words[0].text == "sync"


def test_a_tick_that_was_named_is_held_against_it() -> None:
    made = sent.made("", np.random.default_rng(4))
    tick_s = made.truth["tick"]
    assert judged(made.suspect, tick=tick_s * 1.15).verdict.state == "clean"
    off = judged(made.suspect, tick=tick_s * 1.5).verdict
    assert (off.state, off.picture) == ("faulty", "the sensor's clock is off")


def test_few_samples_a_tick_are_said() -> None:
    made = sent.made("", np.random.default_rng(4))
    slower = sent.made("", np.random.default_rng(4), samples_per_s=1.5 / made.truth["tick"])
    verdict = judged(slower.suspect).verdict
    assert verdict.state == "cannot tell"
    assert "samples a tick" in verdict.reasons[0]


def test_a_wrong_probe_factor_is_told_and_not_taken_for_a_short() -> None:
    made = sent.made("", np.random.default_rng(6))
    volts = made.suspect.samples.block(0, made.suspect.samples.size)
    tenth = Channel("x", "V", FloatSamples(volts / 10), 0.0, made.suspect.step_s)
    verdict = judged(tenth).verdict
    assert verdict.state == "cannot tell"
    assert "×10" in verdict.reasons[0]


def test_another_sensor_than_the_known_good_is_told() -> None:
    seeds = [seed for seed in range(40) if sent.made("", np.random.default_rng(seed)).truth["form"] == 0][:1]
    other = [seed for seed in range(40) if sent.made("", np.random.default_rng(seed)).truth["form"] == 1][:1]
    one, two = (sent.made("", np.random.default_rng(seed)).suspect for seed in (*seeds, *other))
    verdict = compare(one, two, kind="sent", conditions=Conditions()).verdict
    assert verdict.state == "clean"
    assert any("another sensor" in reason for reason in verdict.reasons)


def test_flat_lines_say_what_they_may_be() -> None:
    def flat(volts: float) -> Comparison:
        noisy = volts + np.random.default_rng(1).normal(0, 0.01, 5000)
        return judged(Channel("x", "V", FloatSamples(noisy), 0.0, 1e-6))

    assert flat(12.4).verdict.short_to == "battery"
    assert "nobody drives it" in flat(5.0).verdict.reasons[0]
    assert flat(0.02).verdict.state == "cannot tell"
    assert flat(2.5).verdict.state == "cannot tell"
