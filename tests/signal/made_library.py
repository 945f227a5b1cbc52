"""A made library of many thousand entries, each worked out anew from its number whenever it is opened.

An entry is a signal that goes on before and after what was recorded of it, so that a query is another recording of the
same: begun earlier or later, of another length, at another sample rate, with its own gain, offset and noise. Entries of
one sort differ in what a technician would tell them apart by: bit rate and schedule, period and duty, teeth and speed.
"""

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from made_bus_signals import can_bits, k_line, lin, sent_nibbles
from made_pulse_signals import cam_pattern, pwm, pwm_moving, toothed_wheel, wheel_speed
from made_signals import Made
from made_slow_signals import chirp, coil, cranking, injector, ramps, ripple, sensor_curve

from loomlight.signal.capture import Channel
from loomlight.signal.samples import FloatSamples

ENTRY_DB = 30.0

SORTS: tuple[Callable[[np.random.Generator], Made], ...] = (
    lin,
    can_bits,
    k_line,
    sent_nibbles,
    pwm,
    pwm_moving,
    toothed_wheel,
    cam_pattern,
    wheel_speed,
    ripple,
    cranking,
    ramps,
    sensor_curve,
    chirp,
    injector,
    coil,
)


def sort_of(number: int) -> str:
    """Which sort of signal an entry is."""
    return SORTS[number % len(SORTS)].__name__


@lru_cache(maxsize=64)
def made(seed: int, number: int) -> Made:
    """The signal of an entry."""
    return SORTS[number % len(SORTS)](np.random.default_rng([seed, number]))


def recorded(
    one: Made,
    rng: np.random.Generator,
    *,
    start: float,
    length: float,
    rate: float,
    gain: float,
    offset: float,
    db: float,
) -> Channel:
    """A recording: start and length as shares of the entry's, the rate as times the entry's."""
    step_s = one.length_s / one.samples / rate
    count = max(64, round(length * one.samples * rate))
    times_s = start * one.length_s + step_s * np.arange(count)
    values = one.signal(times_s)
    noise = float(values.std()) * 10 ** (-db / 20)
    values = gain * (values + rng.normal(0, noise, count)) + offset
    return Channel("x", "V", FloatSamples(values), float(rng.uniform(-1, 1)) * one.length_s, step_s)


def entry(seed: int, number: int) -> Channel:
    """What the library holds: cut out of the signal, with little noise."""
    rng = np.random.default_rng([seed, number, 1])
    return recorded(made(seed, number), rng, start=0.0, length=1.0, rate=1.0, gain=1.0, offset=0.0, db=ENTRY_DB)


def query(seed: int, number: int, turn: int = 0) -> Channel:
    """Another recording of an entry's signal: 10 to 20 dB of noise, shifted, longer or shorter, another rate and gain."""
    rng = np.random.default_rng([seed, number, 2, turn])
    length = rng.uniform(0.7, 1.3)
    return recorded(
        made(seed, number),
        rng,
        start=rng.uniform(-0.3, 0.3) + 0.5 * (1.0 - length),
        length=length,
        rate=2 ** rng.uniform(-1.0, 1.0),
        gain=2 ** rng.uniform(-2, 2),
        offset=float(rng.normal(0, 5)),
        db=rng.uniform(10, 20),
    )
