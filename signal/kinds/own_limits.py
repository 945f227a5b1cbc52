"""Own limits: an upper and a lower level that the technician gives, or a tolerance around the known-good."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from loomlight.signal import sanity
from loomlight.signal.capture import Channel
from loomlight.signal.difference import difference
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Finding, FindingKind, Limit
from loomlight.signal.kinds.shape import Judgement
from loomlight.signal.levels import state_levels
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import Wave, blocks
from loomlight.signal.verdict import Verdict

MOST_FINDINGS = 2000
"""Beyond this many, neighbours are joined: a list of thousands helps nobody."""

Break = tuple[int, int, float]
"""First sample, last sample plus one, and the most that it is beyond the limit."""


@dataclass(frozen=True)
class OwnLimitsKind:
    """The signal kind ``own-limits``."""

    key: str = "own-limits"
    title: str = "Own limits"
    limits: tuple[Limit, ...] = ()
    cautions: tuple[str, ...] = (
        "Follow the vehicle maker's procedure and local codes; leave work that needs a licence to those who hold one.",
        "Check the instrument's input limit before connecting; never probe high-voltage, airbag or ignition secondary circuits.",
    )

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> Examination:
        """Stretches above the upper and below the lower level.

        Raises
        ------
        CannotUse
            If no limit was given, or the two are the wrong way round.
        """
        _require_limits(conditions)
        found: list[Finding] = []
        sides: tuple[tuple[FindingKind, float | None, float], ...] = (
            ("too high", conditions.upper_v, 1.0),
            ("too low", conditions.lower_v, -1.0),
        )
        for place, (kind, limit, sign) in enumerate(sides):
            if limit is not None:
                walk = part(progress, 0.5 * place, 0.5 * (place + 1))
                beyond = (
                    (start, sign * (values - np.float32(limit))) for start, values in blocks(channel.samples, walk)
                )
                word = "above" if sign > 0 else "below"
                rule = f"{word} {in_words(limit, channel.unit or '')}"
                found += _findings(channel, kind, _breaks(beyond), rule)
        return Examination(
            channel=channel,
            findings=tuple(sorted(found, key=lambda one: one.start_s)),
            doubts=_doubts(channel),
            bus=None,
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
        if conditions.within_v is not None:
            if good is None or lineup is None or not lineup.accepted:
                why = lineup.reason if lineup is not None else "there is no known-good."
                unsure.append(f"The tolerance around the known-good could not be held against the suspect: {why}")
                next_step = next_step or "Choose a known-good of the same signal, or give an upper and a lower level."
            else:
                found += _out_of_band(suspect.channel, good.channel, lineup, conditions.within_v, progress)
        findings = tuple(sorted(found, key=lambda one: one.start_s))
        return Judgement(findings, _verdict(suspect.channel, findings, unsure, next_step, conditions))

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """What was given."""
        return conditions.within_v


def _require_limits(conditions: Conditions) -> None:
    upper, lower, within = conditions.upper_v, conditions.lower_v, conditions.within_v
    if upper is None and lower is None and within is None:
        raise CannotUse(
            "Own limits need figures: give an upper level, a lower level, or a tolerance around the known-good."
        )
    if not all(np.isfinite([one for one in (upper, lower, within) if one is not None])):
        raise CannotUse("A limit that is no number keeps nothing. Give a number.")
    if upper is not None and lower is not None and upper <= lower:
        raise CannotUse(f"The upper level ({upper:g}) must be above the lower one ({lower:g}).")
    if within is not None and within <= 0:
        raise CannotUse(f"The tolerance around the known-good must be above 0, got {within:g}.")


def _doubts(channel: Channel) -> tuple[Doubt, ...]:
    levels = state_levels(channel.samples)
    if levels is None:
        return (Doubt("no samples", f"No sample of {channel.name!r} is a number.", "Repeat the capture."),)
    found = [sanity.mostly_gaps(channel), sanity.clipped(channel, levels)]
    return tuple(doubt for doubt in found if doubt is not None)


def _breaks(beyond: Iterator[tuple[int, Wave]]) -> list[Break]:
    """Runs of samples beyond zero, carried from block to block."""
    runs: list[Break] = []
    for start, excess in beyond:
        over = np.concatenate([[False], np.nan_to_num(excess, nan=-1.0) > 0, [False]])
        changes = np.flatnonzero(over[1:] != over[:-1])
        for first, last in zip(changes[::2].tolist(), changes[1::2].tolist(), strict=True):
            worst = float(np.nanmax(excess[first:last]))
            if runs and runs[-1][1] == start + first:
                runs[-1] = (runs[-1][0], start + last, max(runs[-1][2], worst))
            else:
                runs.append((start + first, start + last, worst))
            if len(runs) >= 2 * MOST_FINDINGS:
                runs = _thinned(runs)
    return _thinned(runs) if len(runs) > MOST_FINDINGS else runs


def _thinned(runs: list[Break]) -> list[Break]:
    """Join the nearest neighbours until few enough are left."""
    gaps = np.array([after[0] - before[1] for before, after in zip(runs, runs[1:], strict=False)])
    limit = np.partition(gaps, len(runs) - MOST_FINDINGS)[len(runs) - MOST_FINDINGS]
    joined = [runs[0]]
    for run in runs[1:]:
        last = joined[-1]
        if run[0] - last[1] <= limit:
            joined[-1] = (last[0], run[1], max(last[2], run[2]))
        else:
            joined.append(run)
    return joined


def _findings(channel: Channel, kind: FindingKind, runs: list[Break], rule: str) -> list[Finding]:
    unit = channel.unit or ""
    return [
        Finding(kind, channel.name, _time(channel, first), _time(channel, last), worst, unit, rule, "severe")
        for first, last, worst in runs
    ]


def _time(channel: Channel, index: int) -> float:
    if channel.step_s is None:
        assert channel.times_s is not None
        return float(channel.times_s[min(index, channel.times_s.size - 1)])
    instant = index // 2 if channel.form == "pairs" else index
    return channel.start_s + instant * channel.step_s


def _out_of_band(suspect: Channel, good: Channel, lineup: LineUp, within_v: float, progress: Progress) -> list[Finding]:
    apart = difference(suspect, good, lineup)
    beyond = ((start, np.abs(values) - np.float32(within_v)) for start, values in blocks(apart.samples, progress))
    rule = f"more than {in_words(within_v, suspect.unit or '')} away from the known-good"
    found = _findings(apart, "out of band", _breaks(beyond), rule)
    return [Finding(f.kind, suspect.name, f.start_s, f.stop_s, f.size, f.unit, f.rule, f.severity) for f in found]


def _verdict(
    channel: Channel, findings: tuple[Finding, ...], unsure: list[str], next_step: str, conditions: Conditions
) -> Verdict:
    if findings:
        worst = max(findings, key=lambda one: one.size)
        count = f"at least {len(findings)}" if len(findings) >= MOST_FINDINGS else str(len(findings))
        reasons = (
            f"{count} stretch{'es' if len(findings) > 1 else ''} break the limits that were given.",
            f"The worst is {in_words(worst.size, worst.unit)} beyond, {worst.rule}, at {in_words(worst.start_s, 's')}.",
            "A level alone does not say in which way a wire fails.",
        )
        return Verdict("faulty", "unknown", (*reasons, *unsure), next_step=next_step)
    if unsure:
        return Verdict("cannot tell", "unknown", tuple(unsure), next_step=next_step)
    kept = [
        f"{name} {in_words(value, channel.unit or '')}"
        for name, value in (
            ("at most", conditions.upper_v),
            ("at least", conditions.lower_v),
            ("from the known-good at most", conditions.within_v),
        )
        if value is not None
    ]
    return Verdict("clean", "none", (f"Every sample keeps what was given: {', '.join(kept)}.",))


OWN_LIMITS = OwnLimitsKind()
