"""What the findings on a toothed wheel mean."""

from loomlight.signal.cause import lost_throughout, marked_throughout, verdict_of
from loomlight.signal.examination import Doubt
from loomlight.signal.finding import Finding
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Verdict
from loomlight.signal.wheel_case import WheelCase, has_levels, turns_of
from loomlight.signal.wheel_faults import beside_the_good, cam_causes, tooth_causes
from loomlight.signal.wheel_wire import coming_and_going, is_at_battery, lost_causes, weak_causes

SAID_ONLY = ("clipping", "unit unknown")
"""Doubts about how high the signal is: they are said, and heights not judged; teeth and turns still hold."""


def judge_wheel(case: WheelCase) -> tuple[tuple[Finding, ...], Verdict]:
    """What is wrong throughout, and the verdict, most telling cause first."""
    if case.reading.teeth is None:
        verdict = _without_edges(case)
        return lost_throughout(case.channel, verdict), verdict
    causes = [
        *lost_causes(case),
        *tooth_causes(case),
        *coming_and_going(case),
        *(weak_causes(case) + beside_the_good(case) if has_levels(case) else ()),
        *cam_causes(case),
    ]
    notes = _notes(case)
    unsure = [*(one for one in case.doubts if one.about not in SAID_ONLY), *([] if causes else _open_questions(case))]
    clean = _clean_reason(case) if not causes and not unsure else ""
    verdict = verdict_of(causes, unsure=unsure, notes=notes, clean=clean)
    return marked_throughout(case.channel, causes), verdict


def _without_edges(case: WheelCase) -> Verdict:
    train = case.reading.train
    few = train.at_s.size
    what = "no pulse comes" if not few else f"only {few} edge{'s' if few > 1 else ''} came"
    level = f"The wire stands at {in_words(train.low, case.unit)}"
    if case.turning_beside and train.manner == "flat":
        short = is_at_battery(case, train.low)
        return Verdict(
            "faulty",
            "short" if short else "unknown",
            (
                f"{level} and no pulse comes, although {case.turning_beside}.",
                "An open wire, a short, a sensor without supply, or a sensor that is dead can all look like this.",
            ),
            next_step="Measure the sensor's supply and ground at its plug, then its wire for continuity and against ground.",
            short_to="battery" if short else None,
            picture="no signal",
        )
    return Verdict(
        "cannot tell",
        "unknown",
        (
            f"{level} and {what}: the wheel may stand still, the wire may be "
            "open or shorted, or the probe does not touch.",
        ),
        next_step="Crank the engine while recording; record the cam sensor or a working wheel together with this one.",
    )


def _open_questions(case: WheelCase) -> list[Doubt]:
    wheel, reading = case.reading.wheel, case.reading
    if reading.uneven is not None or (
        wheel is None and reading.teeth is not None and not reading.teeth.steps.max() > 1
    ):
        if reading.uneven is not None and reading.uneven.broken_s:
            first = reading.uneven.broken_s[0][0]
            many = len(reading.uneven.broken_s)
            where = f"{many} place{'s' if many > 1 else ''}, the first at {in_words(first, 's')}"
            text = f"The pattern of unlike teeth does not hold at {where}."
            return [Doubt("pattern", text, "Record more turns at a steady speed.")]
        return []
    if wheel is None:
        return [
            Doubt(
                "pattern unknown",
                "The intervals follow no pattern that repeats for two turns, so missing and extra teeth cannot be told.",
                "Record more turns, or give the number of teeth and those left out at the gap.",
            )
        ]
    if reading.design is not None and case.good is None and reading.known_by != "given":
        text = (
            f"In every turn of {wheel.positions} positions {max(wheel.gaps)} teeth are left out at the gap: made so, or a "
            f"{reading.design.name} wheel that lost a tooth beside its gap."
        )
        do = "Look at the wheel beside its gap, give its teeth and those left out, or lay a known-good beside it."
        return [Doubt("pattern unlike", text, do)]
    if reading.known_by == "learnt" and len(set(wheel.gaps)) > 1 and case.good is None:
        gaps = ", ".join(str(one) for one in wheel.gaps)
        text = f"A turn of {wheel.positions} positions has gaps of {gaps} teeth: made so, or a tooth lost."
        return [
            Doubt(
                "pattern unlike",
                text,
                "Look at the wheel, give its teeth and those left out, or lay a known-good beside it.",
            )
        ]
    return []


def _notes(case: WheelCase) -> tuple[str, ...]:
    stops = [one for one in case.reading.lost if one.stops]
    notes = [f"{one.text} {one.do}" for one in case.doubts if one.about in SAID_ONLY]
    if stops:
        notes.append(
            f"The wheel comes to rest or starts at {in_words(stops[0].start_s, 's')}: its speed shows that; no fault."
        )
    if case.good is not None and case.good.teeth is None:
        notes.append("The known-good shows no pulses, so nothing was held against it.")
    if case.phase is not None and case.good_phase is None:
        notes.append("The cam's place was measured; without a known-good's cam it was not judged.")
    return tuple(notes)


def _clean_reason(case: WheelCase) -> str:
    reading = case.reading
    if reading.uneven is not None:
        return f"The pattern of {reading.uneven.edges // 2} unlike teeth repeats all the way."
    if reading.wheel is None:
        assert reading.teeth is not None
        return f"{reading.teeth.times_s.size} teeth pass evenly; the wheel has no gap, so its turns are not known."
    count = len(turns_of(case))
    gap = _gap_words(reading.wheel.gaps)
    return f"Every tooth of the {reading.wheel.name} wheel comes at its place in {count} whole turns;{gap}."


def _gap_words(gaps: tuple[int, ...]) -> str:
    if not gaps:
        return " it has no gap"
    sizes = " and ".join(str(one) for one in sorted(set(gaps)))
    return f" its gap of {sizes} is by design" if len(gaps) == 1 else f" its {len(gaps)} gaps of {sizes} are by design"
