"""An active two-wire wheel speed sensor: a current of two levels, or of three, and what goes wrong with it.

Currents as a rotational speed sensor's data sheet has them: 7 mA and 14 mA, the third kind with a speed pulse of 28 mA and
data in 7 and 14 mA behind it.
"""

from dataclasses import dataclass, replace

import numpy as np

from loomlight.sample_captures.makers.pulse_recording import Row, captured, recorded, switched
from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.examination import Conditions

KIND = "wheel-speed"
FAULTS = (
    "missing pulses",
    "damaged ring",
    "dropouts",
    "low current",
    "leak",
    "series resistance",
    "short",
    "open",
    "lost signal",
    "disturbed data",
)
SORTS = ("plain", "coded width", "three levels")


@dataclass(frozen=True)
class _Sensor:
    """What it draws, and how the wheel turns."""

    sort: str
    poles: int
    rate_hz: float  # pulses a second
    change: float
    low_a: float
    high_a: float
    peak_a: float
    width_s: float
    duty: float
    turns: float


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance."""
    sensor = _drawn(rng, fault)
    healthy = sensor
    truth: dict[str, float] = {"rate_hz": sensor.rate_hz, "low_ma": 1e3 * sensor.low_a, "high_ma": 1e3 * sensor.high_a}
    expected: tuple[str, ...] = ()
    if fault == "low current":
        share = float(rng.uniform(0.5, 0.7))
        sensor = replace(sensor, low_a=share * 7e-3, high_a=share * 14e-3, peak_a=share * 28e-3)
        expected = ("low current",)
    elif fault == "leak":
        more = float(rng.uniform(3e-3, 9e-3))
        sensor = replace(sensor, low_a=sensor.low_a + more, high_a=sensor.high_a + more, peak_a=sensor.peak_a + more)
        truth["leak_ma"] = 1e3 * more
        expected = ("leak to ground",)
    elif fault == "series resistance":
        most = float(rng.uniform(9.2e-3, 10.8e-3))
        sensor = replace(sensor, high_a=most, peak_a=min(sensor.peak_a, 1.3 * most))
        expected = ("series resistance",)
    shunt = float(rng.choice([0.0, 75.0, 115.0]))
    settings: list[tuple[str, float]] = [("shunt", shunt)] if shunt else []
    if fault == "damaged ring":
        settings.append(("poles", float(sensor.poles)))
    step_s = 1.0 / _rate(rng, sensor, samples_per_s)
    channel, named = _captured(rng, sensor, fault, step_s, noise_db, shunt, truth)
    good: Capture | None = None
    if rng.random() < 0.4:
        other = replace(
            healthy, rate_hz=healthy.rate_hz * rng.uniform(0.7, 1.4), low_a=healthy.low_a * rng.uniform(0.97, 1.03)
        )
        good = captured(_captured(rng, other, "", step_s, noise_db, shunt, {})[0])
    return Made(
        capture=captured(channel),
        channel=channel.name,
        kind=KIND,
        fault=fault,
        conditions=Conditions(supply_v=float(rng.uniform(11.5, 14.4)), settings=tuple(settings)),
        good=good,
        expected=named or expected,
        limit_broken=bool(fault),
        truth=truth,
    )


def _drawn(rng: np.random.Generator, fault: str) -> _Sensor:
    sort = str(rng.choice(SORTS, p=[0.5, 0.25, 0.25]))
    if fault == "damaged ring":
        sort = "plain"
    if fault == "disturbed data":
        sort = "three levels"
    if fault == "series resistance":
        sort = str(rng.choice(SORTS[:2]))
    slowest, fastest = {"plain": (60.0, 1500.0), "coded width": (120.0, 400.0), "three levels": (150.0, 700.0)}[sort]
    rate_hz = float(np.exp(rng.uniform(np.log(slowest), np.log(fastest))))
    width_s = float(45e-6 * 2.0 ** int(rng.integers(1, 4)) * rng.uniform(0.9, 1.1)) if sort == "coded width" else 50e-6
    return _Sensor(
        sort=sort,
        poles=int(rng.choice([43, 48, 52])),
        rate_hz=rate_hz,
        change=float(rng.uniform(-0.3, 0.4)),
        low_a=7e-3 * float(rng.uniform(0.9, 1.1)),
        high_a=14e-3 * float(rng.uniform(0.9, 1.1)),
        peak_a=28e-3 * float(rng.uniform(0.92, 1.08)),
        width_s=width_s,
        duty=float(rng.uniform(0.4, 0.6)),
        turns=float(rng.uniform(3.5, 5.0)),
    )


def _rate(rng: np.random.Generator, sensor: _Sensor, given: float | None) -> float:
    usual = float(rng.uniform(30.0, 60.0)) * sensor.rate_hz
    least = 30.0 * sensor.rate_hz
    if sensor.sort != "plain":
        usual, least = float(rng.uniform(8.0, 14.0)) / sensor.width_s, 6.0 / sensor.width_s
    return usual if given is None else float(np.clip(given, least, 2.0 * usual))


def _captured(
    rng: np.random.Generator,
    sensor: _Sensor,
    fault: str,
    step_s: float,
    noise_db: float | None,
    shunt: float,
    truth: dict[str, float],
) -> tuple[Channel, tuple[str, ...]]:
    length_s = sensor.turns * sensor.poles / sensor.rate_hz
    count = min(int(length_s / step_s), 90_000)
    length_s = count * step_s
    times_s = (np.arange(count) + rng.uniform()) * step_s
    numbers = np.arange(1, int(sensor.rate_hz * length_s * 1.6) + 3, dtype=np.float64) - rng.uniform()
    # The wheel speeds up or slows down evenly: pulse n comes where rate·t + half the change·t² is n.
    accel = sensor.change * sensor.rate_hz / length_s
    inside = sensor.rate_hz**2 + 2.0 * accel * numbers
    numbers, inside = numbers[inside > 0], inside[inside > 0]
    starts = (np.sqrt(inside) - sensor.rate_hz) / accel if abs(accel) > 1e-9 else numbers / sensor.rate_hz
    starts = starts[starts < times_s[-1]]
    starts = starts + 0.01 / sensor.rate_hz * rng.uniform(-1.0, 1.0, starts.size)
    named: tuple[str, ...] = ()
    keep = np.ones(starts.size, bool)
    inner = np.arange(4, starts.size - 4)
    if fault == "missing pulses":
        keep[rng.choice(inner, int(rng.integers(2, 6)), replace=False)] = False
        named = ("missing pulses", "intermittent wire")
    if fault == "damaged ring":
        first = int(rng.integers(6, 6 + sensor.poles - 12))
        keep[first :: sensor.poles] = False
        truth["pole"] = float(first)
        named = ("ring damaged",)
    struck = np.zeros(starts.size, bool)
    if fault == "disturbed data":
        many = max(3, round(rng.uniform(0.04, 0.14) * starts.size))
        struck[rng.choice(max(starts.size - 2, many), many, replace=False)] = True
        named = ("data disturbed",)
        truth["struck"] = float(struck.sum())
    amps = _drawn_current(rng, sensor, times_s, starts, keep, struck)
    amps, later = _spoilt(rng, sensor, fault, times_s, amps, truth)
    values, unit = (amps * shunt, "V") if shunt else (amps, "A")
    channel = recorded(
        rng, values, step_s, name="front left", unit=unit, noise_db=noise_db, start_s=float(rng.uniform(-1, 1))
    )
    return channel, later or named


def _drawn_current(
    rng: np.random.Generator, sensor: _Sensor, times_s: Row, starts: Row, keep: np.ndarray, struck: np.ndarray
) -> Row:
    edges: list[float] = []
    levels = [sensor.low_a]
    apart = np.diff(starts, append=starts[-1] + (starts[-1] - starts[-2]))
    rows = zip(starts.tolist(), apart.tolist(), keep.tolist(), struck.tolist(), strict=True)
    for start, long, kept, is_struck in rows:
        if not kept:
            continue
        if sensor.sort == "three levels":
            edges += [start, start + sensor.width_s]
            levels += [sensor.peak_a, sensor.low_a]
            at = start + 1.5 * sensor.width_s
            bits = rng.integers(0, 2, 9)
            bits[8] = bits[:8].sum() % 2  # an even number of ones, the parity included
            if is_struck:
                bits[int(rng.integers(0, 9))] ^= 1
            for bit in bits.tolist():
                first, second = (sensor.low_a, sensor.high_a) if bit else (sensor.high_a, sensor.low_a)
                if at + sensor.width_s < start + 0.95 * long:
                    edges += [at, at + 0.5 * sensor.width_s]
                    levels += [first, second]
                at += sensor.width_s
            edges.append(at)
            levels.append(sensor.low_a)
            if at > start + 0.97 * long:
                edges.pop()
                levels.pop()
                edges.append(start + 0.96 * long)
                levels.append(sensor.low_a)
            continue
        width = sensor.width_s if sensor.sort == "coded width" else sensor.duty * long
        edges += [start, start + width]
        levels += [sensor.high_a, sensor.low_a]
    step_s = float(times_s[1] - times_s[0])
    quick = 0.4 * min(step_s, 5e-6)
    return switched(times_s, np.asarray(edges), np.asarray(levels), np.full(len(edges), quick))


def _spoilt(
    rng: np.random.Generator, sensor: _Sensor, fault: str, times_s: Row, amps: Row, truth: dict[str, float]
) -> tuple[Row, tuple[str, ...]]:
    amps = amps.copy()
    whole = float(times_s[-1] - times_s[0])
    if fault in ("short", "open", "lost signal"):
        begin = float(times_s[0] + whole * rng.uniform(0.3, 0.75))
        level = {"short": float(rng.uniform(45e-3, 90e-3)), "open": 0.0, "lost signal": sensor.low_a}[fault]
        amps[times_s > begin] = level
        truth["lost_s"] = begin - float(times_s[0])
        return amps, {"short": ("short circuit",), "open": ("open circuit",), "lost signal": ("signal lost",)}[fault]
    if fault == "dropouts":
        for _ in range(int(rng.integers(3, 7))):
            begin = rng.uniform(times_s[0] + 0.15 * whole, times_s[-1] - 0.15 * whole)
            amps[(times_s > begin) & (times_s < begin + rng.uniform(1.5, 3.5) / sensor.rate_hz)] = 0.0
        return amps, ("intermittent wire",)
    return amps, ()
