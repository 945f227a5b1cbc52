"""Own limits: levels or curves that the technician gives, or a tolerance around the known-good."""

import math
from dataclasses import dataclass

import numpy as np

from loomlight.signal import sanity
from loomlight.signal.band import MOST_FINDINGS, Band, out_of_band
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import MAKER_FIRST
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Finding, Limit
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.levels import state_levels
from loomlight.signal.limit_curve import require_order
from loomlight.signal.limit_holding import beyond, beyond_curves, curve_coverage, curves_held, levels_held
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import Setting
from loomlight.signal.verdict import Verdict

COVERED_SHARE = 0.95
"""Below this share of the suspect the verdict says how much of it the known-good covered."""

RECIPE = Recipe(
    length_s=1.0,
    samples_per_s=100_000.0,
    coupling="DC",
    where="Where the limits hold: at the pin that they were given for.",
    switched_on="What makes the signal move; the same for the known-good and the suspect.",
    notes=("Ten samples or more on the shortest thing that matters.",),
)


@dataclass(frozen=True)
class OwnLimitsKind(UsualKind):
    """The signal kind ``own-limits``."""

    key: str = "own-limits"
    title: str = "Own limits"
    limits: tuple[Limit, ...] = ()
    cautions: tuple[str, ...] = (
        MAKER_FIRST,
        "Check the instrument's input limit before connecting; never probe high-voltage, airbag or ignition secondary circuits.",
    )
    settings: tuple[Setting, ...] = ()
    recipe: Recipe = RECIPE

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> Examination:
        """Stretches above the upper and below the lower level, each severe: whoever gave the limit meant it.

        Raises
        ------
        CannotUse
            If no limit was given, or the two are the wrong way round.
        """
        _require_limits(conditions)
        doubts = _doubts(channel, part(progress, 0.0, 0.4))
        found: list[Finding] = []
        held = [*levels_held(conditions), *([] if conditions.curves_on_good else curves_held(conditions))]
        for place, one in enumerate(held):
            walk = part(progress, 0.4 + 0.6 * place / len(held), 0.4 + 0.6 * (place + 1) / len(held))
            found += beyond(channel, one, walk)
        return Examination(
            channel=channel, findings=tuple(sorted(found, key=lambda one: one.start_s)), doubts=doubts, bus=None
        )

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """Add what leaves the tolerance around the known-good, then say whether the limits were kept."""
        found = list(suspect.findings)
        unsure = [doubt.text for doubt in suspect.doubts]
        next_step = suspect.doubts[0].do if suspect.doubts else ""
        notes = _notes(suspect.channel)
        contradiction = _contradiction(good)
        if contradiction:
            unsure.insert(0, contradiction)
            next_step = "Check the limits that were given, and whether the known-good is good."
        if conditions.within_v is not None:
            if good is None or lineup is None or not lineup.accepted:
                why = lineup.reason if lineup is not None else "there is no known-good."
                unsure.append(f"The tolerance around the known-good could not be held against the suspect: {why}")
                next_step = next_step or "Choose a known-good of the same signal, or give an upper and a lower level."
            else:
                found += _out_of_band(suspect.channel, good.channel, lineup, conditions.within_v, progress)
                notes += _coverage(suspect.channel, lineup)
        if curves_held(conditions):
            left, why = beyond_curves(suspect.channel, lineup, conditions)
            found += left
            if why:
                unsure.append(why)
                next_step = (
                    next_step or "Choose a known-good of the same signal, or lay the curves on the suspect's own time."
                )
            told, beside = curve_coverage(suspect.channel, lineup, conditions)
            notes += told
            if beside:
                unsure.append("The limit curves lie beside the capture: their times are not its times.")
                next_step = next_step or "Make the curves on this capture's own axis, or let them go with a known-good."
        findings = tuple(sorted(found, key=lambda one: one.start_s))
        broken = _broken(findings) if findings else ()
        if broken and not contradiction:
            verdict = Verdict("faulty", "unknown", (*broken, *unsure, *notes), next_step=next_step)
        elif unsure:
            verdict = Verdict("cannot tell", "unknown", (*unsure, *broken, *notes), next_step=next_step)
        else:
            verdict = _clean(suspect.channel, notes, conditions)
        return Judgement(findings, verdict)

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """What was given."""
        return conditions.within_v


def _require_limits(conditions: Conditions) -> None:
    upper, lower, within = conditions.upper_v, conditions.lower_v, conditions.within_v
    if upper is None and lower is None and within is None and not curves_held(conditions):
        raise CannotUse(
            "Own limits need figures: give an upper level, a lower level, a curve, or a tolerance around the known-good."
        )
    require_order(conditions.upper_curve, conditions.lower_curve)
    if not all(np.isfinite([one for one in (upper, lower, within) if one is not None])):
        raise CannotUse("A limit that is no number keeps nothing. Give a number.")
    if upper is not None and lower is not None and upper <= lower:
        raise CannotUse(f"The upper level ({upper:g}) must be above the lower one ({lower:g}).")
    if within is not None and within <= 0:
        raise CannotUse(f"The tolerance around the known-good must be above 0, got {within:g}.")


def _doubts(channel: Channel, progress: Progress) -> tuple[Doubt, ...]:
    levels = state_levels(channel.samples, progress)
    if levels is None:
        return (sanity.no_samples(channel),)
    found = [sanity.mostly_gaps(channel), sanity.clipped(channel, levels.greatest)]
    return sanity.doubts_among(found)


def _notes(channel: Channel) -> list[str]:
    """What the limits could not be held against."""
    missing = sum(stop - start for start, stop in channel.gaps)
    return [f"{missing} of {channel.samples.size} samples were not acquired and not judged."] if missing else []


def _contradiction(good: Examination | None) -> str:
    """Said where the known-good itself breaks the limits: they, or it, cannot be right; else empty."""
    if good is None or not good.findings:
        return ""
    count = f"{len(good.findings)} time{'s' if len(good.findings) > 1 else ''}"
    return f"The known-good {good.channel.name!r} breaks the same limits, {count}."


def _coverage(suspect: Channel, lineup: LineUp) -> list[str]:
    whole_s = suspect.stop_s - suspect.start_s
    if lineup.overlap_s >= COVERED_SHARE * whole_s:
        return []
    covered, whole = in_words(lineup.overlap_s, "s"), in_words(whole_s, "s")
    return [f"The known-good covers {covered} of the suspect's {whole}; outside it the tolerance was not held."]


def _out_of_band(suspect: Channel, good: Channel, lineup: LineUp, within_v: float, progress: Progress) -> list[Finding]:
    """Beyond what was given; an edge may come one step of the coarser channel earlier or later."""
    steps_s = [one for one in (suspect.step_s, (good.step_s or 0.0) / lineup.stretch) if one]
    band = Band(within_v, max(steps_s, default=0.0))
    return out_of_band(suspect, good, lineup, band, severity="severe", progress=progress)


def _clean(channel: Channel, notes: list[str], conditions: Conditions) -> Verdict:
    kept = [
        f"{name} {in_words(value, channel.unit or '')}"
        for name, value in (
            ("at most", conditions.upper_v),
            ("at least", conditions.lower_v),
            ("from the known-good at most", conditions.within_v),
        )
        if value is not None
    ]
    kept += [
        f"{word} the {side} limit curve"
        for word, side, curve in (
            ("under", "upper", conditions.upper_curve),
            ("above", "lower", conditions.lower_curve),
        )
        if curve is not None
    ]
    judged = "Every sample that could be judged" if notes else "Every sample"
    return Verdict("clean", "none", (f"{judged} keeps what was given: {', '.join(kept)}.", *notes))


def _broken(findings: tuple[Finding, ...]) -> tuple[str, ...]:
    """How many, how bad, where, and what that cannot say."""
    worst = max(findings, key=lambda one: one.size)
    count = len(findings)
    how_many = (
        "1 stretch breaks the limits that were given."
        if count == 1
        else f"{count} stretches break the limits that were given."
        if count < MOST_FINDINGS
        else f"At least {count} stretches break the limits that were given; neighbours are shown as one."
    )
    beyond = (
        f"{in_words(worst.size, worst.unit)} beyond" if math.isfinite(worst.size) else "out of the instrument's range"
    )
    return (
        how_many,
        f"The worst is {beyond}, {worst.rule}, at {in_words(worst.start_s, 's')}.",
        "A level alone does not say in which way a wire fails.",
    )


OWN_LIMITS = OwnLimitsKind()
