"""Files spoilt in one place among their data: the axis is right, or known to be uneven, or the file is refused.

A wrong axis that is not told is the worst thing that could happen: every delay and every bit time would be wrong with it.
"""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from layout_examples import EXAMPLES, REFUSED, Example
from test_reading import READINGS

from loomlight.signal.capture import Channel
from loomlight.signal.errors import LoomlightError
from loomlight.storage.open_capture import open_capture
from loomlight.storage.reading import Reading
from loomlight.storage.reading_preview import preview

SEED = 20
ROUNDS, FULL_ROUNDS = 3, 60
DATA_FROM = 0.6
"""The last part of each example holds rows of data only."""
INSERTED = b',;.\t- \n0e"'
EXACT = {name: one for name, one in EXAMPLES.items() if any(wire.step_s is not None for wire in one.wires)}


def spoilt(content: bytes, rng: np.random.Generator) -> bytes:
    place = int(rng.integers(int(DATA_FROM * len(content)), len(content)))
    head, tail = content[:place], content[place:]
    kind = int(rng.integers(0, 6))
    if kind == 0:  # another digit
        digits = [at for at, byte in enumerate(tail) if chr(byte).isdecimal()] or [0]
        at = int(rng.choice(digits))
        return head + tail[:at] + b"%d" % rng.integers(0, 10) + tail[at + 1 :]
    if kind == 1:  # a sign lost
        return head + tail[1:]
    if kind == 2:  # a sign too many
        at = int(rng.integers(0, len(INSERTED)))
        return head + INSERTED[at : at + 1] + tail
    if kind == 3:  # the end lost
        return head
    lines = content.split(b"\n")
    at = int(rng.integers(int(DATA_FROM * len(lines)), len(lines)))
    return b"\n".join([*lines[:at], *([lines[at]] * 2 if kind == 4 else []), *lines[at + 1 :]])


def is_right(channel: Channel, example: Example) -> bool:
    """Step and start of one of the example's channels, or no step at all."""
    if channel.step_s is None:
        return True
    return any(
        wire.step_s is not None
        and abs(channel.step_s - wire.step_s) <= max(0.011, 3 * wire.step_within) * wire.step_s
        and abs(channel.start_s - wire.start_s) <= 1.01 * wire.step_s
        for wire in example.wires
    )


def survive(folder: Path, example: Example, rounds: int) -> int:
    rng = np.random.default_rng(SEED)
    path = folder / "export.csv"
    read = 0
    for _ in range(rounds):
        path.write_bytes(spoilt(example.content, rng))
        try:
            capture = open_capture(path, reading=example.reading)
        except LoomlightError:
            continue
        read += 1
        for channel in capture.channels:
            assert is_right(channel, example), (channel, capture.notes, path.read_bytes())
    return read


@pytest.mark.parametrize("example", EXACT.values(), ids=EXACT.keys())
def test_no_wrong_axis(tmp_path: Path, example: Example) -> None:
    survive(tmp_path, example, ROUNDS)


@pytest.mark.long
@pytest.mark.parametrize("example", EXACT.values(), ids=EXACT.keys())
def test_no_wrong_axis_full(tmp_path: Path, example: Example) -> None:
    assert survive(tmp_path, example, FULL_ROUNDS) > 0


CONTENTS = [*(one.content for one in EXAMPLES.values()), *(content for content, _ in REFUSED.values())]


@given(READINGS)
@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_answer_about_any_file_ends_in_a_capture_or_one_line(tmp_path: Path, reading: Reading) -> None:
    path = tmp_path / "export.csv"
    for content in CONTENTS[hash(reading) % 7 :: 7]:
        path.write_bytes(content)
        for read in (lambda: open_capture(path, reading=reading), lambda: preview(path, reading)):
            said = ""
            try:
                read()
            except LoomlightError as error:
                said = str(error)
            assert "\n" not in said
