"""A switched coil: injector, valve or ignition primary, as current or as voltage at its switched end; and its faults.

The current follows its circuit exactly: L di/dt = V - R i while the switch is closed, and the clamp's voltage against it
once it opens. Shorted turns are a shorted winding on the same core: a resistance beside the coil, and less inductance.
"""

from dataclasses import dataclass, replace

import numpy as np

from loomlight.sample_captures.makers.pulse_recording import Row, captured, recorded
from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.examination import Conditions

KIND = "coil"
FAULTS = (
    "shorted turns",
    "high resistance",
    "open",
    "no clamp",
    "stuck driver",
    "dropouts",
    "weak ground",
    "no burn line",
    "short burn",
    "no knee",
    "hold current off",
)
BURNING = ("no burn line", "short burn")


@dataclass(frozen=True)
class _Coil:
    """The coil, its driver, and how it is worked."""

    ohm: float
    henry: float
    supply_v: float
    clamp_v: float
    on_s: float
    period_s: float
    driver_ohm: float
    driver_v: float
    sort: str  # "valve", "peak and hold", "ignition"
    hold_a: float
    knee_s: float
    burn_s: float
    burn_v: float
    shunt_ohm: float = 0.0  # shorted turns, seen from the coil's ends; 0: none

    @property
    def end_a(self) -> float:
        """Where the current would end."""
        return (self.supply_v - self.driver_v) / (self.ohm + self.driver_ohm)


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance."""
    as_volts = _is_voltage(rng, fault)
    coil = _drawn(rng, fault)
    healthy = coil
    truth: dict[str, float] = {"ohm": coil.ohm, "henry": coil.henry, "on_s": coil.on_s}
    expected: tuple[str, ...] = ()
    if fault == "shorted turns":
        coil = replace(
            coil,
            henry=coil.henry * rng.uniform(0.25, 0.45),
            ohm=coil.ohm * rng.uniform(0.8, 0.95),
            shunt_ohm=coil.supply_v / (rng.uniform(0.3, 0.5) * _reached(coil)),
            clamp_v=coil.supply_v + (coil.clamp_v - coil.supply_v) * rng.uniform(0.15, 0.4),
        )
        expected = ("shorted turns",)
    elif fault == "high resistance":
        extra = coil.ohm * rng.uniform(0.6, 1.5)
        coil = replace(coil, ohm=coil.ohm + extra)
        truth["series_ohm"] = extra
        expected = ("high resistance",)
    elif fault == "weak ground":
        coil = replace(coil, driver_v=float(coil.supply_v * rng.uniform(0.28, 0.5)))
        expected = ("weak ground",)
    elif fault == "no clamp":
        coil = replace(coil, clamp_v=coil.clamp_v * float(rng.uniform(1.8, 3.0)))
        expected = ("no clamp",)
    elif fault == "no burn line":
        coil = replace(coil, burn_s=0.0)
        expected = ("no burn line",)
    elif fault == "short burn":
        coil = replace(coil, burn_s=coil.burn_s * float(rng.uniform(0.15, 0.35)))
        expected = ("short burn",)
    elif fault == "no knee":
        coil = replace(coil, knee_s=0.0)
        expected = ("no knee",)
    elif fault == "hold current off":
        coil = replace(coil, hold_a=coil.hold_a * float(rng.choice([rng.uniform(0.5, 0.62), rng.uniform(1.6, 2.0)])))
        expected = ("hold current off",)
    step_s = 1.0 / _rate(rng, coil, samples_per_s)
    with_good = fault in ("no knee", "hold current off", *BURNING) or bool(rng.random() < 0.5)
    settings: list[tuple[str, float]] = []
    if not with_good and fault in ("high resistance", "shorted turns"):
        settings.append(("ohms", round(healthy.ohm, 2)))
    if as_volts and not (with_good and fault == "no clamp"):
        settings.append(("clamp", float(round(healthy.clamp_v))))
    channel, voltage, named = _captured(rng, coil, fault, step_s, noise_db, as_volts=as_volts, truth=truth)
    good: Capture | None = None
    if with_good:
        other = replace(
            healthy, period_s=healthy.period_s * rng.uniform(0.9, 1.1), ohm=healthy.ohm * rng.uniform(0.97, 1.03)
        )
        good = captured(_captured(rng, other, "", step_s, noise_db, as_volts=as_volts, truth={})[0])
    besides = (Beside("voltage", voltage),) if voltage is not None else ()
    return Made(
        capture=captured(channel, *((voltage,) if voltage is not None else ())),
        channel=channel.name,
        kind=KIND,
        fault=fault,
        conditions=Conditions(supply_v=round(healthy.supply_v, 1), settings=tuple(settings), besides=besides),
        good=good,
        expected=named or expected,
        limit_broken=bool(fault),
        truth=truth,
    )


def _is_voltage(rng: np.random.Generator, fault: str) -> bool:
    drawn = bool(rng.random() < 0.5)
    if fault in ("no clamp", "weak ground", *BURNING):
        return True
    return drawn and fault not in ("high resistance", "open", "no knee", "hold current off", "dropouts")


def _reached(coil: _Coil) -> float:
    return coil.end_a * (1.0 - float(np.exp(-coil.on_s * (coil.ohm + coil.driver_ohm) / coil.henry)))


def _drawn(rng: np.random.Generator, fault: str) -> _Coil:
    sort = str(rng.choice(["valve", "valve", "peak and hold", "ignition"]))
    if fault == "no knee":
        sort = "valve"
    if fault == "hold current off":
        sort = "peak and hold"
    if fault in BURNING:
        sort = "ignition"
    if fault == "high resistance":
        sort = "valve"
    supply_v = float(rng.uniform(12.0, 14.4))
    if sort == "ignition":
        ohm, henry = float(rng.uniform(0.45, 0.9)), float(rng.uniform(3e-3, 6e-3))
        return _Coil(
            ohm, henry, supply_v, float(rng.uniform(250.0, 400.0)), float(rng.uniform(2e-3, 3.5e-3)),
            float(rng.uniform(15e-3, 40e-3)), 0.05, float(rng.uniform(0.4, 1.0)), sort, 0.0, 0.0,
            float(rng.uniform(1.0e-3, 1.8e-3)), float(rng.uniform(28.0, 45.0)),
        )  # fmt: skip
    if sort == "peak and hold":
        ohm, henry = float(rng.uniform(1.0, 2.0)), float(rng.uniform(1.5e-3, 3e-3))
        peak = 0.55 * supply_v / ohm
        return _Coil(
            ohm, henry, supply_v, float(rng.uniform(40.0, 70.0)), float(rng.uniform(3e-3, 6e-3)),
            float(rng.uniform(15e-3, 40e-3)), 0.05, 0.1, sort, 0.3 * peak, 0.0, 0.0, 0.0,
        )  # fmt: skip
    ohm = float(rng.uniform(11.0, 16.0))
    tau = float(rng.uniform(0.7e-3, 1.4e-3))
    knee = float(rng.uniform(0.9, 1.3)) * tau if rng.random() < 0.5 or fault == "no knee" else 0.0
    return _Coil(
        ohm, ohm * tau, supply_v, float(rng.uniform(40.0, 70.0)), float(rng.uniform(3.5, 6.0)) * tau,
        float(rng.uniform(15e-3, 40e-3)), 0.3, 0.05, sort, 0.0, knee, 0.0, 0.0,
    )  # fmt: skip


def _rate(rng: np.random.Generator, coil: _Coil, given: float | None) -> float:
    usual = float(rng.uniform(120.0, 250.0)) / coil.on_s
    return usual if given is None else float(np.clip(given, 60.0 / coil.on_s, 500.0 / coil.on_s))


def _pulse(coil: _Coil, step_s: float, on_s: float) -> tuple[Row, Row]:
    """Current and voltage at the switched end from the closing of the switch on, until the coil is still."""
    fine = min(step_s / 4, 5e-6)
    on = np.arange(0.0, on_s, fine)
    tau = coil.henry / (coil.ohm + coil.driver_ohm)
    amps = coil.end_a * (1.0 - np.exp(-on / tau))
    if coil.knee_s:
        # A moving core gives a counter-voltage for a moment, then the coil holds more flux.
        amps = amps - 0.16 * coil.end_a * np.exp(-0.5 * ((on - coil.knee_s) / (0.16 * tau)) ** 2)
    if coil.sort == "peak and hold":
        peak = min(0.55 * coil.supply_v / coil.ohm, 0.9 * coil.end_a)
        at = int(np.argmax(amps >= peak)) if (amps >= peak).any() else amps.size - 1
        since = on[at:] - on[at]
        chop = 0.08 * coil.hold_a * (2.0 * np.abs((since * 8000.0) % 1.0 - 0.5) - 0.5)
        amps[at:] = coil.hold_a + (peak - coil.hold_a) * np.exp(-since / (0.15 * tau)) + chop
    if coil.shunt_ohm:
        amps = amps + (coil.supply_v - coil.driver_v) / coil.shunt_ohm * (1.0 - np.exp(-on / (0.3 * step_s)))
    volts_on = coil.driver_v + coil.driver_ohm * amps
    last = float(amps[-1])
    flown = coil.clamp_v - coil.supply_v
    fall_s = max(coil.henry * last / flown, 2 * step_s) if coil.sort != "ignition" else 60e-6
    off = np.arange(0.0, fall_s + max(coil.burn_s, 0.0) + 3e-3, fine)
    amps_off = np.where(off < fall_s, last * (1.0 - off / fall_s), 0.0)
    volts_off = np.where(off < fall_s, coil.clamp_v, 0.0)
    after = off - fall_s
    ring = 0.25 * min(flown, 40.0) * np.exp(-after / 0.35e-3) * np.cos(2 * np.pi * after / 0.25e-3)
    burning = (after >= 0) & (after < coil.burn_s)
    volts_off = np.where(burning, coil.burn_v * (1.0 + 0.15 * after / max(coil.burn_s, 1e-9)), volts_off)
    still = after - coil.burn_s
    rung = ring if not coil.burn_s else 12.0 * np.exp(-still / 0.3e-3) * np.cos(2 * np.pi * still / 0.25e-3)
    volts_off = np.where((after >= 0) & ~burning, coil.supply_v + rung, volts_off)
    time = np.concatenate([on, on_s + off])
    return np.column_stack([time, np.concatenate([amps, amps_off])]), np.column_stack(
        [time, np.concatenate([volts_on, volts_off])]
    )


def _captured(
    rng: np.random.Generator,
    coil: _Coil,
    fault: str,
    step_s: float,
    noise_db: float | None,
    *,
    as_volts: bool,
    truth: dict[str, float],
) -> tuple[Channel, Channel | None, tuple[str, ...]]:
    count = min(int(24 * coil.period_s / step_s), 60_000)
    times_s = (np.arange(count) + rng.uniform()) * step_s
    starts = np.arange(0.35 * coil.period_s, times_s[-1], coil.period_s)
    starts = starts + coil.period_s * 0.004 * rng.normal(size=starts.size)
    amps, volts = np.zeros(count), np.full(count, coil.supply_v)
    whole_amps, whole_volts = _pulse(coil, step_s, coil.on_s)
    named: tuple[str, ...] = ()
    gone = set()
    if fault == "dropouts":
        gone = set(rng.choice(np.arange(2, starts.size - 2), int(rng.integers(2, 5)), replace=False).tolist())
        named = ("intermittent coil circuit",)
    for number, start in enumerate(starts.tolist()):
        first, last = np.searchsorted(times_s, [start, start + whole_amps[-1, 0]]).tolist()
        inside = times_s[first:last] - start
        here_a = np.interp(inside, whole_amps[:, 0], whole_amps[:, 1])
        here_v = np.interp(inside, whole_volts[:, 0], whole_volts[:, 1])
        if number in gone:
            broken = coil.on_s * rng.uniform(0.0, 0.7)
            here_a = np.where(inside < broken, here_a, 0.0)
        amps[first:last], volts[first:last] = here_a, here_v
    if fault == "stuck driver":
        at = int(np.searchsorted(times_s, starts[int(rng.integers(3, max(starts.size - 4, 4)))]))
        amps[at:] = coil.end_a * (1.0 - np.exp(-(times_s[at:] - times_s[at]) * coil.ohm / coil.henry))
        volts[at:] = coil.driver_v + coil.driver_ohm * amps[at:]
        truth["stuck_s"] = float(times_s[at] - times_s[0])
        named = ("driver stuck on",)
    if fault == "open":
        amps = np.zeros(count)
        named = ("open circuit",)
    start_s = float(rng.uniform(-1.0, 1.0))
    beside = None
    if fault == "open":
        beside = recorded(rng, volts, step_s, name="switched end", noise_db=noise_db, start_s=start_s)
        amps = amps + 0.01 * rng.normal(size=count)
    values, name, unit = (volts, "coil", "V") if as_volts else (amps, "coil", "A")
    return recorded(rng, values, step_s, name=name, unit=unit, noise_db=noise_db, start_s=start_s), beside, named
