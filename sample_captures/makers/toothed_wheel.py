"""A toothed wheel before a Hall or an inductive sensor, and what goes wrong with either.

The wheel turns by an angle that is known at every moment; a Hall sensor switches where a tooth begins and ends, an inductive
one gives the change of a flux that has a bump at each tooth (Faraday's law: its volts follow the speed).
"""

from dataclasses import dataclass, replace

import numpy as np

from loomlight.sample_captures.makers.pulse_recording import Row, captured, recorded, switched
from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.examination import Conditions

KIND = "toothed-wheel"
FAULTS = (
    "missing tooth",
    "damaged tooth",
    "extra tooth",
    "run-out",
    "weak signal",
    "wrong gap",
    "dropouts",
    "lost signal",
    "short to ground",
    "short to battery",
    "open",
    "series resistance",
    "swapped wires",
    "cam drift",
)
WHEELS = {"60-2": (60, (58, 59)), "36-1": (36, (35,)), "36-2-2-2": (36, (13, 14, 16, 17, 34, 35))}


@dataclass(frozen=True)
class _Wheel:
    """What stands before the sensor, and the sensor."""

    teeth: int
    absent: tuple[int, ...]
    hall: bool
    pull_v: float
    low_v: float
    rpm: float
    turns: float
    ripple: float
    humps: int
    gain_v: float  # inductive: peak volts at 1000 rpm
    bias_v: float
    sign: float
    width: float
    runout: float = 0.0
    runout_at: float = 0.0
    shifts: tuple[float, ...] = ()  # of each tooth, in pitches
    heights: tuple[float, ...] = ()
    extra_at: float | None = None


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance."""
    wheel = _drawn(rng, fault)
    truth: dict[str, float] = {"rpm": wheel.rpm, "teeth": wheel.teeth}
    expected: tuple[str, ...] = ()
    whole = wheel
    if fault == "missing tooth":
        tooth = _tooth(rng, wheel)
        wheel = replace(wheel, absent=tuple(sorted((*wheel.absent, tooth))))
        truth["tooth"] = tooth + 1
        # With single gaps all alike nobody can tell the gap from the lost tooth: either may be the one that lacks.
        other = (whole.absent[0] - tooth,) if len(whole.absent) == 1 else ()
        expected = tuple(f"tooth {one} missing" for one in (tooth + 1, *other))
    elif fault == "damaged tooth":
        tooth = _tooth(rng, wheel)
        wheel = _damaged(rng, wheel, tooth)
        truth["tooth"] = tooth + 1
        # A tooth that gives a third of its neighbours' signal may be as good as none.
        nearly_gone = wheel.heights[tooth] < 0.45
        expected = (f"tooth {tooth + 1} damaged", *((f"tooth {tooth + 1} missing",) if nearly_gone else ()))
    elif fault == "extra tooth":
        tooth = _tooth(rng, wheel)
        wheel = replace(wheel, extra_at=tooth + 0.5)
        truth["tooth"] = tooth + 1
        expected = ("extra tooth",)
    elif fault == "run-out":
        wheel = replace(wheel, runout=float(rng.uniform(0.32, 0.6)), runout_at=float(rng.uniform(0, 2 * np.pi)))
        expected = ("run-out",)
    needs_good = fault in ("wrong gap", "swapped wires", "cam drift")
    with_cam = fault in ("cam drift", "open") or rng.random() < 0.2
    step_s = 1.0 / _rate(rng, wheel, samples_per_s)
    channel, cam, extra = _captured(rng, wheel, fault, step_s, noise_db, with_cam, truth)
    expected = expected or extra
    good: Capture | None = None
    good_besides: tuple[Beside, ...] = ()
    if needs_good or rng.random() < 0.5:
        healthy = replace(whole, rpm=whole.rpm * rng.uniform(0.8, 1.25), bias_v=whole.bias_v + 0.02 * rng.normal())
        healthy = replace(healthy, gain_v=healthy.gain_v * rng.uniform(0.9, 1.1))
        other_step_s = step_s * rng.choice([0.5, 1.0]) if samples_per_s is None else step_s
        one, other, _ = _captured(rng, healthy, "", float(other_step_s), noise_db, with_cam, {})
        good = captured(one, *((other,) if other is not None else ()))
        good_besides = (Beside("cam", other),) if other is not None else ()
    besides = (Beside("cam", cam),) if cam is not None else ()
    return Made(
        capture=captured(channel, *((cam,) if cam is not None else ())),
        channel=channel.name,
        kind=KIND,
        fault=fault,
        conditions=Conditions(supply_v=float(rng.uniform(12.0, 14.4)), besides=besides),
        good=good,
        good_besides=good_besides,
        expected=expected,
        limit_broken=bool(fault),
        truth=truth,
    )


def _drawn(rng: np.random.Generator, fault: str) -> _Wheel:
    name = str(rng.choice(list(WHEELS), p=[0.5, 0.3, 0.2]))
    teeth, absent = WHEELS[name]
    hall = bool(rng.random() < 0.5)
    if fault in ("run-out", "wrong gap", "swapped wires"):
        hall = False
    if fault in ("short to battery", "series resistance"):
        hall = True
    rpm = float(np.exp(rng.uniform(np.log(140.0), np.log(4000.0))))
    cranking = rpm < 400.0
    return _Wheel(
        teeth=teeth,
        absent=absent,
        hall=hall,
        pull_v=float(rng.choice([5.0, 5.0, 12.5 if fault != "series resistance" else 5.0])) * rng.uniform(0.98, 1.02),
        low_v=float(rng.uniform(0.05, 0.4)),
        rpm=rpm,
        turns=float(rng.uniform(6.0, 12.0)),
        ripple=float(rng.uniform(0.03, 0.12) if cranking else rng.uniform(0.0, 0.02)),
        humps=int(rng.choice([2, 2, 3, 1, 4])),
        gain_v=float(np.exp(rng.uniform(np.log(4.0), np.log(20.0)))),
        bias_v=float(rng.choice([0.0, 0.0, 2.5, rng.uniform(1.0, 4.0)])),
        sign=float(rng.choice([-1.0, 1.0])),
        width=float(rng.uniform(0.4, 0.6)),
        runout=float(rng.uniform(0.0, 0.06)),
        runout_at=float(rng.uniform(0.0, 2 * np.pi)),
        shifts=tuple((0.008 * rng.uniform(-1.0, 1.0, teeth)).tolist()),
        heights=tuple((1.0 + 0.02 * rng.normal(size=teeth)).tolist()),
    )


def _tooth(rng: np.random.Generator, wheel: _Wheel) -> int:
    """One that stands, with two standing ones on either side."""
    here = np.array(
        [
            all((tooth + away) % wheel.teeth not in wheel.absent for away in (-2, -1, 0, 1, 2))
            for tooth in range(wheel.teeth)
        ]
    )
    return int(rng.choice(np.flatnonzero(here)))


def _damaged(rng: np.random.Generator, wheel: _Wheel, tooth: int) -> _Wheel:
    shifts, heights = list(wheel.shifts), list(wheel.heights)
    if wheel.hall or rng.random() < 0.5:
        shifts[tooth] = float(rng.choice([-1.0, 1.0]) * rng.uniform(0.17, 0.25))
    else:
        heights[tooth] = float(rng.uniform(0.2, 0.5))
    return replace(wheel, shifts=tuple(shifts), heights=tuple(heights))


def _rate(rng: np.random.Generator, wheel: _Wheel, given: float | None) -> float:
    """Samples a second, 20 to 60 a tooth; a given rate is kept where it leaves at least 12."""
    tooth_hz = wheel.rpm / 60.0 * wheel.teeth
    if given is not None:
        return float(np.clip(given, 12.0 * tooth_hz, 150.0 * tooth_hz))
    return float(tooth_hz * rng.uniform(20.0, 60.0))


def _captured(
    rng: np.random.Generator,
    wheel: _Wheel,
    fault: str,
    step_s: float,
    noise_db: float | None,
    with_cam: bool,
    truth: dict[str, float],
) -> tuple[Channel, Channel | None, tuple[str, ...]]:
    length_s = wheel.turns * 60.0 / wheel.rpm
    count = min(int(length_s / step_s), 90_000)
    times_s = (np.arange(count) + rng.uniform()) * step_s
    turned = _angle(rng, wheel, times_s, count * step_s)
    volts = _hall(wheel, times_s, turned) if wheel.hall else _inductive(wheel, turned, times_s)
    volts, expected = _spoilt(rng, wheel, fault, times_s, volts, truth)
    start_s = float(rng.uniform(-1.0, 1.0))
    channel = recorded(rng, volts, step_s, name="crank", noise_db=noise_db, start_s=start_s)
    cam = None
    if with_cam:
        late = 0.0
        if fault == "cam drift":
            late = float(rng.choice([-1.0, 1.0]) * rng.uniform(9.0, 30.0))
            truth["drift_deg"] = late
            expected = ("cam timing off",)
        cam_v = _cam(times_s, turned, late)
        cam = recorded(rng, cam_v, step_s, name="cam", noise_db=noise_db, start_s=start_s)
    return channel, cam, expected


def _angle(rng: np.random.Generator, wheel: _Wheel, times_s: Row, whole_s: float) -> Row:
    """Turns at each moment: a steady part, a slow change, and compression once or several times a turn."""
    steady = wheel.rpm / 60.0 * times_s
    change = rng.uniform(-0.08, 0.08)
    even = rng.uniform(0.0, 2.0) + steady * (1.0 + change * times_s / whole_s)
    phase = rng.uniform(0.0, 2 * np.pi)
    return even + wheel.ripple / (2 * np.pi * wheel.humps) * np.sin(2 * np.pi * wheel.humps * even + phase)


def _standing(wheel: _Wheel, first: int, last: int) -> tuple[Row, Row, Row]:
    """Middle of each tooth in turns, its height, its width in pitches, from one whole turn to another."""
    teeth = np.array([one for one in range(wheel.teeth) if one not in wheel.absent])
    middles = teeth + 0.5 + np.asarray(wheel.shifts)[teeth]
    heights, widths = np.asarray(wheel.heights)[teeth], np.full(teeth.size, wheel.width)
    if wheel.extra_at is not None:
        middles = np.append(middles, wheel.extra_at + 0.5)
        heights, widths = (
            np.append(heights, 1.0 if wheel.hall else 1.5),
            np.append(widths, min(0.5 * (1 - wheel.width), 0.3)),
        )
        order = np.argsort(middles)
        middles, heights, widths = middles[order], heights[order], widths[order]
    angle = middles / wheel.teeth
    turns = np.arange(first, last)[:, None]
    heights = heights * (1.0 + wheel.runout * np.cos(2 * np.pi * angle - wheel.runout_at))
    many = turns.size
    return (turns + angle).ravel(), np.tile(heights, many), np.tile(widths, many)


def _hall(wheel: _Wheel, times_s: Row, turned: Row) -> Row:
    middles, _, widths = _standing(wheel, int(turned[0]) - 1, int(turned[-1]) + 2)
    half = 0.5 * widths / wheel.teeth
    bounds = np.column_stack([middles - half, middles + half]).ravel()
    edges_s = np.interp(bounds, turned, times_s, left=-np.inf, right=np.inf)
    inside = np.isfinite(edges_s)
    first = int(np.argmax(inside)) if inside.any() else 0
    edges_s = edges_s[inside]
    ends = (wheel.low_v, wheel.pull_v) if wheel.sign > 0 else (wheel.pull_v, wheel.low_v)
    levels = np.array([ends[(first + place) % 2] for place in range(edges_s.size + 1)])
    falling = np.diff(levels) < 0
    quick_s = 0.002 / (wheel.rpm / 60.0 * wheel.teeth)
    return switched(times_s, edges_s, levels, np.where(falling, quick_s, 4 * quick_s))


def _inductive(wheel: _Wheel, turned: Row, times_s: Row) -> Row:
    middles, heights, widths = _standing(wheel, int(turned[0]) - 1, int(turned[-1]) + 2)
    spread = 0.28 / wheel.teeth
    slope = np.zeros(turned.size)
    nearest = np.searchsorted(middles, turned)
    for away in range(-5, 5):
        which = np.clip(nearest + away, 0, middles.size - 1)
        valid = nearest + away == which
        narrow = spread * np.where(widths[which] < 0.35, 0.5, 1.0)
        place = (turned - middles[which]) / narrow
        slope += np.where(valid, -heights[which] * place * np.exp(-0.5 * place**2), 0.0)
    speed = np.gradient(turned, times_s) * 60.0
    return wheel.bias_v + wheel.sign * wheel.gain_v * (speed / 1000.0) * slope


def _cam(times_s: Row, turned: Row, late_deg: float) -> Row:
    """Four teeth of unlike width on a shaft that turns half as fast."""
    bounds = (np.array([20.0, 90.0, 200.0, 235.0, 380.0, 470.0, 560.0, 580.0]) + late_deg) / 720.0
    cycles = np.arange(int(turned[0] / 2) - 2, int(turned[-1] / 2) + 3)
    whole = 2.0 * (cycles[:, None] + bounds).ravel()
    edges_s = np.interp(whole, turned, times_s, left=-np.inf, right=np.inf)
    inside = np.isfinite(edges_s)
    first = int(np.argmax(inside)) if inside.any() else 0
    levels = np.array([(0.2, 4.9)[(first + place) % 2] for place in range(int(inside.sum()) + 1)])
    step_s = float(times_s[1] - times_s[0])
    return switched(times_s, edges_s[inside], levels, np.full(int(inside.sum()), 0.3 * step_s))


def _spoilt(
    rng: np.random.Generator, wheel: _Wheel, fault: str, times_s: Row, volts: Row, truth: dict[str, float]
) -> tuple[Row, tuple[str, ...]]:
    """What the wire and the sensor's distance do to the signal."""
    volts = volts.copy()
    turn_s = 60.0 / wheel.rpm
    idle = wheel.pull_v if wheel.hall else wheel.bias_v
    if fault == "weak signal":
        if wheel.hall:
            lifted = float(rng.uniform(1.3, 2.2)) if wheel.pull_v < 8 else float(rng.uniform(3.2, 5.0))
            share = 1.0 - lifted / wheel.pull_v
            volts = wheel.pull_v - (wheel.pull_v - volts) * share
            truth["low_v"] = lifted
        else:
            volts = wheel.bias_v + (volts - wheel.bias_v) * (
                0.06 / float(np.percentile(np.abs(volts - wheel.bias_v), 90))
            )
        return volts, ("weak signal",)
    if fault == "wrong gap":
        share = float(rng.uniform(0.2, 0.4))
        truth["share"] = share
        return wheel.bias_v + (volts - wheel.bias_v) * share, ("air gap too wide", "weak signal")
    if fault == "dropouts":
        for _ in range(int(rng.integers(3, 9))):
            begin = rng.uniform(times_s[0] + turn_s, times_s[-1] - 0.5 * turn_s)
            long_s = turn_s / wheel.teeth * rng.uniform(1.5, 6.0)
            volts[(times_s > begin) & (times_s < begin + long_s)] = idle
        return volts, ("intermittent wire",)
    if fault in ("lost signal", "short to ground", "short to battery"):
        begin = float(rng.uniform(times_s[0] + 2.5 * turn_s, times_s[-1] - 1.5 * turn_s))
        level = idle if fault == "lost signal" else 0.02 if fault == "short to ground" else 13.6
        volts[times_s > begin] = level
        truth["lost_s"] = begin - float(times_s[0])
        return volts, ("signal lost",)
    if fault == "open":
        return np.full(volts.size, idle), ("no signal",)
    if fault == "series resistance":
        share = float(rng.uniform(0.3, 0.6))
        truth["share"] = share
        return wheel.low_v + (volts - wheel.low_v) * share, ("weak signal",)
    if fault == "swapped wires":
        return 2 * wheel.bias_v - volts, ("wires swapped",)
    return volts, ()
