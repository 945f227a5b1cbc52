"""Causes that a coil's current shows."""

from loomlight.signal.cause import Cause, Throughout
from loomlight.signal.coil_case import CoilCase, across, ohms_words, resistance
from loomlight.signal.coil_current import CurrentReading
from loomlight.signal.coil_settings import OHMS, OHMS_SHARE, SLOPE
from loomlight.signal.examination import Doubt
from loomlight.signal.finding import FindingKind
from loomlight.signal.quantity import in_words

JUMP = 0.12
"""Of the peak: current that is there at once is no coil's, but shorted turns' or a resistance beside it."""
TEN_TIMES = (0.08, 0.125), (8.0, 12.5)
HOLD_LOW, HOLD_HIGH = 0.7, 1.4
KNEE_MOVED = 0.4
KNEE_CLEAR, KNEE_GONE = 0.07, 0.03
"""Share of the peak that a knee costs: one that is clear on the known-good, and one that is none on the suspect."""
SHORT_TURNS = (
    "Measure the coil's resistance and inductance against the maker's figures; replace a coil that is hot or swollen."
)


def current_causes(case: CoilCase) -> list[Cause]:
    """Shorted turns, resistance, a circuit that opens, and what the known-good's shape has otherwise."""
    own = case.own.current
    assert own is not None
    return [*_shorted(case, own), *_resistance(case), *_broken_off(own), *_shape_beside(case, own)]


def clamp_factor_off(case: CoilCase) -> Doubt | None:
    """Peak and slope both ten times off: resistance leaves the slope, and shorted turns the peak, so it is the clamp's factor."""
    own, good = case.own.current, case.good.current if case.good is not None and case.good.has_pulses else None
    if own is None or good is None or own.fit is None or good.fit is None or not own.peak_a or not good.peak_a:
        return None
    ratios = own.peak_a / good.peak_a, own.fit.slope.value / good.fit.slope.value
    if not any(all(low <= one <= high for one in ratios) for low, high in TEN_TIMES):
        return None
    text = (
        f"Peak and slope are {ratios[0]:.2g} and {ratios[1]:.2g} times the known-good's. Resistance leaves the slope as it is, "
        "and shorted turns the peak: the factor of the clamp is ten times off."
    )
    do = "Set the clamp's factor on the instrument (10 or 100 mV for each ampere), and repeat the capture."
    return Doubt("x10 mismatch", text, do)


def _shorted(case: CoilCase, own: CurrentReading) -> list[Cause]:
    good = case.good.current if case.good is not None and case.good.has_pulses else None
    if own.stuck is None and own.jump_a is not None and own.peak_a and own.jump_a > JUMP * own.peak_a:
        beside = good.jump_a / good.peak_a if good is not None and good.jump_a is not None and good.peak_a else 0.0
        if own.jump_a / own.peak_a > beside + 0.5 * JUMP:
            reason = (
                f"{own.jump_a / own.peak_a:.0%} of the peak current ({in_words(own.jump_a, 'A')}) flows at once when the switch "
                "closes; a coil's current begins at zero: shorted turns, or something that shunts the coil."
            )
            rule = f"{own.jump_a / own.peak_a:.0%} of the peak flows at once"
            mark = Throughout("too high", own.jump_a - JUMP * own.peak_a, "A", rule)
            return [_shorted_turns(reason, "Does the current begin at zero?", mark)]
    if good is None or good.fit is None or own.fit is None:
        return []
    limit = case.conditions.needed(SLOPE)
    least = own.fit.slope.low / (good.fit.slope.high or good.fit.slope.value)
    if least > 1.0 + limit:
        reason = (
            f"The current rises at {own.fit.slope.value:.3g} A/s, on the known-good at {good.fit.slope.value:.3g} A/s "
            f"({own.fit.slope.value / good.fit.slope.value:.1f} times as steep): less inductance, so shorted turns."
        )
        times = own.fit.slope.value / good.fit.slope.value
        mark = Throughout("wrong shape", times, "", f"rises {times:.1f} times as steeply as the known-good")
        return [_shorted_turns(reason, "Is the slope right?", mark)]
    return []


def _shorted_turns(reason: str, asked: str, mark: Throughout) -> Cause:
    return Cause("short", "shorted turns", reason, SHORT_TURNS, "component", asked=asked, throughout=mark)


def _resistance(case: CoilCase) -> list[Cause]:
    ohms = resistance(case.own, case.conditions)
    if ohms is None:
        return []
    nominal, source = case.conditions.figure(OHMS), "given"
    spread = case.conditions.needed(OHMS_SHARE)
    if nominal is None and case.good is not None:
        beside = resistance(case.good, case.conditions)
        if beside is None or beside.high is None or beside.high > 1.6 * beside.low:
            return []
        nominal, source = beside.value, "on the known-good, its supply taken as the same"
    if nominal is None:
        return []
    volts, _, known = across(case.own, case.conditions)
    told = f"{ohms_words(ohms)}; {in_words(nominal, 'Ω')} {source} (from {volts:.1f} V, {known})"
    times = ohms.value / nominal
    also = (
        " A clamp's factor ten times off looks the same."
        if any(low <= times <= high for low, high in TEN_TIMES)
        else ""
    )
    if ohms.low > nominal * (1.0 + spread):
        reason = f"Coil, wires and switch together have {told}: resistance in the circuit, or the wrong coil.{also}"
        do = "Measure the voltage drop along supply, ground and wire while it works; look at the plugs for corrosion."
        mark = Throughout(
            "wrong resistance", ohms.value - nominal, "Ω", f"{ohms_words(ohms)}, {in_words(nominal, 'Ω')} wanted"
        )
        asked = "Is the resistance right?"
        return [Cause("resistive", "high resistance", reason, do, "wire", asked=asked, throughout=mark)]
    if ohms.high is not None and ohms.high < nominal * (1.0 - spread):
        reason = f"Coil, wires and switch together have {told}: shorted turns, or the wrong coil.{also}"
        mark = Throughout(
            "wrong resistance", nominal - ohms.value, "Ω", f"{ohms_words(ohms)}, {in_words(nominal, 'Ω')} wanted"
        )
        return [_shorted_turns(reason, "Is the resistance right?", mark)]
    return []


def _broken_off(own: CurrentReading) -> list[Cause]:
    missing = [span for span in own.missing if own.stuck is None or span[1] < own.stuck[0]]
    many = len(missing) + len(own.short)
    if not many:
        return []
    first = min([*(span[0] for span in missing), *(float(own.starts_s[place]) for place in own.short)])
    reason = (
        f"{len(missing)} pulses are missing and {len(own.short)} break off early, the first at {in_words(first, 's', digits=5)}, "
        "while those beside them are whole: the circuit opens now and then. Assumed: it was worked steadily."
    )
    do = "Move loom and plug while recording; record the voltage at the switched end beside the current."
    return [
        Cause("open", "intermittent coil circuit", reason, do, "wire", intermittent=True, asked="Is each pulse whole?")
    ]


def _shape_beside(case: CoilCase, own: CurrentReading) -> list[Cause]:
    """Knee, hold and decay against the known-good's."""
    good = case.good.current if case.good is not None and case.good.has_pulses else None
    if good is None or own.stuck is not None:
        return []
    found = []
    if good.hold_a is not None and own.hold_a is not None and not HOLD_LOW < own.hold_a / good.hold_a < HOLD_HIGH:
        here, there = in_words(own.hold_a, "A"), in_words(good.hold_a, "A")
        reason = f"After its peak the current is held at {here}, on the known-good at {there}."
        do = "Compare the part of coil and control unit with the maker's list; record the driver's supply beside it."
        kind: FindingKind = "too low" if own.hold_a < good.hold_a else "too high"
        mark = Throughout(kind, abs(own.hold_a - good.hold_a), "A", f"held at {here}, on the known-good at {there}")
        found.append(_hold_off(reason, do, mark))
    elif (good.hold_a is None) != (own.hold_a is None):
        which = "is not let down after its peak" if own.hold_a is None else "is let down after its peak"
        reason = f"The current {which}, unlike the known-good's."
        do = "Compare the part of coil and control unit with the maker's list."
        found.append(_hold_off(reason, do, Throughout("wrong shape", 0.0, "", f"the current {which}")))
    if good.knee_s is not None and good.knee_size > KNEE_CLEAR and own.knee_size < KNEE_GONE:
        reason = (
            f"The known-good's current has a knee at {in_words(good.knee_s, 's')}, where the core moves; the suspect's has "
            "none: the core does not move, or hardly."
        )
        do = "Check for a stuck needle or core, and the pressure it works against."
        mark = Throughout("wrong shape", 0.0, "", f"no knee; the known-good's comes at {in_words(good.knee_s, 's')}")
        found.append(Cause("unknown", "no knee", reason, do, "component", asked="Does the core move?", throughout=mark))
    elif good.knee_s is not None and own.knee_s is not None and abs(own.knee_s / good.knee_s - 1.0) > KNEE_MOVED:
        reason = f"The knee comes at {in_words(own.knee_s, 's')}, on the known-good at {in_words(good.knee_s, 's')}."
        do = "Compare at the same supply and pressure; a slow core is worn, dirty, or fed with too little voltage."
        picture = "knee late" if own.knee_s > good.knee_s else "knee early"
        rule = f"knee at {in_words(own.knee_s, 's')}, on the known-good at {in_words(good.knee_s, 's')}"
        mark = Throughout("timing off", abs(own.knee_s - good.knee_s), "s", rule)
        found.append(Cause("unknown", picture, reason, do, "component", asked="Does the core move?", throughout=mark))
    return found


def _hold_off(reason: str, do: str, mark: Throughout) -> Cause:
    asked = "Is the hold current right?"
    return Cause("unknown", "hold current off", reason, do, "control unit", asked=asked, throughout=mark)
