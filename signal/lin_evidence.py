"""Wire, component or control unit: the evidence that a LIN capture gives."""

from collections import Counter

import numpy as np

from loomlight.signal.evidence import Evidence
from loomlight.signal.lin_case import Case
from loomlight.signal.lin_clean import DIAGNOSTIC_RESPONSE
from loomlight.signal.lin_examination import DRIVER_LOW_SHARE, LineReading
from loomlight.signal.lin_ground import PICTURE as GROUND_PICTURE
from loomlight.signal.lin_ground import SAME_LEVEL_V, own_ground
from loomlight.signal.lin_parts import COMMANDER
from loomlight.signal.lin_pull_up import PICTURE as PULL_UP_PICTURE
from loomlight.signal.quantity import in_words
from loomlight.signal.spans import total
from loomlight.signal.verdict import Verdict

OWN_GROUND = "probe the bus pin against that node's own ground: if the level is right there, its ground is bad"


def evidence_of(case: Case, verdict: Verdict) -> tuple[Evidence, ...]:
    """The evidence table of one verdict.

    Parameters
    ----------
    case : Case
        What it was made from.
    verdict : Verdict
        The answer.

    Returns
    -------
    tuple of Evidence
        Empty where the measurement itself is not sound.
    """
    if case.suspect.doubts:
        return ()
    rows = [_headers(case), *_answers(case), *_high_at_both(case), *_grounds(case), _wire(case, verdict)]
    return tuple(row for row in rows if row is not None)


def _headers(case: Case) -> Evidence:
    question = "Headers at this probe?"
    here = _header_count(case.line)
    if not case.together or case.good_line is None:
        if here:
            return Evidence(question, f"{here}", "The commander sends and its headers arrive here.")
        why = "Nobody sends, or nothing arrives: a known-good of the same bus, recorded together, tells which."
        return Evidence(question, "none", why, raises=("control unit", "wire"))
    there = _header_count(case.good_line)
    answer = f"{here or 'none'}, and {there or 'none'} at the known-good"
    if here < 0.9 * there:
        why = "The commander sends, and its headers are lost on the way to this probe."
        return Evidence(question, answer, why, raises=("wire",), lowers=("control unit",))
    if not here:
        why = "The commander does not send, the bus sleeps, or a short holds the whole bus."
        return Evidence(question, answer, why, raises=("control unit",))
    return Evidence(
        question, answer, "The commander sends and its headers arrive at both probes.", lowers=("control unit",)
    )


def _header_count(line: LineReading | None) -> int:
    received = line.received if line is not None else None
    return sum(frame.identifier is not None for frame in received.frames) if received is not None else 0


def _answers(case: Case) -> list[Evidence]:
    """Who answers: at this probe, and at the known-good where both were recorded together."""
    here = _answered(case.line)
    there = _answered(case.good_line) if case.together else {}
    silent = sorted(one for one, (good, called) in here.items() if not good and called and one != DIAGNOSTIC_RESPONSE)
    question = "Answers at this probe?"
    if not here:
        return []
    if not silent:
        called = f"each of {len(here)} identifiers is answered"
        return [Evidence(question, called, "Every node that is called talks.")]
    heard = [one for one in silent if there.get(one, (0, 0))[0]]
    mute = [one for one in silent if one not in heard]
    found = []
    if heard:
        why = "Those answers are seen at the known-good and do not arrive here."
        found.append(
            Evidence(question, f"{_names(heard)} not answered here", why, raises=("wire",), lowers=("component",))
        )
    if mute:
        where = "here or at the known-good" if there else "here"
        why = "The node that ought to answer is dead, unpowered, or cut off on its own branch: measure its supply and ground."
        parts: tuple[str, ...] = ("component",) if there else ("component", "wire")
        found.append(Evidence(question, f"{_names(mute)} not answered {where}", why, raises=parts))  # type: ignore[arg-type]
    return found


def _answered(line: LineReading | None) -> dict[int, tuple[int, int]]:
    """For each identifier how often it was answered, and how often it was called."""
    received = line.received if line is not None else None
    frames = [one for one in received.frames if one.state != "past the end"] if received is not None else []
    called = Counter(one.identifier for one in frames if one.identifier is not None)
    good = Counter(one.identifier for one in frames if one.identifier is not None and one.data)
    return {identifier: (good[identifier], count) for identifier, count in called.items()}


def _names(identifiers: list[int]) -> str:
    return ", ".join(f"{one:#04x}" for one in identifiers)


def _high_at_both(case: Case) -> list[Evidence]:
    """A talker that stands high at both probes alike: no resistance between them does that."""
    supply, good = case.line.supply, case.good_line
    if not case.together or good is None or supply is None:
        return []
    found = []
    for talker in case.line.talkers:
        here, there = case.line.level_of(talker), good.level_of(talker)
        if talker == COMMANDER or here is None or there is None:
            continue
        if min(here, there) > DRIVER_LOW_SHARE * supply.volts and abs(here - there) < SAME_LEVEL_V:
            why = (
                f"No resistance between the probes does that: its own ground, its driver, or a joint beyond both probes; "
                f"{OWN_GROUND}."
            )
            answer = f"{talker} at {here:.2f} V and {there:.2f} V"
            found.append(Evidence("A talker high at both probes alike?", answer, why, raises=("component", "wire")))
    return found


def _grounds(case: Case) -> list[Evidence]:
    """The ground that was recorded beside, against the node that answers most weakly: whose it is."""
    levels = {
        who: volts for who in case.line.talkers if who != COMMANDER and (volts := case.line.level_of(who)) is not None
    }
    ground = own_ground(case, max(levels, key=levels.__getitem__)) if levels else None
    if ground is None or not (ground.explains or ground.is_sound):
        return []
    question = f"Own ground of the node that gives {ground.talker}?"
    answer = f"{ground.driving_v:.2f} V while it drives, {ground.silent_v:.2f} V while it is silent"
    if ground.explains:
        why = "Its ground lifts the line: the bus wire is not what raises its level."
        return [Evidence(question, answer, why, raises=("component",), lowers=("wire",))]
    return [Evidence(question, answer, "Its ground is sound.", lowers=("component",))]


def _wire(case: Case, verdict: Verdict) -> Evidence | None:
    """What dropouts and levels say of the wire."""
    question = "Dropouts, and levels by talker?"
    if case.line.is_flat and not len(case.dropouts):
        if verdict.fault == "open":
            return Evidence("Level of the quiet line?", "its own node's pull-up", "The wire is open.", raises=("wire",))
        if verdict.fault == "short":
            why = "A short may sit in the wire or inside whatever hangs on it: unplug one after the other."
            return Evidence("Level of the quiet line?", f"held at {verdict.short_to}", why)
        return None
    spans = np.concatenate([case.dropouts, case.good_dropouts_here])
    count = len(spans)
    answer = f"{count or 'no'} dropouts" + (f", {in_words(total(spans), 's')} in all" if count else "")
    if verdict.picture in (GROUND_PICTURE, PULL_UP_PICTURE):
        return Evidence(question, answer, "")
    if verdict.state == "faulty" and verdict.fault in ("open", "resistive"):
        if verdict.series_ohm is not None:
            answer += f"; a level lifted as by {in_words(verdict.series_ohm, 'Ω', digits=2)}"
        why = "The wire explains what is seen: mend it before anything else is judged."
        return Evidence(question, answer, why, raises=("wire",), lowers=("component", "control unit"))
    if verdict.state == "clean":
        why = "The wire brings a right signal to this probe, so what sends and what listens come into question."
        return Evidence(
            question, f"{answer}, levels right", why, raises=("component", "control unit"), lowers=("wire",)
        )
    return Evidence(question, answer)
