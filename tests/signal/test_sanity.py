"""Doubts about the measurement: raised where they should be, silent on a sound one, each with figures and what to do."""

from dataclasses import replace

import numpy as np
import pytest

from loomlight.signal import sanity
from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.levels import StateLevels
from loomlight.signal.samples import FloatSamples

SOUND = Channel("LIN", "V", FloatSamples(np.zeros(1000)), 0.0, 1e-6)


def levels(low: float, high: float) -> StateLevels:
    return StateLevels(True, low, high, 0.02, 0.02, low - 0.1, high + 0.1)


@pytest.mark.parametrize("high", [6.5, 11.2, 13.3, 18.0, 27.0, 36.0])
def test_levels_of_12_and_24_volt_buses_raise_no_doubt(high: float) -> None:
    assert sanity.scale_mismatch(levels(0.9, high), "LIN") is None
    assert sanity.ac_coupling(levels(0.9, high), "LIN") is None


@pytest.mark.parametrize(
    ("high", "about", "says"),
    [
        (1.2, "x10 mismatch", "10 times that would be a bus: ×10 on the probe but ×1 on the instrument"),
        (2.6, "x10 mismatch", "10 times"),
        (120.0, "x10 mismatch", "0.1 times that would be a bus: ×1 on the probe but ×10 on the instrument"),
        (260.0, "x10 mismatch", "0.1 times"),
        (4.0, "level implausible", "4 V, which no 12 V or 24 V bus does"),
        (60.0, "level implausible", "60 V"),
    ],
)
def test_levels_that_no_bus_has(high: float, about: str, says: str) -> None:
    doubt = sanity.scale_mismatch(levels(0.07 * high, high), "LIN")
    assert doubt is not None
    assert doubt.about == about
    assert says in doubt.text
    assert doubt.do


@pytest.mark.parametrize(
    ("low", "high", "about"),
    [(-6.0, 5.5, "AC coupling"), (-2.0, 9.5, "AC coupling"), (-12.0, -1.0, "upside down"), (-11.0, 0.0, "upside down")],
)
def test_a_line_that_goes_below_ground(low: float, high: float, about: str) -> None:
    doubt = sanity.ac_coupling(levels(low, high), "LIN")
    assert doubt is not None
    assert doubt.about == about
    assert f"{low:.3g} V" in doubt.text
    assert doubt.do


def test_a_small_ground_offset_is_no_ac_coupling() -> None:
    assert sanity.ac_coupling(levels(-0.4, 12.0), "LIN") is None


@pytest.mark.parametrize(("a_bit", "enough"), [(7.9, False), (8.0, True), (50.0, True)])
def test_samples_a_bit(a_bit: float, enough: bool) -> None:
    doubt = sanity.too_few_samples(a_bit, "LIN")
    assert (doubt is None) == enough
    assert doubt is None or f"{a_bit:.1f} samples a bit" in doubt.text


def test_samples_at_the_rail() -> None:
    some = replace(SOUND, clipped=((100, 110),))
    many = replace(SOUND, clipped=((100, 110), (200, 230)))
    assert sanity.clipped(some, 12.0) is None
    doubt = sanity.clipped(many, 12.0)
    assert doubt is not None
    assert "40 of 1000" in doubt.text


def test_gaps_over_half_of_the_channel() -> None:
    assert sanity.mostly_gaps(replace(SOUND, gaps=((0, 500),))) is None
    doubt = sanity.mostly_gaps(replace(SOUND, gaps=((0, 400), (500, 700))))
    assert doubt is not None
    assert "600 of 1000" in doubt.text


def test_units() -> None:
    assert sanity.unit_unknown(SOUND) is None
    assert sanity.unit_unknown(replace(SOUND, unit=None)) is not None
    sanity.require_volts(replace(SOUND, unit=None))
    for unit in ("counts", "A"):
        with pytest.raises(CannotUse, match=f"is in {unit}.*export"):
            sanity.require_volts(replace(SOUND, unit=unit))
