"""An entry's envelope: from its confirmed captures, with an odd one pointed out and a new one weighed before it counts."""

import numpy as np
import pytest

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import compare
from loomlight.signal.entry_envelope import envelope_for, with_one_to_confirm
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples

ALONE = Conditions(upper_v=1e9)


def captured(seed: int, *, lift: float = 0.0, at_s: float = 0.0, blip: float = 0.0) -> Channel:
    """Pulses of uneven lengths on 12 V, with noise; ``blip`` volts are added in one of them."""
    rng = np.random.default_rng(seed)
    times_s = np.arange(8000) * 1e-5 + at_s
    edges = np.cumsum(np.random.default_rng(7).uniform(0.0008, 0.004, 60))
    volts = np.where(np.searchsorted(edges, times_s) % 2, 11.5, 1.0) + lift * (times_s > 0.03)
    volts += blip * ((times_s > 0.05) & (times_s < 0.0515))
    return Channel("pulse", "V", FloatSamples(volts + rng.normal(0, 0.03, times_s.size)), 0.0, 1e-5)


def test_one_capture_makes_none() -> None:
    assert envelope_for([captured(0)], "own-limits", ALONE).envelope is None


def test_confirmed_captures_make_a_band_that_comparing_uses() -> None:
    good = [captured(seed, lift=lift) for seed, lift in enumerate((0.0, 0.1, -0.1, 0.05))]
    known = envelope_for(good, "own-limits", ALONE)
    assert known.envelope is not None
    assert known.envelope.captures == 4
    assert "4 good captures" in known.told[0]

    def beyond(suspect: Channel) -> int:
        found = compare(suspect, good[0], kind="own-limits", conditions=ALONE, envelope=known.envelope)
        return sum(one.kind == "out of band" for one in found.findings)

    assert beyond(captured(50, lift=0.05)) == 0
    assert beyond(captured(51, blip=2.0)) > 0


def test_what_cannot_be_laid_is_told() -> None:
    rng = np.random.default_rng(3)
    noise = Channel("noise", "V", FloatSamples(rng.normal(6, 3, 8000)), 0.0, 1e-5)
    known = envelope_for([captured(0), noise], "own-limits", ALONE)
    assert known.envelope is None
    assert known.told[0].startswith("No envelope.")
    assert "would not count" in with_one_to_confirm([captured(0), captured(1)], noise, "own-limits", ALONE)


@pytest.mark.parametrize(("lift", "odd"), [(0.02, False), (4.0, True)])
def test_a_new_one_is_weighed_before_it_counts(lift: float, odd: bool) -> None:
    good = [captured(seed) for seed in range(4)]
    told = with_one_to_confirm(good, captured(9, lift=lift), "own-limits", ALONE)
    assert told.startswith("If the newest capture is confirmed")
    assert ("odd" in told) == odd
