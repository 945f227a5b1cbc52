"""Made pulse signals: PWM, toothed wheels and wheel speed, each with a period, a pattern and a speed of its own."""

from collections.abc import Callable

import numpy as np
from made_signals import Made, Row, span, turns_of, two_states, wander


def _pulse_train(rng: np.random.Generator, duty_of: Callable[[Row], Row], periods: float, period_s: float) -> Made:
    length_s = periods * period_s
    begin_s, stop_s = span(length_s)
    starts = np.arange(begin_s, stop_s, period_s)
    duty = duty_of(starts)
    edges = np.column_stack([starts, starts + duty * period_s]).ravel()
    signal = two_states(rng, edges, period_s * float(min(duty.min(), 1 - duty.max())), high=rng.uniform(3, 14))
    return Made(signal, length_s, int(periods * rng.uniform(40, 160)))


def pwm(rng: np.random.Generator) -> Made:
    """A fixed frequency and a fixed duty."""
    duty = rng.uniform(0.08, 0.92)
    return _pulse_train(rng, lambda at: np.full(at.size, duty), rng.uniform(40, 250), 10 ** rng.uniform(-4.3, -1.5))


def pwm_moving(rng: np.random.Generator) -> Made:
    """A fixed frequency whose duty is moved about."""
    period_s, periods = 10 ** rng.uniform(-4, -1.7), rng.uniform(60, 250)
    drawn = wander(rng, periods * period_s, knots=rng.uniform(3, 14), low=0.15, high=0.85)
    return _pulse_train(rng, drawn, periods, period_s)


def toothed_wheel(rng: np.random.Generator) -> Made:
    """An inductive sensor over teeth with some left out."""
    teeth, gone = ((60, 2), (36, 1), (36, 2), (58, 2), (30, 1), (24, 1))[int(rng.integers(6))]
    hertz = 10 ** rng.uniform(0.7, 1.9)
    length_s = rng.uniform(3, 9) / hertz
    turns = turns_of(rng, length_s, hertz, rng.uniform(0.005, 0.08))
    sharp = rng.uniform(0.0, 0.5)

    def signal(times_s: Row) -> Row:
        angle = turns(times_s) % 1.0 * teeth
        wave = np.sin(2 * np.pi * angle) + sharp * np.sin(4 * np.pi * angle)
        return 3.0 * np.where(angle < teeth - gone, wave, 0.0)

    return Made(signal, length_s, int(length_s * hertz * teeth * rng.uniform(16, 60)))


def cam_pattern(rng: np.random.Generator) -> Made:
    """A Hall sensor on a wheel with a few unequal segments."""
    hertz = 10 ** rng.uniform(0.6, 1.8)
    length_s = rng.uniform(4, 16) / hertz
    turns = turns_of(rng, length_s, hertz, rng.uniform(0.003, 0.05))
    bounds = np.sort(rng.uniform(0, 1, 2 * int(rng.integers(2, 6))))
    edge = rng.uniform(0.001, 0.004)

    def signal(times_s: Row) -> Row:
        angle = turns(times_s) % 1.0
        total = np.zeros(times_s.size)
        for place, bound in enumerate(bounds.tolist()):
            total += (1 - 2 * (place % 2)) * np.clip((angle - bound) / edge, 0, 1)
        return 5.0 * total

    return Made(signal, length_s, int(rng.uniform(8_000, 40_000)))


def wheel_speed(rng: np.random.Generator) -> Made:
    """An active wheel-speed sensor: two currents, the speed changing as the car goes."""
    teeth_hertz = 10 ** rng.uniform(1.5, 3.0)
    length_s = rng.uniform(60, 300) / teeth_hertz
    turns = turns_of(rng, length_s, teeth_hertz, rng.uniform(0.05, 0.5))
    duty = rng.uniform(0.35, 0.65)

    def signal(times_s: Row) -> Row:
        angle = turns(times_s) % 1.0
        return 0.7 + 0.7 * (np.clip(angle / 0.03, 0, 1) - np.clip((angle - duty) / 0.03, 0, 1))

    return Made(signal, length_s, int(length_s * teeth_hertz * rng.uniform(50, 150)))
