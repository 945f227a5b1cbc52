"""Which of the three CAN buses a wire with CAN frames is: by bit rate, by where it rests and by how far its talkers pull it."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal.wire_frames import Frames

NEAR = 0.03
"""A bit rate this near to a usual one is that one: 1.5 % is allowed, and a little is the measurement's."""
RATES: dict[str, tuple[tuple[float, float], ...]] = {
    "can": ((500e3, 0.5), (250e3, 0.2), (125e3, 0.14), (1e6, 0.1), (100e3, 0.01), (83_333.0, 0.01), (33_333.0, 0.003)),
    "can-low-speed": ((125e3, 0.65), (100e3, 0.25), (83_333.0, 0.02), (50e3, 0.03), (33_333.0, 0.003)),
    "can-single-wire": ((33_333.0, 0.7), (83_333.0, 0.3)),
}
"""Usual rates and how often each is met: single-wire CAN has two (SAE J2411), low-speed CAN goes up to 125 kbit/s
(ISO 11898-3); how often is common practice, no source."""
OTHER_RATE = {"can": 0.01, "can-low-speed": 0.004, "can-single-wire": 0.0005}
FASTEST_LOW_SPEED = 130e3


@dataclass(frozen=True)
class _Stand:
    """Where a wire rests and where its talkers bring it, volts, how far either may be off, and how often that is met."""

    rest: float
    active: float
    rest_off: float
    active_off: float
    often: float


STANDS: dict[str, tuple[_Stand, ...]] = {
    # ISO 11898-2: both wires about 2.5 V, 1.5 to 3 V between them; then what shorts and open wires leave.
    "can": (
        _Stand(2.5, 3.5, 0.25, 0.3, 0.3),
        _Stand(2.5, 1.5, 0.25, 0.3, 0.3),
        _Stand(0.0, 2.1, 0.15, 0.4, 0.25),
        _Stand(2.3, 3.5, 0.8, 0.9, 0.05),
        _Stand(2.3, 1.3, 0.8, 0.9, 0.05),
        _Stand(0.0, 3.5, 0.2, 0.4, 0.04),
        _Stand(13.0, 12.0, 2.0, 3.0, 0.03),
    ),
    # ISO 11898-3: CANH from 0 V to 3.6 V and more, CANL from 5 V to 1.4 V and less.
    "can-low-speed": (
        _Stand(0.0, 4.2, 0.2, 0.3, 0.45),
        _Stand(5.0, 0.8, 0.2, 0.35, 0.45),
        _Stand(0.7, 3.9, 0.6, 0.7, 0.06),
        _Stand(4.3, 1.0, 0.6, 0.7, 0.06),
    ),
    # SAE J2411: from ground to about 4 V, and nearly to the battery's volts to wake.
    "can-single-wire": (
        _Stand(0.0, 4.1, 0.25, 0.4, 0.5),
        _Stand(0.0, 12.0, 0.3, 1.5, 0.1),
        _Stand(0.3, 3.5, 0.8, 1.5, 0.3),
        _Stand(0.1, 1.2, 0.3, 1.0, 0.1),
    ),
}
ANYWHERE = {"can": 1e-3, "can-low-speed": 1e-4, "can-single-wire": 4e-4}
"""A fault may bring any levels: density per square volt. A shorted wire of a high-speed pair is still moved by the other's
current; low-speed drivers give up."""
STILL_V, STILL_DENSITY = 0.15, 3e-4


def told_apart(frames: Frames) -> dict[str, tuple[float, str]]:
    """How likely each CAN kind is, the three together 1, with what speaks for it.

    Parameters
    ----------
    frames : Frames
        CAN frames with a right check.
    """
    rate = 1.0 / frames.bit_s
    weights = {key: _of_rate(key, rate) * _of_levels(key, frames) for key in STANDS}
    whole = sum(weights.values())
    ohms = f"{frames.rest:.1f} V at rest, {frames.active:.1f} V dominant"
    return {
        key: (weight / whole, f"{rate / 1e3:.4g} kbit/s, {ohms}, as {WORDS[key]} has them")
        for key, weight in weights.items()
    }


WORDS = {
    "can": "high-speed CAN",
    "can-low-speed": "low-speed CAN",
    "can-single-wire": "single-wire CAN",
}


def _of_rate(key: str, rate: float) -> float:
    if key == "can-low-speed" and rate > FASTEST_LOW_SPEED:
        return 1e-6
    near = [often for usual, often in RATES[key] if abs(rate / usual - 1.0) < NEAR]
    return near[0] if near else OTHER_RATE[key]


def _of_levels(key: str, frames: Frames) -> float:
    density = ANYWHERE[key]
    if key == "can-low-speed" and abs(frames.active - frames.rest) < STILL_V:
        density = STILL_DENSITY  # its drivers have given up: a shorted wire hardly moves
    for one in STANDS[key]:
        rest = (frames.rest - one.rest) / one.rest_off
        active = (frames.active - one.active) / one.active_off
        density += (
            one.often * float(np.exp(-0.5 * (rest**2 + active**2))) / (one.rest_off * one.active_off * 2.0 * np.pi)
        )
    return density
