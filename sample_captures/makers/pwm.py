"""A switched or pulse-width modulated wire: logic, lamp or coil behind a switch, and what goes wrong with it."""

from dataclasses import dataclass, replace

import numpy as np

from loomlight.sample_captures.makers.pulse_recording import Row, captured, recorded, switched
from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.examination import Conditions

KIND = "pwm"
FAULTS = (
    "missing pulses",
    "extra pulses",
    "runts",
    "jitter",
    "weak low",
    "weak high",
    "slow edges",
    "lost signal",
    "short to ground",
    "short to battery",
    "dropouts",
    "no clamp",
    "no flyback",
    "frequency off",
    "open",
)


@dataclass(frozen=True)
class _Wire:
    """What is behind the wire."""

    rate_hz: float
    duty: float
    sway: float  # of the duty, slowly
    low_v: float
    high_v: float
    rise: float  # time constants as shares of a period
    fall: float
    coil: bool
    clamp_v: float
    spike: float  # length of the flyback, of a period
    jitter: float
    periods: float


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance."""
    wire = _drawn(rng, fault)
    healthy = wire
    truth: dict[str, float] = {"rate_hz": wire.rate_hz, "duty": wire.duty}
    expected: tuple[str, ...] = ()
    if fault == "jitter":
        wire = replace(wire, jitter=float(rng.uniform(0.09, 0.13)), duty=float(rng.uniform(0.35, 0.6)), sway=0.0)
        expected = ("jitter",)
    elif fault == "weak low":
        wire = replace(wire, low_v=float(wire.high_v * rng.uniform(0.27, 0.45)))
        expected = ("weak low level",)
    elif fault == "weak high":
        wire = replace(wire, high_v=float(wire.high_v * rng.uniform(0.45, 0.7)))
        expected = ("weak high level",)
    elif fault == "slow edges":
        wire = replace(wire, rise=float(rng.uniform(0.09, 0.12)), duty=0.5, sway=0.0, coil=False)
        expected = ("slow edges",)
    elif fault == "no clamp":
        wire = replace(wire, clamp_v=wire.clamp_v * float(rng.uniform(1.8, 3.5)), spike=0.5 * wire.spike)
        expected = ("no clamp",)
    elif fault == "no flyback":
        wire = replace(wire, clamp_v=wire.high_v + float(rng.uniform(0.0, 1.0)))
        expected = ("flyback too low",)
    elif fault == "frequency off":
        wire = replace(wire, rate_hz=wire.rate_hz * float(rng.choice([rng.uniform(0.5, 0.8), rng.uniform(1.25, 2.0)])))
        expected = ("frequency differs",)
    step_s = 1.0 / _rate(rng, wire, samples_per_s)
    channel, named = _captured(rng, wire, fault, step_s, noise_db, truth)
    needs_good = fault in ("no flyback", "frequency off") or (fault == "weak high" and wire.high_v > 0)
    good: Capture | None = None
    if needs_good or rng.random() < 0.5:
        other = replace(
            healthy,
            rate_hz=healthy.rate_hz * rng.uniform(0.97, 1.03),
            duty=float(np.clip(healthy.duty + rng.uniform(-0.1, 0.1), 0.15, 0.85)),
            clamp_v=healthy.clamp_v * rng.uniform(0.95, 1.05),
        )
        good = captured(_captured(rng, other, "", step_s, noise_db, {})[0])
    settings = (("clamp", float(round(healthy.clamp_v))),) if healthy.coil else ()
    supply = healthy.high_v if healthy.high_v > 8 else float(rng.uniform(12.2, 14.4))
    return Made(
        capture=captured(channel),
        channel=channel.name,
        kind=KIND,
        fault=fault,
        conditions=Conditions(supply_v=float(supply), settings=settings),
        good=good,
        expected=expected or named,
        limit_broken=bool(fault) and fault != "open",
        truth=truth,
    )


def _drawn(rng: np.random.Generator, fault: str) -> _Wire:
    coil = (bool(rng.random() < 0.4) or fault in ("no clamp", "no flyback")) and fault != "slow edges"
    logic = not coil and rng.random() < 0.5 and fault != "short to battery"
    high_v = float(rng.uniform(4.9, 5.1) if logic else rng.uniform(12.2, 14.4))
    rate_hz = float(np.exp(rng.uniform(np.log(50.0), np.log(2000.0))))
    return _Wire(
        rate_hz=rate_hz,
        duty=float(rng.uniform(0.2, 0.8)),
        sway=float(rng.choice([0.0, rng.uniform(0.02, 0.1)])),
        low_v=float(rng.uniform(0.02, 0.07) * high_v),
        high_v=high_v,
        rise=float(rng.uniform(0.001, 0.008)),
        fall=float(rng.uniform(0.0005, 0.003)),
        coil=coil,
        clamp_v=float(rng.uniform(32.0, 65.0)),
        spike=float(rng.uniform(0.02, 0.05)),
        jitter=float(rng.uniform(0.0, 0.004)),
        periods=float(rng.uniform(60.0, 200.0)),
    )


def _rate(rng: np.random.Generator, wire: _Wire, given: float | None) -> float:
    if given is not None:
        return float(np.clip(given, 70.0 * wire.rate_hz, 500.0 * wire.rate_hz))
    return float(wire.rate_hz * rng.uniform(130.0, 300.0))


def _captured(
    rng: np.random.Generator, wire: _Wire, fault: str, step_s: float, noise_db: float | None, truth: dict[str, float]
) -> tuple[Channel, tuple[str, ...]]:
    count = min(int(wire.periods / wire.rate_hz / step_s), 50_000)
    times_s = (np.arange(count) + rng.uniform()) * step_s
    whole = int(count * step_s * wire.rate_hz) + 3
    starts = (np.arange(whole) - rng.uniform(0.0, 1.0)) / wire.rate_hz
    duty = wire.duty + wire.sway * np.sin(2 * np.pi * (np.arange(whole) / 40.0 + rng.uniform()))
    starts = starts + wire.jitter / wire.rate_hz * rng.uniform(-1.0, 1.0, whole) * 1.7
    ups, downs = starts, starts + np.clip(duty, 0.08, 0.92) / wire.rate_hz
    height = np.full(whole, wire.high_v)
    named: tuple[str, ...] = ()
    inner = np.arange(4, whole - 5)
    if fault == "missing pulses":
        gone = np.unique(rng.choice(inner, int(rng.integers(3, 9)), replace=False))
        keep = np.ones(whole, bool)
        keep[gone] = False
        ups, downs, height = ups[keep], downs[keep], height[keep]
        truth["missing"] = float(gone.size)
        named = ("missing pulses", "intermittent wire")
    elif fault == "runts":
        weak = np.unique(rng.choice(inner, int(rng.integers(3, 9)), replace=False))
        height[weak] = wire.low_v + (wire.high_v - wire.low_v) * rng.uniform(0.3, 0.42, weak.size)
        truth["runts"] = float(weak.size)
        named = ("runts",)
    elif fault == "extra pulses":
        at = np.unique(rng.choice(inner, int(rng.integers(3, 9)), replace=False))
        low_for = 1.0 / wire.rate_hz - (downs[at] - ups[at])
        more_up = downs[at] + low_for * 0.45
        ups = np.sort(np.concatenate([ups, more_up]))
        downs = np.sort(np.concatenate([downs, more_up + 0.15 * low_for]))
        height = np.full(ups.size, wire.high_v)
        truth["extra"] = float(at.size)
        named = ("extra pulses",)
    edges = np.column_stack([ups, downs]).ravel()
    levels = np.concatenate([[wire.low_v], np.column_stack([height, np.full(height.size, wire.low_v)]).ravel()])
    tau = np.tile([wire.rise, wire.fall], ups.size) / wire.rate_hz
    volts = switched(times_s, edges, levels, tau)
    if wire.coil:
        volts = _flown(volts, times_s, ups, wire)
    volts, later = _spoilt(rng, wire, fault, times_s, volts, truth)
    return (
        recorded(rng, volts, step_s, name="pwm", noise_db=noise_db, start_s=float(rng.uniform(-1, 1))),
        later or named,
    )


def _flown(volts: Row, times_s: Row, ups: Row, wire: _Wire) -> Row:
    """The coil's current dies into the clamp at each opening of the switch."""
    since = times_s - ups[np.clip(np.searchsorted(ups, times_s, side="right") - 1, 0, None)]
    period = 1.0 / wire.rate_hz
    inside = (since >= 0) & (since < wire.spike * period)
    tail = (since >= wire.spike * period) & (since < 3 * wire.spike * period)
    fade = np.exp(-(since - wire.spike * period) / (0.25 * wire.spike * period))
    volts = np.where(inside & (volts > 0.5 * wire.high_v), wire.clamp_v, volts)
    return np.where(tail & (volts > 0.5 * wire.high_v), volts + (wire.clamp_v - wire.high_v) * fade, volts)


def _spoilt(
    rng: np.random.Generator, wire: _Wire, fault: str, times_s: Row, volts: Row, truth: dict[str, float]
) -> tuple[Row, tuple[str, ...]]:
    volts = volts.copy()
    period = 1.0 / wire.rate_hz
    whole_s = float(times_s[-1] - times_s[0])
    if fault in ("lost signal", "short to ground", "short to battery"):
        begin = float(times_s[0] + whole_s * rng.uniform(0.25, 0.8))
        level = float(rng.choice([wire.low_v, wire.high_v]))
        if fault == "short to ground":
            level = 0.0
        if fault == "short to battery":
            level = wire.high_v
        volts[times_s > begin] = level
        truth["lost_s"] = begin - float(times_s[0])
        return volts, ("signal lost",)
    if fault == "dropouts":
        level = float(rng.choice([wire.low_v, wire.high_v]))
        for _ in range(int(rng.integers(3, 7))):
            begin = rng.uniform(times_s[0] + 5 * period, times_s[-1] - 12 * period)
            volts[(times_s > begin) & (times_s < begin + period * rng.uniform(1.6, 6.0))] = level
        return volts, ("intermittent wire", "missing pulses")
    if fault == "open":
        return np.full(volts.size, float(rng.choice([0.0, wire.high_v]))), ()
    return volts, ()
