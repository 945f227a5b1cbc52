"""Whether a repair is proven: the capture after it against the one before, check by check."""

import numpy as np

from loomlight.signal.align import line_up
from loomlight.signal.comparison import Comparison
from loomlight.signal.errors import CannotUse
from loomlight.signal.finding import Finding
from loomlight.signal.lin_dropouts import EPISODE_GAP_S
from loomlight.signal.lineup import LineUp
from loomlight.signal.long_enough import FEWEST_EPISODES, Recurrence, recurrence
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.proof import Circumstances, Proof, ProofCheck, ProofState
from loomlight.signal.proof_checks import checks_of
from loomlight.signal.quantity import in_words
from loomlight.signal.same_conditions import Condition, conditions_of_both, length_s
from loomlight.signal.spans import spans_of, total

STEADY_SHARE = 0.5
"""Findings that fill at least this share of a capture are no events: the fault is there all the time."""
ROUNDED_UP = 1.005
"""A length that is asked for is not rounded to a shorter one."""
AGAIN = (
    "Repeat what brought the fault on (move the loom, add load, warm it up) while recording, and say that it was done."
)
SAID = "That what brought the fault on was repeated while recording is as the technician said."


def prove(
    before: Comparison,
    after: Comparison,
    progress: Progress = unwatched,
    *,
    circumstances: Circumstances | None = None,
) -> Proof:
    """Hold the capture after the repair against the one before.

    Proven only where the fault was caught before, nothing is found after, both were taken under the same conditions, and
    the capture after would have caught it: for a fault that comes and goes, it has to be long enough (`long_enough`).

    Parameters
    ----------
    before, after : Comparison
        Of the same wire and signal kind, each with a known-good or without.
    progress : Progress
        0 to 1.
    circumstances : Circumstances, optional
        What only the technician can say.
    """
    said = circumstances or Circumstances()
    lineup = _laid(before, after, progress)
    came, left = recurrence_of(before), recurrence_of(after)
    checks = checks_of(before, after, came, left)
    conditions = conditions_of_both(before, after)
    state, reasons = _state(before, after, checks, conditions, came, said)
    return Proof(before, after, lineup, tuple(checks), state, tuple(reasons), conditions, said)


def _laid(before: Comparison, after: Comparison, progress: Progress) -> LineUp | None:
    try:
        return line_up(before.suspect, after.suspect, progress=progress)
    except CannotUse:
        return None


def recurrence_of(comparison: Comparison) -> Recurrence:
    """How often the fault came in a capture: its dropouts where it has any, else its severe findings."""
    events = spans_of(np.array([(one.start_s, one.stop_s) for one in _events(comparison)]))
    return recurrence(events, comparison.suspect.start_s, comparison.suspect.stop_s, gap_s=EPISODE_GAP_S)


def _events(comparison: Comparison) -> list[Finding]:
    own = [one for one in comparison.findings if one.channel == comparison.suspect.name]
    return [one for one in own if one.kind == "dropout"] or [one for one in own if one.severity == "severe"]


def _comes_and_goes(before: Comparison) -> bool:
    """Whether the fault has to be waited for: it was seen now and then, and not all the time."""
    if before.verdict.intermittent:
        return True
    if before.bus is not None or before.verdict.state != "faulty":
        return False
    events = spans_of(np.array([(one.start_s, one.stop_s) for one in _events(before)]))
    return bool(len(events)) and total(events) < STEADY_SHARE * length_s(before)


def _state(
    before: Comparison,
    after: Comparison,
    checks: list[ProofCheck],
    conditions: tuple[Condition, ...],
    came: Recurrence,
    said: Circumstances,
) -> tuple[ProofState, list[str]]:
    unsure = _incomparable(before, after, conditions)
    failed = [check for check in checks if check.passed is False]
    if after.verdict.state == "faulty":
        return "not proven", [f"The capture after the repair is still faulty: {after.verdict.reasons[0]}", *unsure]
    if after.verdict.state == "cannot tell":
        return "cannot tell", [f"The capture after the repair says too little: {after.verdict.reasons[0]}", *unsure]
    if failed:
        return "not proven", [f"{check.name}: {_shown(check)}." for check in failed] + unsure
    if before.verdict.state != "faulty":
        unsure.insert(0, "The capture before the repair does not show the fault, so there is nothing to compare with.")
    waits = _comes_and_goes(before) and came.episodes > 0
    unsure += (_too_short(after, came, said) if waits else []) + _too_coarse(before, after)
    if unsure:
        return "cannot tell", unsure + _differing(conditions)
    passed = sum(check.passed is True for check in checks)
    reasons = [
        f"Before: {before.verdict.reasons[0]}",
        f"After: nothing found, {passed} of {len(checks)} checks passed.",
    ]
    reasons += _waited(after, came, said) if waits else []
    unmeasured = [check.name for check in checks if check.passed is None]
    if unmeasured:
        hidden = [one for one in after.verdict.reasons if one.startswith("A series resistance of up to")]
        reasons.append(" ".join([f"Not measured after the repair: {', '.join(unmeasured)}.", *hidden]))
    return "proven", reasons + _differing(conditions)


def _shown(check: ProofCheck) -> str:
    return (
        f"{check.after:.3g} after the repair, {check.limit:.3g} allowed"
        if check.limit is not None
        else f"{check.after}"
    )


def _incomparable(before: Comparison, after: Comparison, conditions: tuple[Condition, ...]) -> list[str]:
    found = [one.hinders for one in conditions if one.hinders]
    if before.bus is not None and (after.bus is None or not after.bus.frames):
        found.append("The bus does not talk in the capture after the repair.")
    return found


def _differing(conditions: tuple[Condition, ...]) -> list[str]:
    """Differences that do not hinder, but that a reader shall know of."""
    found = [
        f"{one.name} {one.before}, then {one.after}" for one in conditions if one.same is False and not one.hinders
    ]
    return [f"Not the same before and after: {'; '.join(found)}."] if found else []


def _too_short(after: Comparison, came: Recurrence, said: Circumstances) -> list[str]:
    counted = _counted(came)
    if said.picked and not said.provoked:
        return [
            "The capture before was picked because it showed the fault, so it does not tell how often the fault comes, and "
            f"silence afterwards says little. {AGAIN}"
        ]
    if came.episodes < FEWEST_EPISODES and not said.provoked:
        return [
            f"{counted}: too few to tell how often the fault comes, however long nothing is seen afterwards. {AGAIN}"
        ]
    if length_s(after) >= came.needed_s:
        return []
    return [
        f"The fault comes and goes, and the capture after is too short to have caught it. {counted}; record at least "
        f"{in_words(ROUNDED_UP * came.needed_s, 's')} without any (it has {in_words(length_s(after), 's')}). {AGAIN}"
    ]


def _counted(came: Recurrence) -> str:
    """How many episodes before, and what they were counted from."""
    word = "episode" if came.episodes == 1 else "episodes"
    bursts = f" ({came.groups} groups, which came in bursts)" if came.groups > came.episodes else ""
    return f"{came.episodes} {word}{bursts} in {in_words(came.length_s, 's')} before"


def _waited(after: Comparison, came: Recurrence, said: Circumstances) -> list[str]:
    found = [
        f"{_counted(came)}, none in {in_words(length_s(after), 's')} after: a fault as frequent as before would have shown "
        f"with at least 95 % ({in_words(came.needed_s, 's')} were needed)."
    ]
    if said.provoked:
        return [*found, SAID]
    return [*found, "Assumed: the capture before was not picked because it showed the fault."]


def _too_coarse(before: Comparison, after: Comparison) -> list[str]:
    old_ohm, bound_ohm = before.verdict.series_ohm_low, after.verdict.series_ohm_high
    if not old_ohm or bound_ohm is None or after.verdict.series_ohm is not None or bound_ohm < old_ohm:
        return []
    return [
        f"The capture after only shows that the resistance is under {in_words(bound_ohm, 'Ω')}, and it was at least "
        f"{in_words(old_ohm, 'Ω')} before: use the instrument's finest range, and zero both channels."
    ]
