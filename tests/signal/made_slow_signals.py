"""Made signals without states: supplies, sensors that move, and coils that are switched."""

import numpy as np
from made_signals import Made, Row, span, turns_of, wander


def ripple(rng: np.random.Generator) -> Made:
    """A supply with the ripple of a rectified generator, harmonics unequal, and a load that comes and goes."""
    hertz = 10 ** rng.uniform(2.3, 3.6)
    length_s = rng.uniform(60, 300) / hertz
    turns = turns_of(rng, length_s, hertz, rng.uniform(0.0, 0.03))
    sizes, phases = rng.uniform(0, 1, 6) / np.arange(1, 7), rng.uniform(0, 2 * np.pi, 6)
    sizes[5] += rng.uniform(0.3, 1.5)
    load = wander(rng, length_s, knots=rng.uniform(3, 9), low=-1.0, high=1.0)
    depth = rng.uniform(0.0, 0.5)

    def signal(times_s: Row) -> Row:
        angle = 2 * np.pi * turns(times_s)
        return (
            14.0
            + 0.1 * sum(s * np.sin((k + 1) * angle + p) for k, (s, p) in enumerate(zip(sizes, phases, strict=True)))
            + 0.1 * depth * load(times_s)
        )

    return Made(signal, length_s, int(length_s * hertz * rng.uniform(60, 200)))


def cranking(rng: np.random.Generator) -> Made:
    """The supply while the starter turns: the inrush, then one hump a compression, unequal between cylinders."""
    cylinders, hertz = int(rng.choice([3, 4, 5, 6, 8])), rng.uniform(1.5, 4.0)
    length_s = rng.uniform(1.5, 4.0)
    begin_s = rng.uniform(0.05, 0.3) * length_s
    stop_s = rng.uniform(0.7, 0.95) * length_s
    heights = rng.uniform(0.6, 1.0, cylinders)
    turns = turns_of(rng, length_s, hertz, rng.uniform(0.02, 0.1))
    rush_v, rush_s, held_v = rng.uniform(1, 4), rng.uniform(0.02, 0.12), rng.uniform(1.5, 3.0)

    def signal(times_s: Row) -> Row:
        angle = turns(times_s) * cylinders / 2
        height = heights[angle.astype(int) % cylinders]
        running = (times_s > begin_s) & (times_s < stop_s)
        pull = (
            held_v
            + 0.6 * height * np.sin(np.pi * (angle % 1.0)) ** 2
            + rush_v * np.exp(-np.abs(times_s - begin_s) / rush_s)
        )
        return 12.6 - np.where(running, pull, 0.0)

    return Made(signal, length_s, int(rng.uniform(8_000, 40_000)))


def ramps(rng: np.random.Generator) -> Made:
    """A pedal or a flap moved by hand: straight stretches and rests."""
    length_s = 10 ** rng.uniform(-0.3, 1.0)
    begin_s, stop_s = span(length_s)
    count = int(rng.integers(12, 40))
    at = np.sort(rng.uniform(begin_s, stop_s, count))
    to = np.repeat(rng.uniform(0.5, 4.5, count // 2 + 1), 2)[:count]
    return Made(lambda times_s: np.interp(times_s, at, to), length_s, int(rng.uniform(5_000, 30_000)))


def sensor_curve(rng: np.random.Generator) -> Made:
    """A slow signal with no edges: what a pressure or an air-mass sensor shows."""
    length_s = 10 ** rng.uniform(-1, 1.3)
    fine = wander(rng, length_s, knots=rng.uniform(40, 200), low=-1.0, high=1.0)
    coarse = wander(rng, length_s, knots=rng.uniform(6, 30), low=-1.0, high=1.0)
    share = rng.uniform(0.1, 0.9)
    return Made(lambda t: 2.5 + share * fine(t) + (1 - share) * coarse(t), length_s, int(rng.uniform(8_000, 40_000)))


def chirp(rng: np.random.Generator) -> Made:
    """A run-up: a tone with a harmonic whose frequency rises or falls all along."""
    length_s = 10 ** rng.uniform(-2, 0.7)
    cycles, bend = rng.uniform(60, 250), rng.uniform(-0.6, 0.6)
    second, phase = rng.uniform(0, 0.6), rng.uniform(0, 2 * np.pi)

    def signal(times_s: Row) -> Row:
        share = times_s / length_s
        angle = 2 * np.pi * cycles * (share + 0.5 * bend * share**2 - 0.5 * bend * share)
        return np.sin(angle) + second * np.sin(2 * angle + phase)

    return Made(signal, length_s, int(cycles * rng.uniform(50, 150)))


def injector(rng: np.random.Generator) -> Made:
    """A coil switched to ground, its kick when it lets go, at an engine's pace."""
    period_s, on = 10 ** rng.uniform(-1.6, -0.9), rng.uniform(1.5e-3, 8e-3)
    length_s = rng.uniform(5, 20) * period_s
    turns = turns_of(rng, length_s, 1 / period_s, rng.uniform(0.005, 0.08))
    kick_v, decay_s, battery_v = rng.uniform(20, 70), rng.uniform(0.2e-3, 1e-3), rng.uniform(12, 14.5)
    pintle = rng.uniform(0.0, 6.0)

    def signal(times_s: Row) -> Row:
        since = turns(times_s) % 1.0 * period_s
        off = since - on
        tail = kick_v * np.exp(-off / decay_s) - pintle * np.exp(-(((off - 1.2e-3) / 0.3e-3) ** 2))
        return np.where(off < 0, 0.5, battery_v + np.where(off < 0, 0, tail))

    return Made(signal, length_s, int(rng.uniform(15_000, 60_000)))


def coil(rng: np.random.Generator) -> Made:
    """The primary of a coil: dwell, the spike, the burn line, the ringing at its end."""
    period_s = 10 ** rng.uniform(-1.7, -1.0)
    dwell_s, burn_s, ring_hz = rng.uniform(2e-3, 5e-3), rng.uniform(0.8e-3, 2.2e-3), rng.uniform(1.5e3, 6e3)
    length_s = rng.uniform(4, 12) * period_s
    turns = turns_of(rng, length_s, 1 / period_s, rng.uniform(0.005, 0.08))
    spike_v, burn_v = rng.uniform(150, 380), rng.uniform(25, 50)

    def signal(times_s: Row) -> Row:
        since = turns(times_s) % 1.0 * period_s
        off = since - dwell_s
        burn = spike_v * np.exp(-off / 60e-6) + burn_v
        after = off - burn_s
        ring = 14.0 + 25 * np.exp(-np.maximum(after, 0) / 0.6e-3) * np.cos(2 * np.pi * ring_hz * after)
        return np.where(off < 0, 1.0, np.where(after < 0, burn, ring))

    return Made(signal, length_s, int(rng.uniform(15_000, 60_000)))
