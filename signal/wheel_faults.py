"""Causes on the wheel itself and in what the known-good shows otherwise."""

from loomlight.signal.cause import Cause, Throughout
from loomlight.signal.quantity import in_words
from loomlight.signal.wheel_cam import drift
from loomlight.signal.wheel_case import WheelCase, is_cut_off, turns_of
from loomlight.signal.wheel_measures import gap_is_high
from loomlight.signal.wheel_reading import against
from loomlight.signal.wheel_settings import CAM_DRIFT, RUN_OUT
from loomlight.signal.wheel_shape import damaged_teeth
from loomlight.signal.wheel_uneven import away

WEAKER, STRONGER = 0.6, 1.8
"""Of the known-good's strength at the same speed: outside, the air gap or the sensor differs (common practice, no source)."""
LEVEL_SHARE = 0.2
"""Of the known-good's amplitude: how far a level may be from the known-good's (common practice, no source)."""
PATTERN_SHARE = 0.015
"""Of a turn: how far edges of an uneven wheel may lie from the known-good's (common practice, no source)."""


def tooth_causes(case: WheelCase) -> list[Cause]:
    """Teeth that lack, are too many or out of shape in turn after turn, and run-out."""
    reading, found = case.reading, []
    missing, extra = reading.missing, reading.extra
    beside = against(reading, case.good) if case.good is not None else None
    told = ""
    if beside is not None:
        missing, extra, told = beside[0], beside[1], " that the known-good's wheel has"
    look = "Look at the wheel: a tooth broken off, bent, or a chip of metal held by the sensor's magnet."
    for tooth in missing[:3]:
        reason = f"Tooth {tooth + 1} is missing in every turn{told}: {len(turns_of(case))} whole turns seen."
        found.append(Cause("unknown", f"tooth {tooth + 1} missing", reason, look, "component"))
    for tooth in extra[:3]:
        reason = f"A tooth stands at position {tooth + 1} in every turn, where this wheel has its gap."
        found.append(Cause("unknown", "extra tooth", reason, look, "component"))
    if reading.design is not None and reading.known_by == "given" and reading.wheel is not None:
        own, given = max(reading.wheel.gaps), max(reading.design.gaps, default=0)
        reason = f"In every turn {own} teeth are left out at the gap, {given} by design: a tooth beside it is lost."
        mark = Throughout("missing pulse", float(own - given), "", f"gap of {own} teeth, {given} by design")
        found.append(Cause("unknown", "tooth missing beside the gap", reason, look, "component", throughout=mark))
    found += _extra_every_turn(case, look)
    if case.shape is not None:
        for odd in damaged_teeth(case.shape, cut_off=is_cut_off(case)):
            parts = []
            if abs(odd.shift) > 0.05:
                parts.append(f"{abs(odd.shift):.0%} of a pitch {'late' if odd.shift > 0 else 'early'}")
            if odd.height < 0.9:
                parts.append(f"{odd.height:.0%} of its neighbours' signal")
            if abs(odd.width) > 0.05:
                parts.append(
                    f"{abs(odd.width):.0%} of a pitch {'wider' if odd.width > 0 else 'narrower'} than its neighbours"
                )
            reason = f"Tooth {odd.position + 1} differs in turn after turn: {', '.join(parts)}."
            found.append(Cause("unknown", f"tooth {odd.position + 1} damaged", reason, look, "component"))
        limit = case.conditions.figure(RUN_OUT)
        size, doubt = case.shape.run_out, case.shape.run_out_doubt
        if is_cut_off(case):
            return found
        if size is not None and doubt is not None and limit is not None and size - 2 * doubt > limit:
            reason = (
                f"The signal's strength goes up and down by ±{size:.0%} once a turn (±{2 * doubt:.0%}); at most ±{limit:.0%} "
                f"({RUN_OUT.source}): the wheel runs out, or sits askew."
            )
            do = "Measure the wheel's run-out and the air gap all round, after the maker's figures."
            rule = f"strength ±{size:.0%} once a turn, at most ±{limit:.0%}"
            mark = Throughout("run-out", 100 * (size - limit), "%", rule)
            found.append(Cause("unknown", "run-out", reason, do, "component", throughout=mark))
    return found


def _extra_every_turn(case: WheelCase, look: str) -> list[Cause]:
    turns, wheel = case.reading.turns, case.reading.wheel
    if turns is None or wheel is None or turns.count < 2:
        return []
    places: dict[int, int] = {}
    for at in turns.extra_at.tolist():
        places[int(at)] = places.get(int(at), 0) + 1
    often = [place for place, count in places.items() if count >= 0.6 * turns.count]
    return [
        Cause(
            "unknown",
            "extra tooth",
            f"An edge too many beside tooth {place + 1} in {places[place]} of {turns.count} turns: something that is no tooth of "
            "this wheel passes the sensor there.",
            look,
            "component",
        )
        for place in sorted(often)[:2]
    ]


def beside_the_good(case: WheelCase) -> list[Cause]:
    """What the known-good has otherwise at any speed: strength, polarity, levels, pattern."""
    good, reading = case.good, case.reading
    if good is None or good.teeth is None or good.train.manner != reading.train.manner:
        return []
    found = []
    if reading.swings:
        found += _strength(case)
        if reading.rising != good.rising and reading.wheel is not None and reading.wheel.absent:
            reason = (
                f"The teeth cross the middle {'rising' if reading.rising else 'falling'}, on the known-good "
                f"{'rising' if good.rising else 'falling'}: the sensor's two wires are swapped, or the probe's."
            )
            do = "Compare pins and colours with the maker's diagram at both plugs; check which way the probe was clipped."
            mark = Throughout("wrong shape", 0.0, "", "teeth cross the middle the other way than on the known-good")
            found.append(Cause("unknown", "wires swapped", reason, do, "wire", throughout=mark))
    else:
        found += _levels_beside(case)
        gaps = gap_is_high(reading), gap_is_high(good)
        if None not in gaps and gaps[0] != gaps[1]:
            reason = (
                f"The gap stands {'high' if gaps[0] else 'low'}, on the known-good {'high' if gaps[1] else 'low'}: a sensor "
                "of the other polarity."
            )
            found.append(
                Cause(
                    "unknown",
                    "inverted signal",
                    reason,
                    "Compare the sensor's part with the maker's list.",
                    "component",
                    throughout=Throughout("wrong shape", 0.0, "", "the gap stands at the other level"),
                )
            )
    if reading.uneven is not None and good.uneven is not None:
        off = away(reading.uneven, good.uneven)
        if off is None or off > PATTERN_SHARE:
            what = (
                f"has {reading.uneven.edges} edges, on the known-good {good.uneven.edges}"
                if off is None
                else f"differs by up to {off:.1%} of a turn"
            )
            reason = f"The pattern of unlike teeth {what}."
            found.append(
                Cause(
                    "unknown",
                    "pattern differs",
                    reason,
                    "Look at the wheel, and whether it is the same part.",
                    "component",
                    throughout=Throughout(
                        "wrong pattern", 0.0 if off is None else 100 * off, "%", f"the pattern {what}"
                    ),
                )
            )
    return found


def _strength(case: WheelCase) -> list[Cause]:
    own = case.shape.strength if case.shape is not None else None
    good = case.good_shape.strength if case.good_shape is not None else None
    if is_cut_off(case) or not own or not good or WEAKER <= own / good <= STRONGER:
        return []
    wide = own < good
    reason = (
        f"At the same speed the sensor gives {own / good:.0%} of the known-good's signal ({in_words(own, case.unit)} against "
        f"{in_words(good, case.unit)} peak to peak at 1000 teeth a second)."
    )
    do = "Check the air gap, and the sensor's resistance against the maker's figures."
    rule = f"{own / good:.0%} of the known-good's strength at the same speed"
    mark = Throughout("too low" if wide else "too high", abs(own - good), case.unit, rule)
    picture = f"air gap too {'wide' if wide else 'narrow'}"
    return [Cause("unknown", picture, reason, do, "component", throughout=mark)]


def _levels_beside(case: WheelCase) -> list[Cause]:
    assert case.good is not None
    own, good = case.reading.train, case.good.train
    found = []
    reach = LEVEL_SHARE * good.amplitude
    for name, here, there in (("low", own.low, good.low), ("high", own.high, good.high)):
        worse = here - there if name == "low" else there - here
        if worse > reach:
            reason = f"The {name} level is {here:.2f} V, on the known-good {there:.2f} V."
            do = "Measure the sensor's supply, and the voltage drop on its ground while it runs."
            rule = f"{name} level {here:.2f} V, on the known-good {there:.2f} V"
            mark = Throughout("too high" if name == "low" else "too low", worse, "V", rule)
            found.append(Cause("resistive", "weak signal", reason, do, "wire", throughout=mark))
    return found


def cam_causes(case: WheelCase) -> list[Cause]:
    """A cam that stands elsewhere than on the known-good."""
    limit = case.conditions.figure(CAM_DRIFT)
    if case.phase is None or case.good_phase is None or limit is None:
        return []
    late = drift(case.phase, case.good_phase)
    if late is None or abs(late) <= limit:
        return []
    reason = (
        f"The cam comes {abs(late):.1f}° of the crankshaft {'later' if late > 0 else 'earlier'} than on the known-good; at most "
        f"{limit:g}° ({CAM_DRIFT.source})."
    )
    do = "Check chain or belt, and whether the cam was being adjusted on either capture; then the maker's timing marks."
    rule = f"cam {abs(late):.1f}° of the crankshaft {'late' if late > 0 else 'early'}, at most {limit:g}°"
    mark = Throughout("timing off", abs(late) - limit, "°", rule)
    return [Cause("unknown", "cam timing off", reason, do, "component", throughout=mark)]
