"""Made batteries under charge: a three-phase alternator, its six diodes and regulator, loads that come and go.

The rectifier is solved as a circuit: at each instant the star point's voltage is bisected until the three phase currents
add up to nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from loomlight.sample_captures.makers.instrument import Row, recorded, times
from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.capture import Capture
from loomlight.signal.examination import Conditions

KIND = "charging"
CHANNEL = "battery"
FAULTS = (
    "open diode",
    "shorted diode",
    "lost phase",
    "too high",
    "too low",
    "not charging",
    "fixed value",
    "belt slip",
    "ripple",
)
DIODE_V = 0.9
HALVINGS = 40


@dataclass
class _Charge:
    """A charged battery in the making; ``k`` is 1 for 12 V and 2 for 24 V."""

    rng: np.random.Generator
    k: float
    t: Row
    level: Row
    hz: Row
    diode: str = ""
    drive: float = 0.9
    ohm: float = 6e-3
    is_charging: bool = True
    settings: dict[str, float] = field(default_factory=dict)
    expected: tuple[str, ...] = ()
    truth: dict[str, float] = field(default_factory=dict)

    def draw(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance; see `Maker`."""
    name = fault or str(rng.choice(["steady", "steady", "controlled", "loads"]))
    seconds, usual, build = SCENES[name]
    rate = samples_per_s or usual
    k = 2.0 if rng.random() < 0.2 else 1.0
    t = times(seconds, rate)
    rpm, periods = rng.uniform(750.0, 2600.0), rng.uniform(12.5, 20.0)
    one = _Charge(rng, k, t, np.full(t.size, k * rng.uniform(13.8, 14.7)), np.full(t.size, rpm / 60.0 * periods))
    one.drive, one.ohm = one.draw(0.68, 1.05), one.draw(3e-3, 7e-3)
    if rng.random() < 0.7:
        one.settings["engine-rpm"] = float(rpm)
    _sway(one)
    build(one)
    volts = one.level + (_ripple(one) if one.is_charging else 0.0) + _other_loads(one)
    channel = recorded(rng, CHANNEL, volts, rate, noise_db=noise_db, ranges=(20.0, 40.0), bits=(10, 14))
    conditions = Conditions(settings=tuple(sorted(one.settings.items())))
    truth = one.truth | {"k": k, "hz": float(np.median(one.hz)), "drive": one.drive}
    capture = Capture("made_charging.csv", "made from a circuit", (channel,))
    # Without the engine's speed a lost phase is told by its height alone.
    broken = fault != "lost phase" or "engine-rpm" in one.settings or truth["peak_to_peak"] > 0.55 * k
    return Made(capture, CHANNEL, KIND, fault, conditions, expected=one.expected, limit_broken=broken, truth=truth)


def _sway(one: _Charge) -> None:
    """Each firing speeds the crankshaft up, and the engine's speed drifts."""
    firing = one.draw(22.0, 90.0)
    one.hz = one.hz * (1.0 + one.draw(0.0, 0.025) * np.sin(2 * np.pi * firing * one.t))
    one.hz = one.hz * (1.0 + one.draw(-0.06, 0.06) * np.sin(2 * np.pi * one.draw(0.2, 0.8) * one.t))


def _ripple(one: _Charge) -> Row:
    """Charging current through battery and leads, its mean taken into the level."""
    angle = 2 * np.pi * (np.cumsum(one.hz) * (one.t[1] - one.t[0]) + one.draw(0.0, 1.0))
    places = np.arange(720) / 720 * 2 * np.pi
    winding = one.k * one.draw(0.05, 0.09)
    sizes = 1.0 + one.rng.normal(0.0, 0.01, 3)
    amperes = _rectified(places, one.drive * (one.k * 14.2 + 2 * DIODE_V), winding, one.k * 14.2, one.diode, sizes)
    order = np.arange(361)
    lag = one.draw(0.0, 0.012)
    smooth = np.fft.irfft(np.fft.rfft(amperes) / (1 + 2j * np.pi * order * lag), 720)
    swing = smooth - smooth.mean()
    one.truth["peak_to_peak"] = float(one.ohm * np.ptp(swing)) * one.k
    return one.k * one.ohm * np.interp(np.mod(angle, 2 * np.pi), places, swing, period=2 * np.pi)


def _rectified(angle: Row, peak: float, ohm: float, battery: float, fault: str, sizes: Row) -> Row:
    waves = np.array([size * peak * np.sin(angle - 2 * np.pi * n / 3) for n, size in enumerate(sizes)])
    low, high = np.full((3, 1), -DIODE_V), np.full((3, 1), battery + DIODE_V)
    if fault in ("open diode", "lost phase"):
        high[0] = 1e9
    if fault == "lost phase":
        low[0] = -1e9
    if fault == "shorted diode":
        low[0] = high[0] = battery
    least, most = np.full(angle.size, -9.0 * peak), np.full(angle.size, 9.0 * peak)
    for _ in range(HALVINGS):
        star = 0.5 * (least + most)
        flows = (waves + star - np.clip(waves + star, low, high)).sum(axis=0)
        least, most = np.where(flows > 0, least, star), np.where(flows > 0, star, most)
    star = 0.5 * (least + most)
    current = (waves + star - np.clip(waves + star, low, high)) / ohm
    up = np.where(waves + star >= high, current, 0.0)
    if fault == "shorted diode":
        up[0] = current[0]
    total: Row = up.sum(axis=0)
    return total


def _other_loads(one: _Charge) -> Row:
    """Now and then a pulsed load, and the needles of an ignition."""
    found = np.zeros(one.t.size)
    if one.rng.random() < 0.3:
        hz, duty = one.draw(20.0, 250.0), one.draw(0.1, 0.9)
        found -= one.k * one.draw(0.005, 0.03) * (np.mod(hz * one.t, 1.0) < duty)
    for _ in range(int(one.rng.integers(0, 4))):
        at, tau = one.draw(0.1, 0.9) * one.t[-1], one.draw(0.01, 0.06)
        # The regulator makes up for most of it.
        since = np.clip(one.t - at, 0.0, None)
        step = one.k * one.draw(-0.3, 0.3) * (one.t >= at)
        found += step * (0.15 + 0.85 * np.exp(-since / (3 * tau))) * (1.0 - np.exp(-since / 0.002))
    return found


def _steady(one: _Charge) -> None:
    pass


def _loads(one: _Charge) -> None:
    at = one.draw(0.3, 0.6) * one.t[-1]
    one.level -= one.k * one.draw(0.2, 0.8) * np.where(one.t > at, np.exp(-np.clip(one.t - at, 0, None) / 0.08), 0.0)


def _controlled(one: _Charge) -> None:
    """The control unit asks for more or less: 12.6 to 15 V."""
    one.settings["controlled"] = 1.0
    marks = np.linspace(0.0, one.t[-1], 7)
    asked = one.rng.uniform(12.7, 15.0, 7)
    asked[[1, 4]] = (12.8, 14.7)
    one.level = one.k * np.interp(one.t, marks, asked)


def _of_a_diode(one: _Charge, fault: str) -> None:
    one.diode = fault
    one.ohm = one.draw(6e-3, 14e-3)
    one.drive = one.draw(0.74, 1.1)
    one.expected = (fault,)


def _open_diode(one: _Charge) -> None:
    _of_a_diode(one, "open diode")
    one.level -= one.k * one.draw(0.0, 0.4)


def _shorted_diode(one: _Charge) -> None:
    _of_a_diode(one, "shorted diode")
    one.level -= one.k * one.draw(0.3, 1.5)


def _lost_phase(one: _Charge) -> None:
    _of_a_diode(one, "lost phase")
    one.level -= one.k * one.draw(0.0, 0.5)
    if "engine-rpm" not in one.settings:
        one.expected = ()


def _too_high(one: _Charge) -> None:
    one.level += one.k * one.draw(15.75, 17.0) - one.level.mean()
    one.expected = ("regulator voltage too high",)


def _too_low(one: _Charge) -> None:
    one.settings["controlled"] = 0.0
    one.level += one.k * one.draw(12.3, 13.0) - one.level.mean()
    one.expected = ("regulator voltage too low",)


def _not_charging(one: _Charge) -> None:
    one.settings["controlled"] = 0.0
    one.is_charging = False
    one.level += one.k * (one.draw(11.6, 12.5) - 0.1 * one.t / one.t[-1]) - one.level.mean()
    one.expected = ("not charging",)


def _fixed_value(one: _Charge) -> None:
    one.settings["controlled"] = 1.0
    one.level += one.k * one.draw(14.25, 14.55) - one.level.mean()
    one.expected = ("held at one value",)


def _belt_slip(one: _Charge) -> None:
    """A load comes, the belt lets go: the alternator falls behind within some tens of milliseconds and catches up."""
    lost = np.zeros(one.t.size)
    for at in (
        one.draw(0.25, 0.45) * one.t[-1],
        *([one.draw(0.6, 0.75) * one.t[-1]] if one.rng.random() < 0.5 else []),
    ):
        since = np.clip(one.t - at, 0.0, None)
        lost += one.draw(0.18, 0.4) * (1 - np.exp(-since / 0.012)) * np.exp(-since / one.draw(0.08, 0.2)) * (one.t > at)
    one.hz = one.hz * (1.0 - lost)
    one.level -= one.k * 2.0 * lost
    one.expected = ("belt slip",)


def _too_much_ripple(one: _Charge) -> None:
    """A sound rectifier on a battery, or leads, of high resistance."""
    one.drive = one.draw(0.68, 0.85)
    one.ohm = one.draw(0.09, 0.14)
    one.expected = ("too much ripple",)


SCENES: dict[str, tuple[float, float, Callable[[_Charge], None]]] = {
    "steady": (0.5, 50e3, _steady),
    "loads": (1.0, 40e3, _loads),
    "controlled": (30.0, 2e3, _controlled),
    "open diode": (0.5, 50e3, _open_diode),
    "shorted diode": (0.5, 50e3, _shorted_diode),
    "lost phase": (0.5, 50e3, _lost_phase),
    "too high": (0.5, 50e3, _too_high),
    "too low": (0.5, 50e3, _too_low),
    "not charging": (0.5, 50e3, _not_charging),
    "fixed value": (30.0, 2e3, _fixed_value),
    "belt slip": (1.5, 40e3, _belt_slip),
    "ripple": (0.5, 50e3, _too_much_ripple),
}
