"""Each kind's sample captures are what their maker makes, stay small, and are judged as what they are."""

from pathlib import Path

import numpy as np
import pytest

from loomlight import sample_captures
from loomlight.sample_captures.kind_samples import SAMPLES, Sample, write_kind_samples
from loomlight.signal.comparison import check
from loomlight.storage.open_capture import open_capture

HERE = Path(sample_captures.__path__[0])


@pytest.fixture(scope="module")
def made_anew(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("samples")
    write_kind_samples(folder)
    return folder


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda one: one.file)
def test_the_same_again_and_small(sample: Sample, made_anew: Path) -> None:
    assert (HERE / sample.file).stat().st_size <= 300_000
    kept, again = (open_capture(folder / sample.file) for folder in (HERE, made_anew))
    assert [one.name for one in kept.channels] == [one.name for one in again.channels]
    for one, other in zip(kept.channels, again.channels, strict=True):
        assert np.array_equal(one.samples.block(0, one.samples.size), other.samples.block(0, other.samples.size))


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda one: one.file)
def test_judged_as_what_it_is(sample: Sample) -> None:
    made = sample.made()
    channel = open_capture(HERE / sample.file).channel(made.channel)
    found = check(channel, kind=sample.kind, conditions=made.conditions)
    assert found.verdict.state == ("faulty" if sample.fault else "clean")
    assert not made.expected or found.verdict.picture in made.expected
