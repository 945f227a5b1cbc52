"""LIN frames as rows: what was said, who said it, what was wrong and where it stands."""

from typing import Any

import numpy as np
import pytest

from loomlight.sample_captures.make_samples import LOW_V, SOLVE_S, record
from loomlight.signal.capture import Channel
from loomlight.signal.circuit import LinBus
from loomlight.signal.examination import Conditions
from loomlight.signal.frame_table import COLUMNS, FrameRow, cells_of, columns_of
from loomlight.signal.kinds.lin import LIN
from loomlight.signal.samples import FloatSamples


@pytest.fixture(scope="module")
def sent() -> Any:
    return record(LinBus(), series_ohm=0.02, seconds=0.05, first_round=0)


def rows_of(volts: np.ndarray) -> tuple[FrameRow, ...]:
    noisy = volts[::2] + np.random.default_rng(0).normal(0.0, 0.01, volts[::2].size)
    channel = Channel("LIN", "V", FloatSamples(noisy), 0.0, 2 * SOLVE_S)
    return LIN.examine(channel, Conditions()).frames


def test_rows_say_what_was_sent(sent: Any) -> None:
    near, _, traffic = sent
    rows = rows_of(near)
    assert [row.identifier for row in rows] == [f"{frame.frame_id:#04x}" for frame in traffic.frames]
    assert [bytes.fromhex(row.data) for row in rows] == [frame.data for frame in traffic.frames]
    assert all(row.check.endswith("enhanced") and row.talker == f"response {row.identifier}" for row in rows)
    assert all(row.state == "good" and not row.problem for row in rows)


def test_words_tile_the_frame_in_order(sent: Any) -> None:
    near, _, traffic = sent
    for row, frame in zip(rows_of(near), traffic.frames, strict=True):
        texts = [word.text for word in row.words]
        assert texts[:3] == ["break 13", "sync", f"id {frame.frame_id:02X}"]
        assert texts[3:-1] == [f"{value:02X}" for value in frame.data]
        assert texts[-1].startswith("check ")
        assert all(one.stop_s <= other.start_s + 2e-6 for one, other in zip(row.words, row.words[1:], strict=False))
        assert row.words[0].start_s == row.start_s
        assert row.words[-1].stop_s == pytest.approx(row.stop_s)
        assert not any(word.is_wrong for word in row.words)


def test_a_byte_that_lost_its_stop_bit_is_marked(sent: Any) -> None:
    near, _, traffic = sent
    frame = traffic.frames[1]
    bit_s = 1 / 19_200
    clean = rows_of(near)[1]
    second = clean.words[4]  # break, sync, identifier, first byte, second byte
    volts = near.copy()
    first, last = (round((second.start_s + share * bit_s) / SOLVE_S) for share in (8.8, 10.6))
    volts[first:last] = 1.2
    row = next(one for one in rows_of(volts) if abs(one.start_s - frame.start_s) < 1e-4)
    assert row.state != "good"
    assert [word.text for word in row.words if word.is_wrong]
    assert "byte 3" in row.problem
    assert row.words[4].is_wrong


def test_a_header_that_cannot_be_read_has_a_row(sent: Any) -> None:
    near, _, traffic = sent
    volts = near.copy()
    begin = round((traffic.frames[2].start_s + 14.5 / 19_200) / SOLVE_S)
    volts[begin : begin + round(6 / 19_200 / SOLVE_S)] = 11.8  # the sync field is gone
    rows = rows_of(volts)
    torn = [row for row in rows if row.state == "header error"]
    assert torn
    assert len(rows) == len(traffic.frames)


def test_cells_stand_in_the_order_of_the_head() -> None:
    row = FrameRow(0.0123456789, 0.0133, "0x21", "3F 00", "A1 enhanced", "response 0x21", "good", "")
    assert dict(zip(COLUMNS, cells_of(row), strict=True)) == {
        "start, s": "0.012345679",
        "duration, s": "0.000954321",
        "identifier": "0x21",
        "data": "3F 00",
        "checksum": "A1 enhanced",
        "talker": "response 0x21",
        "state": "good",
        "problem": "",
    }


def test_each_frame_has_the_levels_of_who_drove_it(sent: Any) -> None:
    near, _, traffic = sent
    rows = rows_of(near)
    columns = columns_of(rows)
    assert columns[len(COLUMNS) :] == (
        "header dominant, V",
        "header recessive, V",
        "answer dominant, V",
        "answer recessive, V",
    )
    driver_ohm, pull_ohm = LinBus().driver_ohm, 1.0 / LinBus().near_siemens
    for row, frame in zip(rows, traffic.frames, strict=True):
        header_v, header_up_v, answer_v, answer_up_v = (float(one) for one in cells_of(row, columns)[len(COLUMNS) :])
        for volts, talker in ((header_v, "commander"), (answer_v, frame.talker)):
            low_v = LOW_V[talker] + (LinBus().top_v - LOW_V[talker]) * driver_ohm / (driver_ohm + pull_ohm)
            assert volts == pytest.approx(low_v, abs=0.05)
        assert header_up_v == pytest.approx(LinBus().top_v, abs=0.05)
        assert answer_up_v == pytest.approx(LinBus().top_v, abs=0.05)


def test_a_part_that_does_not_settle_has_an_empty_cell() -> None:
    row = FrameRow(0.0, 1.0, "0x21", "", "", "", "good", "", figures=(("answer dominant, V", None),))
    assert cells_of(row, columns_of([row]))[-1] == ""
