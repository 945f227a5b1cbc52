"""The checks of a proof: figure by figure, before and after the repair, with what has to be kept."""

from loomlight.signal.comparison import Comparison
from loomlight.signal.lin_clean import is_answered_on_request_only
from loomlight.signal.long_enough import Recurrence
from loomlight.signal.proof import ProofCheck

LEVELS_BY_TALKER = "lin"
"""On this bus each talker's dominant level is held against the known-good's; other kinds are held by their own figures."""
LEAST_FIT = 0.8
"""A known-good and a mended wire are at least this much alike (common practice, no source)."""
DRIVER_LOW_SHARE = 0.20
SAME_LEVEL_V = 0.4
"""One talker before and after, or here and on the known-good (common practice, no source)."""


def _count(comparison: Comparison, *kinds: str) -> int:
    own = [one for one in comparison.findings if one.channel == comparison.suspect.name]
    return sum(one.kind in kinds for one in own) if kinds else sum(one.severity == "severe" for one in own)


def checks_of(before: Comparison, after: Comparison, came: Recurrence, left: Recurrence) -> list[ProofCheck]:
    """Each figure of both, with its limit.

    Parameters
    ----------
    before, after : Comparison
        Of the same wire.
    came, left : Recurrence
        How often the fault came, before and after.
    """
    checks = [_zero("severe findings", _count(before), _count(after))]
    if before.bus is not None or after.bus is not None:
        checks.append(_zero("dropouts", _count(before, "dropout"), _count(after, "dropout")))
        checks.append(_zero("episodes of dropouts", came.groups, left.groups))
        checks += _bus_checks(before, after)
    else:
        kinds = ("too high", "too low", "out of band")
        checks.append(_zero("stretches beyond the limits", _count(before, *kinds), _count(after, *kinds)))
    if before.kind == LEVELS_BY_TALKER:
        checks += _level_checks(before, after)
    else:
        checks += _measure_checks(before, after)
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


def _measure_checks(before: Comparison, after: Comparison) -> list[ProofCheck]:
    """Each measured figure that broke its limit before or after the repair."""
    old, new = (
        {(one.group, one.name): one for one in side.looked.measures} if side.looked is not None else {}
        for side in (before, after)
    )
    checks = []
    for key in dict.fromkeys([*old, *new]):
        was, now = old.get(key), new.get(key)
        told = now or was
        if told is None or not ((was is not None and was.kept is False) or (now is not None and now.kept is False)):
            continue
        unit = f" ({told.unit})" if told.unit else ""
        what = told.name if told.group in told.name else f"{told.group}, {told.name}"
        name = f"{what}{unit}, {told.limit}" if told.limit else f"{what}{unit}"
        before_value, now_value = (one.value if one is not None else None for one in (was, now))
        checks.append(ProofCheck(name, before_value, now_value, None, now.kept if now is not None else None))
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
