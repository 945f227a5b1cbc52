"""Is the measurement of a CAN channel sound?"""

import numpy as np

from loomlight.signal import sanity
from loomlight.signal.can_examination import PairReading
from loomlight.signal.can_odd_talkers import never_driven
from loomlight.signal.capture import Channel
from loomlight.signal.examination import Doubt

LEAST_SWING_V = 0.6
MEDIAN_STEPS = 5.0
"""Samples of the median dominant stretch, which is one to two bits long, where no frame tells the bit time."""


def doubts_of(channel: Channel, other: Channel | None, pair: PairReading) -> tuple[Doubt, ...]:
    """Reasons not to trust what was recorded; empty where it is sound."""
    found: list[Doubt | None] = []
    for one in (channel, other):
        if one is None:
            continue
        found += [sanity.unit_unknown(one), sanity.mostly_gaps(one), _clipped(one)]
    found += [_samples(channel, pair), _scale(channel, pair), _coupling(channel, pair)]
    return sanity.doubts_among(found)


def _clipped(channel: Channel) -> Doubt | None:
    count = sum(stop - start for start, stop in channel.clipped)
    if count <= sanity.RAIL_SHARE * channel.samples.size:
        return None
    return Doubt(
        "clipping",
        f"{count} of {channel.samples.size} samples of {channel.name!r} are beyond the instrument's range.",
        "Choose a larger range and repeat the capture.",
    )


def _samples(channel: Channel, pair: PairReading) -> Doubt | None:
    traffic = pair.traffic
    if traffic is None:
        return None
    if traffic.rates.is_sure:
        shortest_s = traffic.rates.clock.fast_bit_s or traffic.bit_s
        return sanity.too_few_samples(shortest_s / pair.axis.step_s, channel.name)
    spans = traffic.line.dominant_spans()
    rest = pair.wires.rest
    if rest is None or rest.above_v - rest.rest_v < LEAST_SWING_V or len(spans) < 50:
        return None
    if len(pair.odd.reversed_s) or len(pair.odd.together_s) or never_driven(pair) is not None:
        return None
    steps = float(np.median(spans[:, 1] - spans[:, 0])) / pair.axis.step_s
    return sanity.too_few_samples(steps, channel.name) if steps < MEDIAN_STEPS else None


def _scale(channel: Channel, pair: PairReading) -> Doubt | None:
    """Frames are read, and the levels are ten times off."""
    if not pair.frames_read or pair.wires.rest is None:
        return None
    swing = pair.wires.rest.above_v - pair.wires.rest.rest_v
    usual = 2.0 if pair.wires.form in ("both wires", "difference") else 1.0
    for factor, setting in sanity.FACTORS:
        rest_fits = pair.wires.form == "difference" or 1.5 < abs(_rest(pair)) * factor < 3.5
        if 0.7 * usual < swing * factor < 1.5 * usual and rest_fits:
            return sanity.factor_off(channel.name, f"swings by {swing:.3g} V", factor, "a CAN bus", setting)
    return None


def _rest(pair: PairReading) -> float:
    if pair.high_rest is not None and pair.low_rest is not None:
        return 0.5 * (pair.high_rest.rest_v + pair.low_rest.rest_v)
    return pair.rest_v


def _coupling(channel: Channel, pair: PairReading) -> Doubt | None:
    """A wire against ground never goes below 0 V on both sides of its rest: without its steady part it does."""
    if not pair.frames_read or pair.wires.form == "difference":
        return None
    rest, swing = _rest(pair), pair.wires.rest.above_v - pair.wires.rest.rest_v if pair.wires.rest is not None else 0.0
    low = float(np.median([one.low_v for one in pair.signatures])) if pair.signatures else rest
    is_off = (
        -0.9 * swing < rest < 0.0 if pair.wires.form == "CAN-H" else 0.0 < rest < 0.9 and pair.wires.form == "CAN-L"
    )
    if pair.wires.form == "both wires":
        is_off = abs(rest) < 0.4 and low < -0.5
    if not is_off or swing < 0.6:
        return None
    return Doubt(
        "AC coupling",
        f"{channel.name!r} rests at {rest:.2f} V and swings across 0 V: the input seems to be AC coupled.",
        "Set the input to DC coupling and repeat the capture.",
    )
