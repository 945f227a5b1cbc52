"""Every example of a layout, read to its exact answer; what is no waveform refused with its reason."""

from pathlib import Path

import numpy as np
import pytest
from layout_examples import EXAMPLES, REFUSED, Example, Wire

from loomlight.signal.capture import Channel
from loomlight.signal.errors import FileProblem
from loomlight.storage.open_capture import open_capture
from loomlight.storage.reading_preview import preview


@pytest.mark.parametrize("example", EXAMPLES.values(), ids=EXAMPLES.keys())
def test_layout(tmp_path: Path, example: Example) -> None:
    path = tmp_path / "export.csv"
    path.write_bytes(example.content)
    capture = open_capture(path, reading=example.reading)
    assert [channel.name for channel in capture.channels] == [wire.name for wire in example.wires]
    for channel, wire in zip(capture.channels, example.wires, strict=True):
        _is_exact(channel, wire)
    notes = "\n".join(capture.notes)
    for words in example.notes:
        assert words in notes
    assert [question.about for question in preview(path, example.reading).questions] == list(example.asks)
    assert len(capture.questions) == len(example.asks)


def _is_exact(channel: Channel, wire: Wire) -> None:
    assert (channel.unit, channel.form, channel.samples.size) == (wire.unit, wire.form, wire.samples)
    assert (channel.gaps, channel.clipped, channel.segments) == (wire.gaps, wire.clipped, wire.segments)
    if wire.step_s is None:
        assert channel.step_s is None
        assert channel.times_s is not None
        assert channel.times_s[: len(wire.times_s)] == pytest.approx(wire.times_s, abs=1e-6)
    else:
        assert channel.step_s == pytest.approx(wire.step_s, rel=wire.step_within)
    assert channel.start_s == pytest.approx(wire.start_s, abs=1e-3 * (wire.step_s or 1.0))
    first = channel.samples.block(0, len(wire.first))
    assert first == pytest.approx(np.float32(wire.first), rel=1e-6, nan_ok=True)


@pytest.mark.parametrize(("content", "about"), REFUSED.values(), ids=REFUSED.keys())
def test_what_is_no_waveform_is_refused_with_its_reason(tmp_path: Path, content: bytes, about: str) -> None:
    path = tmp_path / "export.csv"
    path.write_bytes(content)
    with pytest.raises(FileProblem, match=about) as caught:
        open_capture(path)
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("export.csv")
