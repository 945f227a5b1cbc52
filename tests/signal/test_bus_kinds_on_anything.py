"""K-line, SENT and the slow CAN kinds are asked about every kind of signal: they answer, and call no other wire clean."""

import numpy as np
import pytest
from made_pairs import UNRELATED, channel

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import check
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

KINDS = ("k-line", "sent", "can-single-wire", "can-low-speed")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("make", UNRELATED, ids=lambda make: make.__name__)
def test_any_signal_is_answered(kind: str, make: object) -> None:
    rng = np.random.default_rng(9)
    for scale, step_s in ((1.0, 1e-6), (0.4, 1e-5), (-1.0, 4e-6)):
        values = scale * make(rng, 12_000)  # type: ignore[operator]
        whole = channel(values)
        found = check(Channel("x", "V", whole.samples, -0.5, step_s), kind=kind, conditions=Conditions())
        assert found.verdict.reasons
        assert all(one.start_s <= one.stop_s for one in found.findings)


@pytest.mark.parametrize("kind", KINDS)
def test_short_flat_and_unknown_samples(kind: str) -> None:
    for values in ([], [1.0], [1.0, 2.0], [np.nan] * 50, [0.0] * 50, [0.0, np.inf, 5.0] * 40, [0.0, 5.0] * 200):
        found = check(Channel("x", "V", FloatSamples(values), 0.0, 1e-6), kind=kind, conditions=Conditions())
        assert found.verdict.state != "clean"
