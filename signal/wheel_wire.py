"""Causes in the wire of a wheel sensor: lost, coming and going, weak."""

from loomlight.signal.cause import Cause, Throughout
from loomlight.signal.evidence import Suspect
from loomlight.signal.finding import Finding, FindingKind
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Fault, ShortTo
from loomlight.signal.wheel_case import WheelCase, turns_of
from loomlight.signal.wheel_levels import weaknesses
from loomlight.signal.wheel_reading import Lost, against

BATTERY_V = 1.5


def is_at_battery(case: WheelCase, level: float) -> bool:
    """Whether a wire stands at the supply that was given, above its own high level."""
    supply = case.conditions.supply_v
    near = supply is not None and abs(level - supply) < BATTERY_V
    return near and level > case.reading.train.high + BATTERY_V


def lost_causes(case: WheelCase) -> list[Cause]:
    """The signal is gone for a turn or more, or to an end of the capture."""
    lost = [one for one in case.reading.lost if not one.stops and (one.at_end or one.at_begin or _is_long(case, one))]
    if not lost:
        return []
    worst = max(lost, key=lambda one: one.stop_s - one.start_s)
    train = case.reading.train
    where = f"at {in_words(worst.start_s, 's', digits=5)}"
    how = f"The signal is lost {where} for {in_words(worst.stop_s - worst.start_s, 's')}"
    how += " and does not come back within the capture" if worst.at_end else ""
    at = f"the wire then stands at {in_words(worst.level, case.unit)}"
    reason = f"{how}; the speed before shows no stop, and {at}."
    if worst.at_begin:
        reason = f"The signal comes at once at {in_words(worst.stop_s, 's', digits=5)}, at full speed; before, {at}."
    fault, short_to, do = _class_of(case, worst, train.low, train.high)
    return [Cause(fault, "signal lost", reason, do, "wire", not worst.at_end, short_to)]


def _is_long(case: WheelCase, lost: Lost) -> bool:
    pitch = case.reading.pitch_s or 0.0
    positions = case.reading.wheel.positions if case.reading.wheel is not None else 30
    return lost.stop_s - lost.start_s > positions * pitch


def _class_of(case: WheelCase, lost: Lost, low: float, high: float) -> tuple[Fault, ShortTo | None, str]:
    wiggle = (
        "Repeat the capture while the loom and both plugs are moved; measure the sensor's supply and ground meanwhile."
    )
    if case.reading.swings:
        if abs(lost.level - case.reading.train.middle) < 0.2 * (high - low):
            return "open", None, wiggle
        return "short", "battery" if lost.level > high else "ground", wiggle
    amplitude = high - low
    if lost.level > high + max(BATTERY_V, 0.15 * amplitude):
        return "short", "battery", "Look along the loom for a chafe against a supply wire."
    if lost.level > high - 0.15 * amplitude:
        return "open", None, wiggle
    if lost.level < low + 0.15 * amplitude:
        return "short", "ground", "Look along the loom for a chafe to ground; unplug the sensor: does the line rise?"
    return "unknown", None, wiggle


def coming_and_going(case: WheelCase) -> list[Cause]:
    """Pulses missing or too many that keep to no position of the wheel."""
    pulses = [
        one for one in case.findings if one.kind in ("missing pulse", "lost signal") and "as in most" not in one.rule
    ]
    pulses = [one for one in pulses if not (one.kind == "lost signal" and _told(case, one))]
    extra = [one for one in case.findings if one.kind == "extra pulse"]
    turns = max(len(turns_of(case)), 1)
    found = []
    if pulses and not (case.reading.missing or _missing_beside(case)):
        count = sum(one.size for one in pulses if one.kind == "missing pulse")
        teeth = f" ({count:.0f} {'tooth' if count == 1 else 'teeth'})" if count else ""
        reason = (
            f"Pulses are missing at {len(pulses)} {'place' if len(pulses) == 1 else 'places'}{teeth}, the first at "
            f"{in_words(pulses[0].start_s, 's', digits=5)}, and not at the same tooth each turn: the wheel has "
            "those teeth, so the signal comes and goes."
        )
        do = "Repeat the capture while the loom and both plugs are moved; look for a loose pin or a chafed screen."
        found.append(Cause("open", "intermittent wire", reason, do, "wire", intermittent=True))
    if extra and not pulses and len(extra) < 0.6 * turns:
        reason = (
            f"{len(extra)} {'edge' if len(extra) == 1 else 'edges'} too many, the first at "
            f"{in_words(extra[0].start_s, 's', digits=5)}, not at the same tooth each turn: interference, or a contact that "
            "chatters."
        )
        do = "Check the screen's ground and the loom's way past ignition and starter cables; move the plugs while recording."
        found.append(Cause("unknown", "extra pulses", reason, do, "wire", intermittent=True))
    return found


def _told(case: WheelCase, finding: Finding) -> bool:
    return any(
        one.start_s == finding.start_s and (one.at_end or one.at_begin or _is_long(case, one))
        for one in case.reading.lost
    )


def _missing_beside(case: WheelCase) -> bool:
    beside = against(case.reading, case.good) if case.good is not None else None
    return beside is not None and bool(beside[0])


def weak_causes(case: WheelCase) -> list[Cause]:
    """Levels or a height that do not keep their limits."""
    found = []
    for one in weaknesses(case.reading, case.conditions, case.unit):
        do = {
            "low": "Measure the voltage drop from the sensor's ground pin to battery negative while it pulls down.",
            "high": "Measure the sensor's supply and the line with the sensor unplugged; look for resistance in the line.",
            "height": "Check the air gap, chips of metal on the sensor, and its resistance against the maker's figures.",
        }[one.what]
        fault: Fault = "unknown" if one.what == "height" else "resistive"
        suspect: Suspect = "component" if one.what == "height" else "wire"
        kind: FindingKind = "too high" if one.what == "low" else "too low"
        what = "peak to peak" if one.what == "height" else f"{one.what} level"
        rule = f"{what} {in_words(one.value, case.unit)}, limit {in_words(one.limit, case.unit)}"
        mark = Throughout(kind, abs(one.value - one.limit), case.unit, rule)
        found.append(Cause(fault, "weak signal", one.text, do, suspect, throughout=mark))
    return found
