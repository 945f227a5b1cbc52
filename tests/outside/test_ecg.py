"""An open record: the electrocardiogram that PyWavelets ships as ``pywt.data.ecg()``."""

import numpy as np
import pytest
import pywt.data

from loomlight.signal.correlate import matches

pytestmark = pytest.mark.outside


def test_one_beat_finds_the_others() -> None:
    record = pywt.data.ecg().astype(np.float64)
    peaks = (
        np.flatnonzero(
            (record[1:-1] > record[:-2]) & (record[1:-1] >= record[2:]) & (record[1:-1] > 0.6 * record.max())
        )
        + 1
    )
    beat = int(peaks[0])
    reach = 40
    found = matches(record[beat - reach : beat + reach], record, least_fit=0.8)
    places = sorted(place + reach for place, _ in found)
    assert found[0][0] + reach == beat
    assert found[0][1] == pytest.approx(1.0)
    # The other beats stand at about samples 190, 518 and 848.
    for wanted in (190, 518, 848):
        assert min(abs(place - wanted) for place in places) <= 6
