"""Levels and curves held against a channel: what lies beyond them, and how much of it they cover."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from loomlight.signal.band import MOST_FINDINGS
from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding, FindingKind
from loomlight.signal.limit_curve import LimitCurve
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.runs import Runs, runs_above_zero
from loomlight.signal.samples import Wave, blocks, evenly

COVERED_SHARE = 0.95
"""Below this share of the suspect it is said how much of it the curves cover."""


@dataclass(frozen=True)
class Held:
    """One limit on one side: a level, or a curve; ``sign`` is 1 for an upper one."""

    kind: FindingKind
    sign: float
    limit: float | LimitCurve
    stretch: float = 1.0
    lag_s: float = 0.0

    def at(self, channel: Channel, start: int, size: int) -> Wave | np.float32:
        """The limit at ``size`` instants from ``start`` on."""
        if not isinstance(self.limit, LimitCurve):
            return np.float32(self.limit)
        if channel.step_s is None:
            assert channel.times_s is not None
            times_s = channel.times_s[start : start + size]
        else:
            times_s = evenly(channel.start_s, channel.step_s, start, start + size)
        found: Wave = self.limit.at(self.lag_s + self.stretch * times_s).astype(np.float32)
        return found

    def rule(self, unit: str) -> str:
        """In words, for a finding."""
        side = "above" if self.sign > 0 else "below"
        if isinstance(self.limit, LimitCurve):
            return f"{side} the {'upper' if self.sign > 0 else 'lower'} limit curve"
        return f"{side} {in_words(self.limit, unit)}"


def levels_held(conditions: Conditions) -> list[Held]:
    """The levels that were given."""
    found: list[Held] = []
    if conditions.upper_v is not None:
        found.append(Held("too high", 1.0, conditions.upper_v))
    if conditions.lower_v is not None:
        found.append(Held("too low", -1.0, conditions.lower_v))
    return found


def curves_held(conditions: Conditions, *, stretch: float = 1.0, lag_s: float = 0.0) -> list[Held]:
    """The curves that were given; their own time is ``lag_s + stretch · t``."""
    found: list[Held] = []
    if conditions.upper_curve is not None:
        found.append(Held("too high", 1.0, conditions.upper_curve, stretch, lag_s))
    if conditions.lower_curve is not None:
        found.append(Held("too low", -1.0, conditions.lower_curve, stretch, lag_s))
    return found


def beyond(channel: Channel, held: Held, progress: Progress = unwatched) -> list[Finding]:
    """Stretches of a channel beyond one limit, each severe: whoever gave it meant it."""
    runs = runs_above_zero(_excess(channel, held, progress), most=MOST_FINDINGS)
    return _findings(channel, held.kind, runs, held.rule(channel.unit or ""))


def beyond_curves(channel: Channel, lineup: LineUp | None, conditions: Conditions) -> tuple[list[Finding], str]:
    """What leaves curves that go with the known-good, or why they could not be held; the suspect's own were held before."""
    if not conditions.curves_on_good:
        return [], ""
    why = _not_laid(lineup)
    if lineup is None or why:
        return [], f"The limit curves go with the known-good, and could not be laid: {why}"
    held = curves_held(conditions, stretch=lineup.stretch, lag_s=lineup.lag_s)
    return [finding for one in held for finding in beyond(channel, one)], ""


def _not_laid(lineup: LineUp | None) -> str:
    """Why curves cannot go with the known-good; empty where they can."""
    if lineup is None:
        return "there is no known-good."
    if not lineup.accepted:
        return lineup.reason
    if lineup.laid is not None:
        return "it was laid in pieces; line up by shape."
    return "it lies upside down." if lineup.polarity < 0 else ""


def curve_coverage(channel: Channel, lineup: LineUp | None, conditions: Conditions) -> tuple[list[str], bool]:
    """What is said where the curves reach over a part of the capture only, and whether all of them miss it."""
    if conditions.curves_on_good and _not_laid(lineup):
        return [], False
    placed = lineup if conditions.curves_on_good else None
    found, shares = [], []
    for word, curve in (("upper", conditions.upper_curve), ("lower", conditions.lower_curve)):
        if curve is None:
            continue
        ends = [float(curve.times_s[0]), float(curve.times_s[-1])]
        first, last = [placed.on_suspect(one) for one in ends] if placed is not None else ends
        covered = max(min(last, channel.stop_s) - max(first, channel.start_s), 0.0)
        whole = channel.stop_s - channel.start_s
        shares.append(covered / whole if whole > 0 else 0.0)
        if covered < COVERED_SHARE * whole:
            told = f"{in_words(covered, 's')} of {in_words(whole, 's')}"
            found.append(f"The {word} limit curve covers {told}; outside it nothing was held against it.")
    return found, bool(shares) and max(shares) == 0.0


def _excess(channel: Channel, held: Held, progress: Progress) -> Iterator[tuple[int, Wave]]:
    """How far each instant is beyond the limit; of minimum/maximum pairs the one that matters."""
    for start, values in blocks(channel.samples, progress):
        if channel.form == "pairs":
            start, values = start // 2, values[1::2] if held.sign > 0 else values[::2]
        yield start, np.float32(held.sign) * (values - held.at(channel, start, values.size))


def _findings(channel: Channel, kind: FindingKind, runs: Runs, rule: str) -> list[Finding]:
    unit = channel.unit or ""
    return [
        Finding(kind, channel.name, _time(channel, first), _time(channel, last), worst, unit, rule, "severe")
        for first, last, worst in zip(runs.first.tolist(), runs.last.tolist(), runs.worst.tolist(), strict=True)
    ]


def _time(channel: Channel, instant: int) -> float:
    if channel.step_s is None:
        assert channel.times_s is not None
        return float(channel.times_s[min(instant, channel.times_s.size - 1)])
    return channel.start_s + instant * channel.step_s
