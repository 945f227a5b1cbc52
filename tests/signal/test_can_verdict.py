"""What is measured and said of a CAN pair: figures against the made truth, frames in rows, one wire alone, unsound captures."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.sample_captures.makers import can
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples


def case_of(seed: int, **changed: object) -> can.Case:
    case = can.healthy(np.random.default_rng(seed), fd=bool(changed.pop("fd", False)))
    return replace(case, **({"recorded": "both wires"} | changed))  # type: ignore[arg-type]


def judged(capture: Capture) -> Comparison:
    return check(capture.channels[0], kind="can", conditions=Conditions(besides=can.besides(capture)))


def figure(found: Comparison, name: str) -> float:
    assert found.looked is not None
    (value,) = [one.value for one in found.looked.measures if one.name == name]
    assert value is not None
    return value


@pytest.fixture(scope="module")
def sound() -> tuple[can.Case, can.Recording, Comparison]:
    case = case_of(3)
    made = can.recording(case, np.random.default_rng(5))
    return case, made, judged(made.capture)


def test_levels_are_the_circuits(sound: tuple[can.Case, can.Recording, Comparison]) -> None:
    case, made, found = sound
    assert found.looked is not None
    for one in found.looked.pair.signatures:  # type: ignore[attr-defined]
        node = next(sent.node for sent in made.sent if sent.frame.identifier == one.identifier)
        high, low = case.bus.steady(1 << node)[0]
        # Both probes' gain (0.4 %) and offset (15 mV) are in it.
        assert one.difference_v == pytest.approx(high - low, abs=0.05)
        assert one.common_v == pytest.approx(0.5 * (high + low), abs=0.06)
    assert figure(found, "level in acknowledge") > figure(found, "difference dominant, highest identifier")


def test_times_are_the_plans(sound: tuple[can.Case, can.Recording, Comparison]) -> None:
    case, made, found = sound
    assert figure(found, "bit rate") == pytest.approx(1.0 / case.plan.bit_s, rel=2e-3)
    assert found.bus is not None
    assert found.bus.load is not None
    start_s, stop_s = (made.capture.channels[0].start_s, made.capture.channels[0].stop_s)
    busy = sum(min(one.stop_s, stop_s) - max(one.start_s, start_s) for one in made.sent)
    assert found.bus.load == pytest.approx(busy / (stop_s - start_s), abs=0.06)
    assert figure(found, "jitter of edges to dominant") < 0.5 * case.step_s


def test_every_frame_has_its_row_and_words(sound: tuple[can.Case, can.Recording, Comparison]) -> None:
    _, made, found = sound
    assert found.looked is not None
    rows = {round(row.start_s * 1e7): row for row in found.looked.frames}
    whole = [one for one in made.sent[1:-1] if one.end == "good"]
    assert len(whole) > 5
    for one in whole:
        row = min(rows.values(), key=lambda own: abs(own.start_s - one.start_s))
        assert row.data == one.frame.data.hex(" ").upper()
        assert int(row.identifier, 16) == one.frame.identifier
        texts = [word.text for word in row.words]
        assert texts[0] == f"id {row.identifier[2:]}"
        assert [text for text in texts if len(text) == 2] == row.data.split()
        assert texts[-2:] == ["ack", "end"]


def test_an_fd_sample_point_is_read_off_the_rate_switch() -> None:
    case = case_of(3, fd=True)
    plan = replace(case.plan, sample_point=0.75, fast_sample_point=0.7, fast_bit_s=0.25 * case.plan.bit_s)
    case = replace(case, plan=plan, step_s=case.plan.bit_s / 80, count=90_000)
    found = judged(can.recording(case, np.random.default_rng(2)).capture)
    assert figure(found, "senders' sample point") == pytest.approx(0.75, abs=0.02)
    assert figure(found, "bit rate of the data phase") == pytest.approx(4.0 / case.plan.bit_s, rel=5e-3)


@pytest.mark.parametrize("wire", ["CAN-H", "CAN-L", "difference"])
def test_one_channel_is_enough_and_says_what_it_cannot_tell(wire: str) -> None:
    found = judged(can.recording(case_of(3, recorded=wire), np.random.default_rng(5)).capture)
    assert found.verdict.state == "clean"
    assert any("alone" in one for one in found.verdict.reasons)


def test_frames_line_up_with_the_known_good_of_another_day() -> None:
    case = case_of(3)
    one, other = (can.recording(case, np.random.default_rng(seed)).capture for seed in (5, 6))
    found = compare(
        one.channels[0],
        other.channels[0],
        kind="can",
        conditions=Conditions(besides=can.besides(one)),
        good_besides=can.besides(other),
    )
    assert found.lineup is not None
    assert (found.lineup.accepted, found.lineup.by) == (True, "frame")
    assert found.verdict.state == "clean"
    assert any("known-good" in reason for reason in found.verdict.reasons)


def test_swapped_channels_are_told_by_their_names() -> None:
    capture = can.recording(case_of(3), np.random.default_rng(5)).capture
    high, low = capture.channels
    turned = Capture("x", "x", (replace(high, name="CAN-L"), replace(low, name="CAN-H")))
    assert any("exchanged at this connector" in one for one in judged(turned).verdict.reasons)


def scaled(channel: Channel, gain: float, offset: float = 0.0, *, name: str = "") -> Channel:
    values = channel.samples.block(0, channel.samples.size) * np.float32(gain) + np.float32(offset)
    return replace(channel, samples=FloatSamples(values), name=name or channel.name)


def test_unsound_captures_are_not_judged() -> None:
    (high,) = can.recording(case_of(3, recorded="CAN-H"), np.random.default_rng(5)).capture.channels
    for channel, about in (
        (scaled(high, 0.1), "x10 mismatch"),
        (scaled(high, 1.0, -2.9), "AC coupling"),
        (replace(high, unit=None), "unit unknown"),
    ):
        found = check(channel, kind="can", conditions=Conditions())
        assert found.looked is not None
        assert about in [one.about for one in found.looked.doubts]
        assert found.verdict.state == "cannot tell"


def test_fewer_samples_than_are_needed_are_said() -> None:
    case = case_of(3, recorded="difference")
    case = replace(case, step_s=case.plan.bit_s / 6, count=12_000)
    (channel,) = can.recording(case, np.random.default_rng(5)).capture.channels
    found = check(channel, kind="can", conditions=Conditions())
    assert found.verdict.state == "cannot tell"
    assert "samples a bit" in found.verdict.reasons[0]


def test_the_other_wire_must_belong_to_the_recording() -> None:
    high, low = can.recording(case_of(3), np.random.default_rng(5)).capture.channels
    other = replace(low, step_s=2 * low.step_s)  # type: ignore[operator]
    with pytest.raises(CannotUse, match="not recorded together"):
        check(high, kind="can", conditions=Conditions(besides=(Beside(can.OTHER_WIRE, other),)))


def test_a_quiet_pair_is_not_called_faulty() -> None:
    rng = np.random.default_rng(1)
    for rest in (0.0, 2.5):
        volts = [FloatSamples(rest + 0.005 * rng.normal(size=20_000)) for _ in range(2)]
        high, low = (Channel(name, "V", own, 0.0, 1e-7) for name, own in zip(("CAN-H", "CAN-L"), volts, strict=True))
        found = check(high, kind="can", conditions=Conditions(besides=(Beside(can.OTHER_WIRE, low),)))
        assert found.verdict.state == "cannot tell"
        assert found.verdict.next_step
