"""A made library of many thousand entries, each worked out anew from its number whenever it is opened.

An entry is a signal that goes on before and after what was recorded of it, so that a query is another recording of the
same: begun earlier or later, of another length, at another sample rate, with its own gain, offset and noise. Entries of
one sort differ in what a technician would tell them apart by: bit rate and schedule, period and duty, teeth and speed.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from loomlight.signal.bus_traffic import COMMANDER, Slot, traffic
from loomlight.signal.capture import Channel
from loomlight.signal.circuit import Driver, LinBus, simulate
from loomlight.signal.samples import FloatSamples

Row = npt.NDArray[np.float64]
Signal = Callable[[Row], Row]
"""Volts at any times, seconds."""
BEYOND = 0.5
"""Of its length: how far a signal goes on to either side of what an entry holds of it."""
ENTRY_DB = 30.0


@dataclass(frozen=True, eq=False)
class Made:
    """A signal, and how an entry records it."""

    signal: Signal
    length_s: float
    samples: int


def steps(edges_s: Row, *, first: float, low: float, high: float, rise: Row, fall: Row, step_s: float) -> Signal:
    """Two states that change at ``edges_s``; ``rise`` and ``fall`` run 0 to 1 and 1 to 0 in steps of ``step_s``."""

    def at(times_s: Row) -> Row:
        place = np.searchsorted(edges_s, times_s, side="right") - 1
        known = place >= 0
        since = np.where(known, times_s - edges_s[np.maximum(place, 0)], np.inf) / step_s
        up = place % 2 == (1 if first > 0.5 else 0)
        ends = np.arange(rise.size), np.arange(fall.size)
        shape = np.where(up, np.interp(since, ends[0], rise), np.interp(since, ends[1], fall))
        return low + (high - low) * np.where(known, shape, first)

    return at


def _edge(slope: float = 8.0, count: int = 64) -> tuple[Row, Row]:
    rise = np.append(1.0 - np.exp(-np.arange(count - 1) / slope), 1.0)
    return rise, 1.0 - rise


def _two_states(
    rng: np.random.Generator,
    edges_s: Row,
    shortest_s: float,
    *,
    first: float = 0.0,
    low: float = 0.0,
    high: float = 5.0,
) -> Signal:
    rise, fall = _edge()
    speed = rng.uniform(0.004, 0.02) * shortest_s
    return steps(edges_s, first=first, low=low, high=high, rise=rise, fall=fall, step_s=speed)


def _span(length_s: float) -> tuple[float, float]:
    return -BEYOND * length_s, (1.0 + BEYOND) * length_s


def lin(rng: np.random.Generator) -> Made:
    """A LIN bus: one of the usual bit rates, its schedule and what its nodes say; edges from the circuit model."""
    bit_rate = float(rng.choice([9600, 10417, 19200])) * (1 + rng.uniform(-4e-3, 4e-3))
    count = int(rng.integers(2, 9))
    identifiers = rng.choice(60, count, replace=False)
    slots = []
    for one in identifiers.tolist():
        fixed = rng.integers(0, 256, int(rng.choice([2, 4, 8]))).tolist()
        talker = str(rng.choice(["", COMMANDER, "near node", "far node"], p=[0.05, 0.35, 0.3, 0.3]))
        counts = bool(rng.random() < 0.4)
        slots.append(
            Slot(one, talker, lambda n, fixed=fixed, counts=counts: bytes([(fixed[0] + n * counts) % 256, *fixed[1:]]))
        )
    slot_s = float(rng.choice([10e-3, 15e-3, 20e-3])) * (19200 / bit_rate if bit_rate < 15000 else 1.0)
    length_s = rng.uniform(6, 20) * slot_s
    begin_s, stop_s = _span(length_s)
    sent = traffic(
        slots,
        bit_rate=bit_rate,
        slot_s=slot_s,
        start_s=0.0,
        stop_s=stop_s - begin_s,
        first_round=int(rng.integers(256)),
    )
    spans = sorted(one for spans in sent.spans.values() for one in spans)
    edges_s = np.array(spans).ravel() + begin_s + rng.uniform(0, slot_s)
    battery_v = rng.uniform(11.5, 14.5)
    bus = LinBus(battery_v=battery_v, near_f=rng.uniform(1e-9, 6e-9))
    step_s = 1e-6
    driver = Driver("near", rng.uniform(0.5, 1.2), [(20e-6, 140e-6)])
    near, _ = simulate(bus, [driver], series_ohm=0.1, step_s=step_s, count=260)
    low, high = near[130], near[10]
    fall, rise = ((one - low) / (high - low) for one in (near[20:130], near[140:250]))
    rise[-1], fall[-1] = 1.0, 0.0
    signal = steps(edges_s, first=1.0, low=low, high=high, rise=rise, fall=fall, step_s=step_s)
    return Made(signal, length_s, int(length_s * bit_rate * rng.uniform(9, 16)))


def can_bits(rng: np.random.Generator) -> Made:
    """Stuffed frames at a few fixed periods, each with its length and content, as on a two-wire bus."""
    bit_s = 1.0 / float(rng.choice([125e3, 250e3, 500e3])) * (1 + rng.uniform(-1e-3, 1e-3))
    length_s = float(rng.uniform(2000, 6000)) * bit_s
    begin_s, stop_s = _span(length_s)
    due = []
    for number in range(int(rng.integers(2, 7))):
        period = float(rng.choice([250, 500, 1000, 2000])) * bit_s
        bits = [0, *rng.integers(0, 2, int(rng.choice([44, 76, 108]))).tolist()]
        due += [(at, number, bits) for at in np.arange(begin_s + rng.uniform(0, period), stop_s, period).tolist()]
    edges, free_s = [], begin_s
    for at, _, bits in sorted(due, key=lambda one: one[:2]):
        free_s = max(free_s + 11 * bit_s, at)
        sent = [*bits[:30], *rng.integers(0, 2, 16).tolist(), *bits[46:]]
        run, last = 0, 1
        for bit in sent:
            if run == 5:
                last, run = 1 - last, 1
                edges.append(free_s)
                free_s += bit_s
            if bit != last:
                edges.append(free_s)
                run, last = 0, bit
            run += 1
            free_s += bit_s
        if not last:
            edges.append(free_s)
    high = 2.0
    signal = _two_states(rng, np.array(edges), bit_s, first=0.0, low=2.5, high=2.5 + high * 0.5)
    return Made(signal, length_s, int(length_s / bit_s * rng.uniform(8, 14)))


def k_line(rng: np.random.Generator) -> Made:
    """Bytes at 10 400 baud in messages with pauses."""
    bit_s = 1.0 / (10400 * (1 + rng.uniform(-5e-3, 5e-3)))
    length_s = rng.uniform(0.1, 0.4)
    at, stop_s = _span(length_s)
    pause_s, gap_s = rng.uniform(5e-3, 30e-3), rng.uniform(0, 2e-3)
    edges = []
    message = rng.integers(0, 256, int(rng.integers(4, 12))).tolist()
    while at < stop_s:
        for byte in [*message, int(rng.integers(256))]:
            last = 1
            for bit in [0, *((byte >> place) & 1 for place in range(8)), 1]:
                if bit != last:
                    edges.append(at)
                    last = bit
                at += bit_s
            at += gap_s
        at += pause_s
    signal = _two_states(rng, np.array(edges), bit_s, first=1.0, high=rng.uniform(11, 14))
    return Made(signal, length_s, int(length_s / bit_s * rng.uniform(8, 14)))


def sent_nibbles(rng: np.random.Generator) -> Made:
    """Nibbles as the time from one falling edge to the next, after a long calibration pulse."""
    tick_s = rng.uniform(3e-6, 10e-6)
    length_s = rng.uniform(3000, 9000) * tick_s
    at, stop_s = _span(length_s)
    held = rng.integers(0, 16, 3).tolist()
    edges = []
    while at < stop_s:
        for ticks in [56, *(12 + one for one in [4, *held, *rng.integers(0, 16, 3).tolist(), int(rng.integers(16))])]:
            edges += [at, at + 5 * tick_s]
            at += ticks * tick_s
    signal = _two_states(rng, np.array(edges), tick_s * 4, first=1.0)
    return Made(signal, length_s, int(length_s / tick_s * rng.uniform(2, 4)))


def _pulse_train(rng: np.random.Generator, duty_of: Callable[[Row], Row], periods: float, period_s: float) -> Made:
    length_s = periods * period_s
    begin_s, stop_s = _span(length_s)
    starts = np.arange(begin_s, stop_s, period_s)
    duty = duty_of(starts)
    edges = np.column_stack([starts, starts + duty * period_s]).ravel()
    signal = _two_states(rng, edges, period_s * float(min(duty.min(), 1 - duty.max())), high=rng.uniform(3, 14))
    return Made(signal, length_s, int(periods * rng.uniform(40, 160)))


def pwm(rng: np.random.Generator) -> Made:
    """A fixed frequency and a fixed duty."""
    duty = rng.uniform(0.08, 0.92)
    return _pulse_train(rng, lambda at: np.full(at.size, duty), rng.uniform(40, 250), 10 ** rng.uniform(-4.3, -1.5))


def pwm_moving(rng: np.random.Generator) -> Made:
    """A fixed frequency whose duty is moved about."""
    period_s, periods = 10 ** rng.uniform(-4, -1.7), rng.uniform(60, 250)
    drawn = _wander(rng, periods * period_s, knots=rng.uniform(3, 14), low=0.15, high=0.85)
    return _pulse_train(rng, drawn, periods, period_s)


def _wander(rng: np.random.Generator, length_s: float, *, knots: float, low: float, high: float) -> Signal:
    """A smooth curve through random points."""
    from scipy.interpolate import CubicSpline

    begin_s, stop_s = _span(length_s)
    at = np.linspace(begin_s, stop_s, max(4, round(knots * (1 + 2 * BEYOND))))
    spline = CubicSpline(at, rng.uniform(low, high, at.size))
    return lambda times_s: np.clip(spline(times_s), low, high)


def _turns(rng: np.random.Generator, length_s: float, hertz: float, unsteady: float) -> Signal:
    """Turns done by a shaft whose speed wanders."""
    begin_s, stop_s = _span(length_s)
    at = np.linspace(begin_s - 0.1 * length_s, stop_s + 0.1 * length_s, 4000)
    speed = hertz * (1 + unsteady * _wander(rng, length_s, knots=rng.uniform(4, 12), low=-1.0, high=1.0)(at))
    done = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(at))])
    return lambda times_s: np.interp(times_s, at, done)


def toothed_wheel(rng: np.random.Generator) -> Made:
    """An inductive sensor over teeth with some left out."""
    teeth, gone = ((60, 2), (36, 1), (36, 2), (58, 2), (30, 1), (24, 1))[int(rng.integers(6))]
    hertz = 10 ** rng.uniform(0.7, 1.9)
    length_s = rng.uniform(3, 9) / hertz
    turns = _turns(rng, length_s, hertz, rng.uniform(0.005, 0.08))
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
    turns = _turns(rng, length_s, hertz, rng.uniform(0.003, 0.05))
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
    turns = _turns(rng, length_s, teeth_hertz, rng.uniform(0.05, 0.5))
    duty = rng.uniform(0.35, 0.65)

    def signal(times_s: Row) -> Row:
        angle = turns(times_s) % 1.0
        return 0.7 + 0.7 * (np.clip(angle / 0.03, 0, 1) - np.clip((angle - duty) / 0.03, 0, 1))

    return Made(signal, length_s, int(length_s * teeth_hertz * rng.uniform(50, 150)))


def ripple(rng: np.random.Generator) -> Made:
    """A supply with the ripple of a rectified generator, harmonics unequal, and a load that comes and goes."""
    hertz = 10 ** rng.uniform(2.3, 3.6)
    length_s = rng.uniform(60, 300) / hertz
    turns = _turns(rng, length_s, hertz, rng.uniform(0.0, 0.03))
    sizes, phases = rng.uniform(0, 1, 6) / np.arange(1, 7), rng.uniform(0, 2 * np.pi, 6)
    sizes[5] += rng.uniform(0.3, 1.5)
    load = _wander(rng, length_s, knots=rng.uniform(3, 9), low=-1.0, high=1.0)
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
    turns = _turns(rng, length_s, hertz, rng.uniform(0.02, 0.1))
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
    begin_s, stop_s = _span(length_s)
    count = int(rng.integers(12, 40))
    at = np.sort(rng.uniform(begin_s, stop_s, count))
    to = np.repeat(rng.uniform(0.5, 4.5, count // 2 + 1), 2)[:count]
    return Made(lambda times_s: np.interp(times_s, at, to), length_s, int(rng.uniform(5_000, 30_000)))


def sensor_curve(rng: np.random.Generator) -> Made:
    """A slow signal with no edges: what a pressure or an air-mass sensor shows."""
    length_s = 10 ** rng.uniform(-1, 1.3)
    fine = _wander(rng, length_s, knots=rng.uniform(40, 200), low=-1.0, high=1.0)
    coarse = _wander(rng, length_s, knots=rng.uniform(6, 30), low=-1.0, high=1.0)
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
    turns = _turns(rng, length_s, 1 / period_s, rng.uniform(0.005, 0.08))
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
    turns = _turns(rng, length_s, 1 / period_s, rng.uniform(0.005, 0.08))
    spike_v, burn_v = rng.uniform(150, 380), rng.uniform(25, 50)

    def signal(times_s: Row) -> Row:
        since = turns(times_s) % 1.0 * period_s
        off = since - dwell_s
        burn = spike_v * np.exp(-off / 60e-6) + burn_v
        after = off - burn_s
        ring = 14.0 + 25 * np.exp(-np.maximum(after, 0) / 0.6e-3) * np.cos(2 * np.pi * ring_hz * after)
        return np.where(off < 0, 1.0, np.where(after < 0, burn, ring))

    return Made(signal, length_s, int(rng.uniform(15_000, 60_000)))


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
