"""Made supply rails: steady, in a start, with every disturbance that the kind names."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from loomlight.sample_captures.makers.instrument import Row, recorded, times
from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Capture
from loomlight.signal.examination import Conditions

KIND = "supply"
CHANNEL = "unit supply"
FAULTS = (
    "too low",
    "too high",
    "cut off",
    "deep dip",
    "ripple",
    "load dump",
    "pulse 1",
    "pulse 2a",
    "burst",
    "voltage drop",
)


@dataclass
class _Rail:
    """A rail in the making: ``k`` is 1 for 12 V and 2 for 24 V."""

    rng: np.random.Generator
    k: float
    t: Row
    volts: Row
    amperes: Row | None = None
    far: Row | None = None
    expected: tuple[str, ...] = ()
    truth: dict[str, float] = field(default_factory=dict)

    def draw(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance; see `Maker`."""
    name = fault or str(rng.choice(["steady", "running", "start", "small transients", "small drop"]))
    seconds, usual, build = SCENES[name]
    rate = samples_per_s or usual
    k = 2.0 if rng.random() < 0.25 else 1.0
    t = times(seconds, rate)
    rail = _Rail(rng, k, t, np.full(t.size, k * rng.uniform(12.2, 14.3)))
    _wander(rail)
    build(rail)
    channels = [recorded(rng, CHANNEL, rail.volts, rate, noise_db=noise_db)]
    besides: tuple[Beside, ...] = ()
    if rail.far is not None and rail.amperes is not None:
        channels.append(recorded(rng, "battery positive", rail.far, rate, noise_db=noise_db))
        channels.append(
            recorded(rng, "clamp", rail.amperes, rate, unit="A", noise_db=noise_db, ranges=(60.0, 100.0, 600.0))
        )
        besides = (Beside("far end", channels[1]), Beside("current", channels[2]))
    capture = Capture("made_supply.csv", "made from formulas", tuple(channels))
    known = (("system", 12.0 * k),) if fault == "too low" else ()
    conditions = Conditions(besides=besides, settings=known)
    return Made(capture, CHANNEL, KIND, fault, conditions, expected=rail.expected, truth=rail.truth | {"k": k})


def _wander(rail: _Rail) -> None:
    """Loads come and go: the level moves by some tenths of a volt."""
    for _ in range(rail.rng.integers(0, 4)):
        at, tau = rail.draw(0.1, 0.9) * rail.t[-1], rail.draw(0.002, 0.05)
        step = rail.k * rail.draw(-0.12, 0.12)
        rail.volts += step * (1.0 - np.exp(-np.clip(rail.t - at, 0.0, None) / tau))


def _steady(rail: _Rail) -> None:
    pass


def _running(rail: _Rail) -> None:
    _humps(rail, rail.k * rail.draw(0.05, 0.5))


def _humps(rail: _Rail, peak_to_peak: float) -> None:
    """A six-pulse rectifier's crests."""
    hz = rail.draw(200.0, 1200.0)
    phase = 2 * np.pi * (hz * rail.t + rail.draw(0.0, 1.0)) + 0.3 * np.sin(2 * np.pi * 1.7 * rail.t)
    crest = np.abs(np.cos(np.mod(phase, 2 * np.pi) / 6 - np.pi / 6))
    low, high = np.cos(np.pi / 6), 1.0
    rail.volts += peak_to_peak * ((crest - low) / (high - low) - 0.6)
    rail.truth["peak_to_peak"] = peak_to_peak


def _start_dip(
    rail: _Rail, at: float, lowest: float, plateau: float, hold: float, length: float, recovery: float
) -> None:
    level, t = float(rail.volts[0]), rail.t - at
    times_s = np.cumsum([0.0, rail.draw(3e-3, 5e-3), hold, rail.draw(0.02, 0.045), length, recovery])
    after = level + rail.k * rail.draw(-0.3, 0.6)
    shape = np.interp(t, times_s, [level, lowest, lowest, plateau, plateau, after])
    turning = (t > times_s[3]) & (t < times_s[4])
    swing = rail.k * rail.draw(0.1, 0.4) * (1.0 - np.cos(2 * np.pi * rail.draw(4.0, 12.0) * (t - times_s[3])))
    rail.volts = np.where(t < 0, rail.volts, shape + np.where(turning, swing, 0.0))
    rail.truth |= {"lowest": lowest, "at": at}


def _start(rail: _Rail) -> None:
    """Within level I: 12 V down to 8 V for 15 ms, 24 V to 10 V for 50 ms; then above the lowest working voltage."""
    rail.volts += rail.k * 12.6 - rail.volts[0]
    lowest = rail.draw(8.25, 8.8) if rail.k == 1 else rail.draw(11.0, 15.0)
    plateau = rail.draw(9.7, 10.6) if rail.k == 1 else rail.draw(20.2, 21.5)
    hold, recovery = (rail.draw(4e-3, 12e-3), rail.draw(0.04, 0.12))
    _start_dip(rail, rail.draw(0.2, 0.5), lowest, plateau, hold, rail.draw(0.4, 0.9), recovery)


def _deep_dip(rail: _Rail) -> None:
    """Deeper than level III, or as deep as its plateau for much longer."""
    rail.volts += rail.k * 12.6 - rail.volts[0]
    rail.expected = ("dip beyond the start profile",)
    if rail.rng.random() < 0.5:
        lowest = rail.draw(1.5, 2.6) if rail.k == 1 else rail.draw(3.0, 5.5)
        plateau, hold = rail.k * rail.draw(6.0, 7.5), rail.draw(0.015, 0.08)
    else:
        lowest, plateau, hold = rail.k * 3.4, rail.k * rail.draw(3.6, 4.1), 0.01
    _start_dip(rail, rail.draw(0.2, 0.5), lowest, plateau, hold, rail.draw(1.1, 1.3), rail.draw(0.06, 0.15))


def _too_low(rail: _Rail) -> None:
    # A 24 V vehicle this low looks like a 12 V one: the person says which it is.
    rail.volts += (rail.draw(7.2, 8.6) if rail.k == 1 else rail.draw(13.0, 15.3)) - rail.volts.mean()
    rail.expected = ("supply too low",)


def _too_high(rail: _Rail) -> None:
    rail.volts += (rail.draw(16.5, 17.4) if rail.k == 1 else rail.draw(32.8, 36.0)) - rail.volts.mean()
    rail.expected = ("supply too high",)


def _cut_off(rail: _Rail) -> None:
    count = int(rail.rng.integers(1, 6))
    rail.expected = ("supply cut off for moments",)
    places = np.sort(rail.rng.choice(np.arange(1, 12), count, replace=False)) * rail.t[-1] / 13.0
    holds = rail.draw(0.0, 2e-3) if rail.rng.random() < 0.5 else 20e-6
    low = rail.k * rail.draw(0.0, 4.0)
    for at in places.tolist():
        length = max(rail.draw(0.5e-3, 25e-3), 5 * holds)
        inside = (rail.t >= at) & (rail.t < at + length)
        falling = low + (rail.volts - low) * np.exp(-np.clip(rail.t - at, 0.0, None) / max(holds, 1e-6))
        rail.volts = np.where(inside, falling, rail.volts)
    rail.truth["breaks"] = float(count)


def _ripple(rail: _Rail) -> None:
    rail.volts += rail.k * 13.2 - rail.volts.mean()
    _humps(rail, rail.k * rail.draw(1.25, 2.4))
    rail.expected = ("too much ripple",)


def _load_dump(rail: _Rail) -> None:
    """ISO 16750-2 test A (unclamped) or B (clamped): 79 to 101 V in the test, less where loads stay connected."""
    at, height, lasts = rail.draw(0.2, 0.5), rail.k * rail.draw(16.0, 70.0), rail.draw(0.06, 0.4)
    rise = rail.draw(5e-3, 10e-3)
    t = rail.t - at
    pulse = np.where(
        t < rise, np.clip(t / rise, 0.0, 1.0), np.exp(-np.clip(t - rise, 0.0, None) / (lasts / np.log(10)))
    )
    if rail.rng.random() < 0.5:
        pulse = np.minimum(pulse, max(rail.draw(0.35, 0.7), 13.0 * rail.k / height))
    rail.volts += height * pulse
    rail.expected = ("load dump",)
    rail.truth |= {"height": float(height * pulse.max()), "lasts": lasts}


def _double_exponential(t: Row, rise: float, lasts: float) -> Row:
    """ISO 7637-2: ``lasts`` from a tenth to a tenth."""
    tau = lasts / np.log(10)
    shape = np.where(t < 0, 0.0, np.exp(-np.clip(t, 0.0, None) / tau) - np.exp(-np.clip(t, 0.0, None) / (rise / 2.2)))
    fine = np.linspace(0.0, lasts, 4000)
    top = float((np.exp(-fine / tau) - np.exp(-fine / (rise / 2.2))).max())
    found: Row = shape / top
    return found


def _pulses(rail: _Rail, height: float, rise: float, lasts: float) -> None:
    for place in range(int(rail.rng.integers(1, 4))):
        at = rail.t[-1] * (0.1 + 0.28 * place + rail.draw(0.0, 0.08))
        rail.volts = rail.volts + height * rail.draw(0.9, 1.0) * _double_exponential(rail.t - at, rise, lasts)
    rail.truth |= {"height": height, "tau": lasts / float(np.log(10))}


def _pulse_1(rail: _Rail) -> None:
    _pulses(rail, -rail.k * rail.draw(20.0, 95.0), 1e-6, rail.draw(0.5e-3, 2e-3))
    rail.expected = ("transient like pulse 1",)


def _pulse_2a(rail: _Rail) -> None:
    _pulses(rail, rail.k * rail.draw(18.0, 80.0), 1e-6, rail.draw(40e-6, 120e-6))
    rail.expected = ("transient like pulse 2a",)


def _burst(rail: _Rail) -> None:
    """Needles every 100 µs (ISO 7637-2, pulses 3a and 3b), widened by the loom's inductance."""
    up = rail.rng.random() < 0.5
    height = rail.k * (rail.draw(20.0, 90.0) if up else -rail.draw(35.0, 120.0))
    every, wide = rail.draw(80e-6, 150e-6), rail.draw(0.5e-6, 1.2e-6)
    first = rail.draw(0.5e-3, 1.5e-3)
    for at in np.arange(first, first + rail.draw(2e-3, 4e-3), every).tolist():
        near = slice(*np.searchsorted(rail.t, [at - 1e-6, at + 12 * wide]).tolist())
        rail.volts[near] += (
            height * rail.draw(0.8, 1.0) * np.exp(-np.clip(rail.t[near] - at, 0.0, None) / wide) * (rail.t[near] >= at)
        )
    rail.expected = ("transient like pulse 3b",) if up else ("transient like pulse 3a",)


def _small_transients(rail: _Rail) -> None:
    if rail.rng.random() < 0.5:
        _pulses(rail, rail.draw(1.0, 7.0), 1e-6, rail.draw(40e-6, 120e-6))
    else:
        _pulses(rail, -rail.k * rail.draw(1.0, 10.0), 1e-6, rail.draw(0.5e-3, 2e-3))


def _with_drop(rail: _Rail, ohm: float) -> None:
    """A load that is switched: blower, heated screen, lamps."""
    amperes = np.zeros(rail.t.size)
    full = rail.draw(15.0, 50.0)
    for _ in range(int(rail.rng.integers(2, 6))):
        begin = rail.draw(0.02, 0.7) * rail.t[-1]
        stop = begin + rail.draw(0.1, 0.28) * rail.t[-1]
        amperes = np.where((rail.t > begin) & (rail.t < stop), full * rail.draw(0.9, 1.0), amperes)
    amperes += rail.draw(0.5, 2.0)
    rail.far = rail.volts - 0.012 * amperes
    rail.volts = rail.far - ohm * amperes
    rail.amperes = amperes
    rail.truth |= {"ohm": ohm, "amperes": full}


def _small_drop(rail: _Rail) -> None:
    _with_drop(rail, rail.draw(0.5e-3, 5e-3))


def _voltage_drop(rail: _Rail) -> None:
    rail.volts += rail.k * 13.2 - rail.volts.mean()
    _with_drop(rail, rail.draw(0.06, 0.09))
    rail.expected = ("too much voltage drop",)


SCENES: dict[str, tuple[float, float, Callable[[_Rail], None]]] = {
    "steady": (1.0, 20e3, _steady),
    "running": (0.5, 50e3, _running),
    "start": (2.0, 10e3, _start),
    "small transients": (0.02, 1e6, _small_transients),
    "small drop": (1.0, 10e3, _small_drop),
    "too low": (1.0, 20e3, _too_low),
    "too high": (1.0, 20e3, _too_high),
    "cut off": (0.5, 50e3, _cut_off),
    "deep dip": (2.2, 10e3, _deep_dip),
    "ripple": (0.5, 50e3, _ripple),
    "load dump": (1.2, 20e3, _load_dump),
    "pulse 1": (0.02, 1e6, _pulse_1),
    "pulse 2a": (0.01, 2e6, _pulse_2a),
    "burst": (6e-3, 10e6, _burst),
    "voltage drop": (1.0, 10e3, _voltage_drop),
}
