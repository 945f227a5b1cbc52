"""K-line levels that are wrong: lows that are not reached, a resting line that is too low."""

import math

from loomlight.signal.kline_findings import low_doubt_v, low_limit_v
from loomlight.signal.kline_reading import KCase, KReading, pull_up
from loomlight.signal.kline_words import TESTER
from loomlight.signal.line_faults import finite, median, ohms_in_words
from loomlight.signal.line_verdicts import unsure
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import NO_KNEE, Ohms, behind_pull_up, leak_beside
from loomlight.signal.verdict import Verdict

DRIVER_LOW_V = (0.1, 1.5)
"""Where drivers put the line (0.1 V to 1.5 V at 25 mA, common practice, no source)."""
LIFT_SHARE = 0.06
"""A level that is that share of the supply above the known-good's is no longer drift (common practice, no source)."""


def lows_not_reached(case: KCase) -> Verdict | None:
    """Low levels that are not reached: by every talker, or by some."""
    line = case.line
    levels = {who: median(line.lows_of(who)) for who in line.talkers}
    weak = {
        who: volts
        for who, volts in levels.items()
        if volts > low_limit_v(line, "unit", case.conditions) + low_doubt_v(line, int(line.lows_of(who).size))
    }
    if not weak:
        return None
    if TESTER in weak:
        return _to_battery(case, levels)
    return _resistive(case, weak, levels)


def _to_battery(case: KCase, levels: dict[str, float]) -> Verdict:
    line = case.line
    assert line.levels is not None
    shown = ", ".join(f"{who} {volts:.2f} V" for who, volts in levels.items())
    rested = line.levels.low > line.levels.high * 0.2
    others = [volts for who, volts in levels.items() if who != TESTER]
    if others and max(levels.values()) - min(levels.values()) > 0.25 * line.levels.high:
        rested = False
    if not rested:
        return unsure(
            f"The tester itself does not bring the line down ({shown}): its own driver or ground, or the instrument's.",
            "Put the probe's ground lead on battery negative, check the tester's ground pin, and repeat the capture.",
        )
    if case.conditions.supply_v is not None and line.levels.high > case.conditions.supply_v + 0.05 * line.levels.high:
        return unsure(
            f"Low and high both stand too high ({shown}; resting at {line.levels.high:.2f} V with a supply of "
            f"{case.conditions.supply_v:.2f} V): the probe's ground lead does not stand at battery negative.",
            "Put the probe's ground lead on battery negative and repeat the capture.",
        )
    low_v = line.levels.low
    ohms = _pulled_up(line, low_v)
    return Verdict(
        "faulty",
        "short",
        (
            f"Nobody brings the line down, not even the tester: {shown}. Something pulls it to battery harder than a driver can "
            "pull it down.",
            f"A driver that takes 0.05 to 0.2 A leaves that level against {ohms_in_words(ohms)} to battery (driver currents: "
            "common practice, no source).",
        ),
        next_step="Unplug the units one by one; if it stays, look along the loom for a chafe against a supply wire.",
        short_to="battery",
        picture="short to battery",
    )


def _pulled_up(line: KReading, low_v: float) -> Ohms:
    drop_v = max((line.supply_v or 0.0) - low_v, 0.01)
    return Ohms(drop_v / 0.1, drop_v / 0.2, drop_v / 0.05)


def _resistive(case: KCase, weak: dict[str, float], levels: dict[str, float]) -> Verdict:
    line = case.line
    assert line.supply_v is not None
    top_v = line.levels.high if line.levels is not None else line.supply_v
    source_v, doubt_v = (DRIVER_LOW_V[0] + DRIVER_LOW_V[1]) / 2, (DRIVER_LOW_V[1] - DRIVER_LOW_V[0]) / 2
    # Drivers are much alike: the tester's own level says where they put the line.
    if TESTER in levels:
        source_v, doubt_v = levels[TESTER], 0.7
    who, volts = max(weak.items(), key=lambda one: one[1])
    pull = pull_up(line, case.conditions)
    ohms = behind_pull_up(volts, source_v=source_v, top_v=top_v, pull=pull, doubt_v=doubt_v, knee=NO_KNEE)
    sound = [f"{one} {value:.2f} V" for one, value in levels.items() if one not in weak]
    beside = f" Others reach theirs: {', '.join(sound)}." if sound else ""
    several = len(weak) > 1
    return Verdict(
        "faulty",
        "resistive",
        (
            f"While {who} sends, the line comes down to {volts:.2f} V only; "
            f"{low_limit_v(line, who, case.conditions):.2f} V or less are due, and a receiver needs 30 % of the supply.{beside}",
            f"A series resistance of {ohms_in_words(ohms)} between that unit and this probe does that"
            f"{' (a joint that several units share)' if several else ''}; a ground of that unit that stands "
            f"{max(volts - source_v, 0.0):.1f} V too high would look the same.",
            f"Assumed: {in_words(pull.best, 'Ω', digits=2)} ± 5 % of pull-up at the tester, drivers at {source_v:.1f} "
            f"± {doubt_v:.1f} V.",
        ),
        next_step="Measure that unit's ground pin against battery negative while it sends; if it stays below 0.2 V, "
        "follow the wire from the unit to this probe.",
        series_ohm=finite(ohms.best),
        series_ohm_low=finite(ohms.low),
        series_ohm_high=finite(ohms.high),
        picture="series resistance or lifted ground at one unit",
    )


def low_rest(case: KCase) -> Verdict | None:
    """A resting line that is too low while its lows are right: a leak to ground."""
    line, supply_v = case.line, case.conditions.supply_v
    weak = case.own("weak recessive")
    assert line.levels is not None
    if not weak or supply_v is None:
        return None
    top_v = line.levels.high
    ohms = leak_beside(top_v, top_v=supply_v, pull=pull_up(line, case.conditions), doubt_v=0.02 * supply_v)
    return Verdict(
        "faulty",
        "short",
        (
            f"The line rests at {top_v:.2f} V instead of about {supply_v:.2f} V while its lows are right: a leak to ground of "
            f"{ohms_in_words(ohms)}.",
            "Assumed: the tester's pull-up is whole. A pull-up that has grown several times its value beside a unit's own load "
            "would look alike, but its rises would be slow.",
        ),
        next_step="Unplug the units one by one; where the level comes back, look at that branch for water or a chafed wire.",
        short_to="ground",
        picture="leak to ground",
    )


def above_the_good(case: KCase) -> Verdict | None:
    """A level that keeps its limit and still stands well above the same talker's on the known-good."""
    if case.good is None or case.good.line.is_flat or case.conditions.same_moment:
        return None
    line, good = case.line, case.good.line
    assert line.supply_v is not None
    for who in line.talkers:
        mine, theirs = line.lows_of(who), good.lows_of(who)
        if who == TESTER or not mine.size or not theirs.size:
            continue
        volts, good_v = median(mine), median(theirs)
        tester_v = median(line.lows_of(TESTER)) - median(good.lows_of(TESTER))
        shift_v = tester_v if math.isfinite(tester_v) else 0.0
        if volts - good_v - shift_v <= LIFT_SHARE * line.supply_v + low_doubt_v(line, int(mine.size)):
            continue
        top_v = line.levels.high if line.levels is not None else line.supply_v
        pull = pull_up(line, case.conditions)
        ohms = behind_pull_up(
            volts, source_v=good_v + shift_v, top_v=top_v, pull=pull, doubt_v=0.02 * line.supply_v, knee=NO_KNEE
        )
        return Verdict(
            "faulty",
            "resistive",
            (
                f"While {who} sends, the line comes down to {volts:.2f} V where the known-good has {good_v:.2f} V: "
                f"{ohms_in_words(ohms)} in series between that unit and this probe, or its ground lifted by "
                f"{volts - good_v - shift_v:.1f} V.",
                "The limits are still kept: it works today.",
            ),
            next_step="Measure that unit's ground pin against battery negative while it sends, then follow its wire.",
            series_ohm=finite(ohms.best),
            series_ohm_low=finite(ohms.low),
            series_ohm_high=finite(ohms.high),
            picture="series resistance or lifted ground at one unit",
        )
    return None
