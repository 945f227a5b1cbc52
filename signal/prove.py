"""Whether a repair is proven: the capture after it against the one before, check by check."""

import numpy as np

from loomlight.signal.align import line_up
from loomlight.signal.comparison import Comparison
from loomlight.signal.errors import CannotUse
from loomlight.signal.lin_clean import is_answered_on_request_only
from loomlight.signal.lin_dropouts import episodes
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.proof import Proof, ProofCheck, ProofState
from loomlight.signal.quantity import in_words
from loomlight.signal.spans import spans_of

EXPECTED_EPISODES = 3.0
"""Seeing none where three were to be expected leaves 5 % for chance (rule of three: Hanley and Lippman-Hand 1983)."""
SUPPLY_SHARE = 0.2
"""How far the supplies of the two captures may be apart (common practice, no source)."""
LEAST_FIT = 0.8
"""A known-good and a mended wire are at least this much alike (common practice, no source)."""
DRIVER_LOW_SHARE = 0.20
SAME_LEVEL_V = 0.4
"""One talker before and after, or here and on the known-good (common practice, no source)."""


def prove(before: Comparison, after: Comparison, progress: Progress = unwatched) -> Proof:
    """Hold the capture after the repair against the one before.

    Proven only where the fault was caught before, nothing is found after, and the capture after would have caught it: for
    a fault that comes and goes, at least three episodes have to be expected in its length.

    Parameters
    ----------
    before, after : Comparison
        Of the same wire and signal kind, each with a known-good or without.
    progress : Progress
        0 to 1.
    """
    lineup = _laid(before, after, progress)
    checks = _checks(before, after)
    state, reasons = _state(before, after, checks)
    return Proof(before, after, lineup, tuple(checks), state, tuple(reasons))


def _laid(before: Comparison, after: Comparison, progress: Progress) -> LineUp | None:
    try:
        return line_up(before.suspect, after.suspect, progress=progress)
    except CannotUse:
        return None


def _count(comparison: Comparison, *kinds: str) -> int:
    own = [one for one in comparison.findings if one.channel == comparison.suspect.name]
    return sum(one.kind in kinds for one in own) if kinds else sum(one.severity == "severe" for one in own)


def _checks(before: Comparison, after: Comparison) -> list[ProofCheck]:
    checks = [_zero("severe findings", _count(before), _count(after))]
    if before.bus is not None or after.bus is not None:
        checks.append(_zero("dropouts", _count(before, "dropout"), _count(after, "dropout")))
        checks += _bus_checks(before, after)
        checks += _level_checks(before, after)
    else:
        kinds = ("too high", "too low", "out of band")
        checks.append(_zero("stretches beyond the limits", _count(before, *kinds), _count(after, *kinds)))
    checks += _series_check(before, after)
    if after.lineup is not None:
        fit = after.lineup.fit if after.lineup.accepted else None
        old = before.lineup.fit if before.lineup is not None and before.lineup.accepted else None
        checks.append(
            ProofCheck("fit to the known-good", old, fit, LEAST_FIT, None if fit is None else bool(fit >= LEAST_FIT))
        )
    return checks


def _zero(name: str, before: float | None, after: float | None) -> ProofCheck:
    return ProofCheck(name, before, after, 0.0, None if after is None else after <= 0)


def _bus_checks(before: Comparison, after: Comparison) -> list[ProofCheck]:
    old, new = before.bus, after.bus
    return [
        _zero("frames that could not be read", old.errors if old else None, new.errors if new else None),
        _zero(
            "headers without an answer",
            _unanswered(before) if old else None,
            _unanswered(after) if new else None,
        ),
    ]


def _unanswered(comparison: Comparison) -> int:
    own = [one for one in comparison.findings if one.channel == comparison.suspect.name and one.kind == "no response"]
    return sum(not is_answered_on_request_only(one) for one in own)


def _level_checks(before: Comparison, after: Comparison) -> list[ProofCheck]:
    """Dominant level of each talker, against the known-good's where it has it, else against what a driver has to reach."""
    levels = [{one.talker: one.dominant_v for one in bus.talkers} if bus else {} for bus in (before.bus, after.bus)]
    good = {one.talker: one.dominant_v for one in after.good_bus.talkers} if after.good_bus else {}
    checks = []
    for talker in sorted(set(levels[0]) | set(levels[1]), key=lambda name: (name != "commander", name)):
        limit = good[talker] + SAME_LEVEL_V if talker in good else None
        if limit is None and after.bus is not None and after.bus.supply_v is not None:
            limit = DRIVER_LOW_SHARE * after.bus.supply_v
        now = levels[1].get(talker)
        passed = None if now is None or limit is None else bool(now <= limit)
        checks.append(ProofCheck(f"dominant level, {talker} (V)", levels[0].get(talker), now, limit, passed))
    return checks


def _series_check(before: Comparison, after: Comparison) -> list[ProofCheck]:
    old, new = before.verdict, after.verdict
    if old.series_ohm_low is None or old.fault == "none":
        return []
    now = new.series_ohm if new.series_ohm is not None else new.series_ohm_high
    limit = old.series_ohm_low
    passed = None if now is None else bool(now < limit)
    if passed is False and new.series_ohm is None:
        passed = None  # a bound above the old resistance says neither that it is gone nor that it is there
    return [ProofCheck("series resistance (Ω)", old.series_ohm, now, limit, passed)]


def _state(before: Comparison, after: Comparison, checks: list[ProofCheck]) -> tuple[ProofState, list[str]]:
    unsure = _incomparable(before, after)
    failed = [check for check in checks if check.passed is False]
    if after.verdict.state == "faulty":
        return "not proven", [f"The capture after the repair is still faulty: {after.verdict.reasons[0]}", *unsure]
    if after.verdict.state == "cannot tell":
        return "cannot tell", [f"The capture after the repair says too little: {after.verdict.reasons[0]}", *unsure]
    if failed:
        return "not proven", [f"{check.name}: {_shown(check)}." for check in failed] + unsure
    if before.verdict.state != "faulty":
        unsure.insert(0, "The capture before the repair does not show the fault, so there is nothing to compare with.")
    unsure += _too_short(before, after) + _too_coarse(before, after)
    if unsure:
        return "cannot tell", unsure
    passed = sum(check.passed is True for check in checks)
    reasons = [
        f"Before: {before.verdict.reasons[0]}",
        f"After: nothing found, {passed} of {len(checks)} checks passed.",
    ]
    if before.verdict.intermittent:
        reasons.append(
            f"At the rate of before, {_expected(before, after):.1f} episodes were to be expected in the capture after; none came."
        )
    unmeasured = [check.name for check in checks if check.passed is None]
    if unmeasured:
        hidden = [one for one in after.verdict.reasons if one.startswith("A series resistance of up to")]
        reasons.append(" ".join([f"Not measured after the repair: {', '.join(unmeasured)}.", *hidden]))
    return "proven", reasons


def _shown(check: ProofCheck) -> str:
    return (
        f"{check.after:.3g} after the repair, {check.limit:.3g} allowed"
        if check.limit is not None
        else f"{check.after}"
    )


def _incomparable(before: Comparison, after: Comparison) -> list[str]:
    found = []
    if before.kind != after.kind:
        found.append(f"The two were judged by different signal kinds ({before.kind} and {after.kind}).")
    if before.bus is not None and (after.bus is None or not after.bus.frames):
        found.append("The bus does not talk in the capture after the repair.")
    supplies = [bus.supply_v if bus is not None else None for bus in (before.bus, after.bus)]
    if supplies[0] and supplies[1] and abs(supplies[0] - supplies[1]) > SUPPLY_SHARE * supplies[0]:
        found.append(f"The supplies differ too much to compare: {supplies[0]:.1f} V before, {supplies[1]:.1f} V after.")
    return found


def _length_s(comparison: Comparison) -> float:
    return comparison.suspect.stop_s - comparison.suspect.start_s


def _episodes(comparison: Comparison) -> int:
    own = [one for one in comparison.findings if one.kind == "dropout" and one.channel == comparison.suspect.name]
    return len(episodes(spans_of(np.array([(one.start_s, one.stop_s) for one in own]))))


def _expected(before: Comparison, after: Comparison) -> float:
    return _episodes(before) / _length_s(before) * _length_s(after)


def _too_short(before: Comparison, after: Comparison) -> list[str]:
    if not before.verdict.intermittent or not _episodes(before):
        return []
    expected = _expected(before, after)
    if expected >= EXPECTED_EPISODES:
        return []
    needed_s = EXPECTED_EPISODES / _episodes(before) * _length_s(before)
    return [
        f"The fault comes and goes, and the capture after is too short to have caught it: {expected:.1f} episodes were to be "
        f"expected. Record at least {in_words(needed_s, 's', digits=2)} under the same shaking."
    ]


def _too_coarse(before: Comparison, after: Comparison) -> list[str]:
    old_ohm, bound_ohm = before.verdict.series_ohm_low, after.verdict.series_ohm_high
    if not old_ohm or bound_ohm is None or after.verdict.series_ohm is not None or bound_ohm < old_ohm:
        return []
    return [
        f"The capture after only shows that the resistance is under {in_words(bound_ohm, 'Ω')}, and it was at least "
        f"{in_words(old_ohm, 'Ω')} before: use the instrument's finest range, and zero both channels."
    ]
