"""SENT lines: a sensor that sends nibbles as times between falling edges, with the faults that such a wire can have.

Frames and the three checksum forms are worked out here anew, by polynomial division instead of a table.
"""

from dataclasses import dataclass, field

import numpy as np

from loomlight.sample_captures.makers.shape import Made
from loomlight.sample_captures.makers.two_state_wire import Step, Volts, laid, recorded, with_bursts
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.examination import Conditions

KIND = "sent"
FAULTS = (
    "open",
    "short to ground",
    "short to battery",
    "short to supply",
    "series resistance",
    "ground offset",
    "leak to ground",
    "weak pull-up",
    "slow edges",
    "intermittent",
    "missing pulse",
    "wrong checksum",
    "tick drift",
    "wrong tick",
    "noise bursts",
)
NAME = "SENT"
FORMS = ("recommended", "legacy", "with status")
SLOW_BOTH = ("edges slow: series resistance, or too much capacitance",)
SLOW_RISE = ("rises slow: pull-up weak, or too much capacitance",)
LIFTED = ("low level lifted: series resistance, the sensor's ground, or a leak to its supply",)
LOWERED = ("high level low: a leak to ground, or the sensor's supply",)
LOST = ("pulses lost: intermittent contact",)


@dataclass
class Sensor:
    """Figures of one instance, healthy at first."""

    tick_s: float
    data: int
    form: str
    pause: str
    supply_v: float
    pulls: bool
    """Push-pull; else the receiver's pull-up makes the high level."""
    out_ohm: float
    pull_ohm: float
    farad: float
    shape_s: float
    ground_v: float = 0.0
    series_ohm: float = 0.0
    leak_ohm: float = np.inf
    tie_ohm: float = np.inf
    tie_v: float = 5.0
    wrong_sums: float = 0.0
    lost: float = 0.0
    wander: float = 0.0005
    gone: list[tuple[float, float]] = field(default_factory=list)


def remainder(nibbles: list[int], *, seed: int = 0b0101) -> int:
    """Remainder of the nibbles, bit by bit, by x^4 + x^3 + x^2 + 1; each nibble is added before its four shifts."""
    value = seed
    for nibble in nibbles:
        value ^= nibble
        for _ in range(4):
            value = ((value << 1) ^ 0b11101) & 0b1111 if value & 0b1000 else value << 1
    return value


def sum_of(status: int, data: list[int], form: str) -> int:
    """The check nibble in one of the three forms found in the field."""
    if form == "with status":
        return remainder([status, *data])
    # Recommended: the seed itself is shifted first, and so is the last data nibble; legacy leaves the last shift out.
    if form == "recommended":
        return remainder([0, *data])
    return remainder([0, *data[:-1]]) ^ data[-1]


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance; see `shape.Maker`."""
    sensor = _sensor(rng, fault)
    truth: dict[str, float] = {"tick": sensor.tick_s, "data": sensor.data, "form": FORMS.index(sensor.form)}
    nominal = round(sensor.tick_s * 1e6, 1) * 1e-6
    broken, expected = _put(fault, sensor, rng, truth)
    usual = float(rng.uniform(6.5, 9.0)) / sensor.tick_s
    rate = samples_per_s or float(np.round(usual, -4))
    falls, lows, values = _falls(sensor, rng, frames=int(rng.integers(22, 28)))
    truth["frames"] = float(len(values))
    begin_s = float(rng.uniform(0.0, 300.0)) * sensor.tick_s
    times_s = np.arange(begin_s, min(falls[-1] + 30 * sensor.tick_s, begin_s + 50_000 / rate), 1.0 / rate)
    if fault == "intermittent":
        broken = _come_off(sensor, rng, falls, lows, times_s)
    seen = _at_the_receiver(sensor, falls, lows, times_s)
    if fault == "noise bursts":
        seen = with_bursts(
            rng, seen, step_s=1.0 / rate, size_v=3.5, count=int(rng.integers(40, 90)), length_s=5 * sensor.tick_s
        )
    start_s = float(rng.uniform(-0.1, 0.1))
    reach_v = 20.0 if fault == "short to battery" else 10.0

    def channel(volts: Volts) -> Channel:
        return recorded(rng, NAME, volts, start_s=start_s, step_s=1.0 / rate, reach_v=reach_v, noise_db=noise_db)

    good, together = None, False
    if fault == "open":
        # At the receiver only its pull-up is left; half of these are recorded together with the sensor's own end.
        together = bool(rng.uniform() < 0.5)
        good = Capture("good.h5", "made", (channel(seen),)) if together else None
        seen, broken = np.full(times_s.size, 5.0 * rng.uniform(0.97, 1.02)), together
    settings = (("tick", nominal),) if fault == "wrong tick" or rng.uniform() < 0.3 else ()
    return Made(
        capture=Capture("made.h5", "made", (channel(seen),)),
        channel=NAME,
        kind=KIND,
        fault=fault,
        conditions=Conditions(same_moment=together, settings=settings),
        good=good,
        expected=expected,
        limit_broken=broken,
        truth=truth,
    )


def _sensor(rng: np.random.Generator, fault: str) -> Sensor:
    ticks = [6e-6, 10e-6] if fault == "weak pull-up" else [3e-6, 3e-6, 3e-6, 6e-6, 10e-6, 30e-6]
    return Sensor(
        tick_s=float(rng.choice(ticks)) * float(rng.uniform(0.93, 1.07)),
        data=int(rng.choice([6, 6, 6, 4, 3])),
        form=str(rng.choice(FORMS)),
        pause=str(rng.choice(["none", "none", "even", "long"])),
        supply_v=float(rng.uniform(4.9, 5.1)),
        pulls=fault != "weak pull-up" and bool(rng.uniform() < 0.8),
        out_ohm=float(rng.uniform(40.0, 120.0)),
        pull_ohm=float(rng.uniform(10e3, 50e3)),
        farad=float(rng.uniform(0.5e-9, 2.5e-9)),
        shape_s=float(rng.uniform(0.4e-6, 1.5e-6)),
    )


def _put(fault: str, sensor: Sensor, rng: np.random.Generator, truth: dict[str, float]) -> tuple[bool, tuple[str, ...]]:
    """Change the figures so that the fault is there; whether a limit is then broken, and which pictures are right."""
    if not sensor.pulls and fault != "weak pull-up":
        # An open-drain sensor has a stronger pull-up, so that its rises stay within 18 µs.
        sensor.pull_ohm, sensor.farad = float(rng.uniform(1.5e3, 3e3)), float(rng.uniform(0.5e-9, 1.5e-9))
    if fault == "open":
        return True, ("wire open",)
    if fault == "short to ground":
        truth["ohm"] = sensor.leak_ohm = float(rng.uniform(0.5, 25.0))
        sensor.pulls = True
        # What is left below 0.6 V may as well be a probe factor that is ten times off, or nothing at all.
        return sensor.supply_v * sensor.leak_ohm / (sensor.leak_ohm + sensor.out_ohm) > 0.65, ("short to ground",)
    if fault == "short to battery":
        truth["ohm"] = sensor.tie_ohm = float(rng.uniform(0.5, 60.0))
        sensor.tie_v = float(rng.uniform(11.8, 14.6))
        return True, ("short to battery",)
    if fault == "short to supply":
        truth["ohm"] = sensor.tie_ohm = sensor.out_ohm * float(rng.uniform(0.4, 4.0))
        sensor.tie_v = sensor.supply_v
        return True, LIFTED
    if fault == "series resistance":
        sensor.pulls = True
        sensor.farad = float(rng.uniform(2.2e-9, 4.7e-9))
        truth["ohm"] = sensor.series_ohm = float(rng.uniform(7.5e-6, 13e-6)) / sensor.farad
        # Before a strong pull-up it lifts the low level rather than rounding the edges.
        return True, SLOW_BOTH + LIFTED
    if fault == "ground offset":
        truth["volts"] = sensor.ground_v = float(rng.uniform(0.65, 1.5))
        return True, LIFTED
    if fault == "leak to ground":
        sensor.pulls = True
        truth["ohm"] = sensor.leak_ohm = sensor.out_ohm * float(rng.uniform(0.8, 3.2))
        return True, LOWERED
    if fault == "weak pull-up":
        sensor.farad = float(rng.uniform(1e-9, 2e-9))
        sensor.pull_ohm = truth["ohm"] = float(rng.uniform(19e-6, 27e-6)) / sensor.farad
        return True, SLOW_RISE
    if fault == "slow edges":
        sensor.pulls, sensor.shape_s = True, float(rng.uniform(7.0e-6, 11e-6))
        return True, SLOW_BOTH
    if fault == "missing pulse":
        sensor.lost = float(rng.uniform(0.01, 0.05))
        return True, LOST
    if fault == "wrong checksum":
        sensor.wrong_sums = float(rng.uniform(0.15, 0.35))
        return True, ("checksum wrong while the line is right",)
    if fault == "tick drift":
        sensor.wander = float(rng.uniform(0.03, 0.06))
        return True, ("the sensor's clock jumps",)
    if fault == "wrong tick":
        factor = float(rng.choice([rng.uniform(0.6, 0.74), rng.uniform(1.27, 1.6)]))
        sensor.tick_s *= factor
        truth["tick"] = sensor.tick_s
        return True, ("the sensor's clock is off",)
    if fault == "noise bursts":
        return True, ("interference",)
    return fault != "", LOST if fault == "intermittent" else ()


def _falls(sensor: Sensor, rng: np.random.Generator, *, frames: int) -> tuple[Volts, Volts, list[list[int]]]:
    """Falling edges, the length of each low part, and what each frame says."""
    slow_bits = [int(bit) for bit in f"{int(rng.integers(16)):04b}{int(rng.integers(256)):08b}"]
    message = [int("".join(map(str, slow_bits[place : place + 4])), 2) for place in (0, 4, 8)]
    slow_bits += [int(bit) for bit in f"{remainder([0, *message]):04b}"]
    phase = int(rng.integers(16))
    falls, lows, values = [0.0], [5 * sensor.tick_s], []
    level = rng.uniform(0.2, 0.8)
    wander = 0.0
    low_ticks = float(rng.integers(5, 7))
    for number in range(frames):
        wander = wander * 0.5 + rng.normal(0.0, 0.3) * sensor.wander
        if sensor.wander > 0.01:
            wander = sensor.wander * (1 if number % 2 else -1) * rng.uniform(0.5, 1.0)
        tick_s = sensor.tick_s * (1.0 + wander)
        level = float(np.clip(level + rng.normal(0.0, 0.02), 0.0, 1.0))
        whole = round(level * (16**sensor.data - 1))
        data = [(whole >> 4 * place) & 15 for place in reversed(range(sensor.data))]
        place = (number + phase) % 16
        status = (8 if place == 0 else 0) | slow_bits[place] << 2
        total = sum_of(status, data, sensor.form)
        if rng.uniform() < sensor.wrong_sums or (sensor.wrong_sums and number in (5, 9)):
            total ^= int(rng.integers(1, 16))
        nibbles = [status, *data, total]
        values.append(nibbles)
        lengths = [56.0, *(12.0 + one for one in nibbles)]
        if sensor.pause != "none":
            longest = 56 + 27 * len(nibbles)
            lengths.append(longest + 40 - sum(lengths) if sensor.pause == "even" else float(rng.integers(80, 300)))
        for length in lengths:
            falls.append(falls[-1] + length * tick_s)
            lows.append(low_ticks * tick_s)
    found, width = np.array(falls), np.array(lows)
    found[1:] += rng.normal(0.0, 0.025 * sensor.tick_s, found.size - 1)
    if sensor.lost:
        kept = rng.uniform(size=found.size) > sensor.lost
        kept[[40, 77]] = False
        found, width = found[kept], width[kept]
    return found, width, values


def _come_off(sensor: Sensor, rng: np.random.Generator, falls: Volts, lows: Volts, times_s: Volts) -> bool:
    """The wire comes off for some low parts or within them; whether that shows: a fall is lost inside the capture."""
    shows = False
    for place in np.flatnonzero(rng.uniform(size=falls.size) < 0.05).tolist():
        begin_s = float(falls[place] + rng.uniform(-0.5, 0.3) * lows[place])
        stop_s = begin_s + float(rng.uniform(1.0, 6.0)) * float(lows[place])
        sensor.gone.append((begin_s, stop_s))
        inside = times_s[0] + 400 * sensor.tick_s < falls[place] < times_s[-1] - 600 * sensor.tick_s
        shows |= bool(inside and begin_s < falls[place] and stop_s > falls[place] + lows[place])
    return shows


def _at_the_receiver(sensor: Sensor, falls: Volts, lows: Volts, times_s: Volts) -> Volts:
    """Volts at the receiver's pin: the sensor's output, what stands in series, pull-up, leaks and ties, one capacitance."""
    series = sensor.out_ohm + sensor.series_ohm
    pull, tie, leak = 1.0 / sensor.pull_ohm, 1.0 / sensor.tie_ohm, 1.0 / sensor.leak_ohm

    def settles(driven_v: float | None) -> tuple[float, float]:
        g = 0.0 if driven_v is None else 1.0 / series
        total = g + pull + tie + leak
        volts = (g * (driven_v or 0.0) + 5.0 * pull + sensor.tie_v * tie) / total
        return volts, max(sensor.farad / total, sensor.shape_s)

    low_v, low_s = settles(sensor.ground_v + 0.08)
    high_v, high_s = settles(sensor.supply_v - 0.08 if sensor.pulls else None)
    loose_v, loose_s = settles(None)
    steps: list[Step] = []
    for fall_s, low in zip(falls.tolist(), lows.tolist(), strict=True):
        hidden = [(a, b) for a, b in sensor.gone if a < fall_s + low and b > fall_s]
        at_s = fall_s
        for a, b in hidden:
            if a > at_s:
                steps += [Step(at_s, low_v, low_s), Step(a, loose_v, loose_s)]
            at_s = max(at_s, b)
        if at_s < fall_s + low:
            steps += [Step(at_s, low_v, low_s), Step(fall_s + low, high_v, high_s)]
    steps.sort(key=lambda one: one.at_s)
    return laid(steps, start_v=high_v, times_s=times_s, ringing=0.04 if sensor.shape_s < 1e-6 else 0.0, ring_s=0.8e-6)
