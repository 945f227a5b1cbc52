"""Made cranking: battery, leads, starter and an engine whose cylinders push back, stepped through time."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.sample_captures.makers.instrument import Row, recorded, times
from loomlight.sample_captures.makers.shape import Made
from loomlight.signal.beside import Beside
from loomlight.signal.capture import Capture
from loomlight.signal.examination import Conditions

KIND = "cranking"
CHANNEL = "battery"
FAULTS = (
    "weak cylinder",
    "weak cylinder, no sync mark",
    "flat battery",
    "low voltage",
    "slow",
    "high resistance",
    "no crank",
    "locked",
)
STEP_S = 1 / 2000
USUAL_RATE = 5e3


@dataclass
class _Start:
    """What is cranked; ohms, volts and newton metres at the crankshaft."""

    battery_v: float
    battery_ohm: float
    lead_ohm: float
    starter_ohm: float
    volts_per_rad_s: float
    inertia: float
    friction: float
    push: float
    cylinders: int
    compression: Row
    k: float = 1.0
    turns: bool = True
    takes_current: bool = True
    expected: tuple[str, ...] = ()
    truth: dict[str, float] = field(default_factory=dict)


def made(
    fault: str, rng: np.random.Generator, *, noise_db: float | None = None, samples_per_s: float | None = None
) -> Made:
    """One instance; see `Maker`."""
    start = _sound(rng)
    has_sync = fault == "weak cylinder" or (not fault and rng.random() < 0.5)
    has_clamp, has_far = rng.random() < 0.6, fault == "high resistance" or rng.random() < 0.4
    weak = _break(start, fault, rng)
    before, turning = rng.uniform(0.2, 0.6), rng.uniform(2.6, 3.4)
    after = rng.uniform(0.2, 0.6)
    volts, amperes, far, angle = _stepped(
        start, before, turning, after, starts=bool(rng.random() < 0.3) and start.turns
    )
    rate = samples_per_s or USUAL_RATE
    t = times(before + turning + after, rate)
    grid = np.arange(volts.size) * STEP_S

    def at(row: Row) -> Row:
        return np.interp(t, grid, row)

    channels = [recorded(rng, CHANNEL, at(volts), rate, noise_db=noise_db, ranges=(20.0, 40.0), bits=(10, 14))]
    besides: list[Beside] = []

    def beside(role: str, name: str, row: Row, unit: str, ranges: tuple[float, ...]) -> None:
        channels.append(recorded(rng, name, row, rate, unit=unit, noise_db=noise_db, ranges=ranges, bits=(10, 14)))
        besides.append(Beside(role, channels[-1]))

    if has_clamp:
        beside("current", "clamp", at(amperes), "A", (1000.0, 2000.0))
    if has_far:
        beside("far end", "starter terminal", at(far), "V", (20.0, 40.0))
    pitch = 720.0 / start.cylinders
    mark = pitch * float(rng.uniform(0.3, 0.7))  # between the last cylinder's top and the first one's
    if has_sync:
        phase = np.mod(np.interp(t, grid, angle) - mark, 720.0)
        beside("sync", "cam mark", np.where(phase < 0.4 * pitch, 4.8, 0.2), "V", (5.0, 20.0))
    if weak is not None:
        number = f"number {weak + 1} after the sync mark" if has_sync else f"one of {start.cylinders}"
        start.expected = (f"weak compression, {number}",)
    conditions = Conditions(settings=(("cylinders", float(start.cylinders)),), besides=tuple(besides))
    turned = angle[round((before + 1.0) / STEP_S) : round((before + turning - 0.3) / STEP_S)]
    rpm = float(turned[-1] - turned[0]) / 360.0 / (turned.size * STEP_S) * 60.0
    if fault in ("low voltage", "high resistance") and rpm < 20.0:
        start.expected = (*start.expected, "starter does not turn")
    capture = Capture("made_cranking.csv", "made from equations of motion", tuple(channels))
    truth = start.truth | {"rpm": rpm, "rest": start.battery_v, "lead_ohm": start.lead_ohm, "k": start.k}
    broken = fault != "slow" or rpm < 116.0
    return Made(capture, CHANNEL, KIND, fault, conditions, expected=start.expected, limit_broken=broken, truth=truth)


def _sound(rng: np.random.Generator) -> _Start:
    cylinders = int(rng.choice([4, 4, 4, 3, 6]))
    k = 2.0 if rng.random() < 0.1 else 1.0
    start = _Start(
        battery_v=k * rng.uniform(12.45, 12.8),
        # Twice the volts take half the amperes: four times the ohms lose the same share.
        battery_ohm=k**2 * rng.uniform(5.5e-3, 8e-3),
        lead_ohm=k**2 * rng.uniform(0.5e-3, 1.8e-3),
        starter_ohm=k**2 * rng.uniform(6e-3, 9e-3),
        volts_per_rad_s=k * rng.uniform(0.40, 0.46),
        inertia=rng.uniform(0.35, 0.6),
        friction=rng.uniform(45.0, 65.0),
        push=rng.uniform(110.0, 190.0) * 4 / cylinders,
        cylinders=cylinders,
        compression=1.0 + rng.normal(0.0, 0.015, cylinders),
    )
    start.k = k
    return start


def _break(start: _Start, fault: str, rng: np.random.Generator) -> int | None:
    """Put the fault in; the weak cylinder's place in the order of firing, if that is it."""
    k = start.k
    if fault.startswith("weak cylinder"):
        weak = int(rng.integers(start.cylinders))
        loss = rng.uniform(0.4, 0.8)
        start.compression[weak] = 1.0 - loss
        start.truth["loss"] = float(loss)
        return weak
    if fault == "flat battery":
        start.battery_v, start.expected = k * rng.uniform(11.6, 12.05), ("battery discharged",)
        start.battery_ohm *= rng.uniform(1.1, 1.6)
    elif fault == "low voltage":
        start.battery_ohm, start.expected = k**2 * rng.uniform(0.0175, 0.02), ("battery voltage breaks down",)
        start.friction, start.push = rng.uniform(76.0, 86.0), 0.6 * start.push
    elif fault == "slow":
        start.friction, start.expected = rng.uniform(240.0, 265.0), ("slow cranking",)
        start.battery_ohm, start.lead_ohm = k**2 * rng.uniform(4.5e-3, 5.5e-3), k**2 * 0.4e-3
        start.volts_per_rad_s = k * rng.uniform(0.62, 0.7)
    elif fault == "high resistance":
        start.lead_ohm, start.expected = k**2 * rng.uniform(6e-3, 11e-3), ("high resistance to the starter",)
    elif fault == "no crank":
        start.takes_current, start.turns, start.expected = False, False, ("starter takes no current",)
    elif fault == "locked":
        start.turns, start.expected = False, ("starter does not turn",)
    return None


def _torque(start: _Start) -> Row:
    """What the cylinders push back, by crank angle in degrees of two turns."""
    angle = np.arange(720)
    total = np.zeros(720)
    for place in range(start.cylinders):
        from_top = np.mod(angle - (place + 1) * 720.0 / start.cylinders + 360.0, 720.0) - 360.0
        rising = np.clip((from_top + 130.0) / 110.0, 0.0, 1.0) ** 3 * np.clip(-from_top / 20.0, 0.0, 1.0)
        falling = np.clip((130.0 - from_top) / 110.0, 0.0, 1.0) ** 3 * np.clip(from_top / 20.0, 0.0, 1.0)
        total += start.compression[place] * start.push * (rising - 0.8 * falling)
    return total


def _stepped(start: _Start, before: float, turning: float, after: float, *, starts: bool) -> tuple[Row, Row, Row, Row]:
    """Volts at the battery, amperes, volts at the starter, degrees, every `STEP_S`."""
    count = round((before + turning + after) / STEP_S) + 2
    torque = _torque(start).tolist()
    volts, amperes, far, angle = (np.empty(count) for _ in range(4))
    speed, degrees = 0.0, 37.0
    whole_ohm = start.battery_ohm + start.lead_ohm + start.starter_ohm
    first, last = round(before / STEP_S), round((before + turning) / STEP_S)
    current = 0.0
    for at in range(count):
        inner = start.battery_v - 0.03 * start.k * min(max(at - first, 0), last - first) * STEP_S
        if first <= at < last:
            wanted = (inner - start.volts_per_rad_s * speed) / whole_ohm if start.takes_current else 15.0
            current += (max(wanted, 20.0 if start.takes_current else 15.0) - current) * 0.08
            if start.turns:
                push = torque[int(degrees) % 720] + start.friction
                drive = start.volts_per_rad_s * current
                speed = max(0.0, speed + (drive - push) / start.inertia * STEP_S)
                degrees += speed * STEP_S * 57.29578
        else:
            current *= 0.9
            speed *= 0.999
        charge = start.k * 1.6 * min(max(at - last, 0) * STEP_S / 0.25, 1.0) if starts and at >= last else 0.0
        volts[at] = inner - start.battery_ohm * current - start.k * 0.1 * (at >= first) + charge
        amperes[at] = current + 3.0
        far[at] = volts[at] - start.lead_ohm * current
        angle[at] = degrees
    return volts, amperes, far, angle
