"""Findings as a job keeps them: the weightiest one by one, all of them by their number."""

from collections.abc import Sequence
from dataclasses import dataclass

from loomlight.signal.finding import Finding, FindingKind

MOST_KEPT = 200
"""Of one verdict: a job is written anew with each note that is typed, and nobody reads thousands."""


@dataclass(frozen=True)
class FindingTally:
    """All findings of one kind on one channel.

    Attributes
    ----------
    kind : str
        One of `FindingKind`.
    count, severe : int
        How many, and how many of them are severe.
    greatest : float
        The greatest size, in ``unit``.
    unit : str
        As in `Finding`; empty for a count.
    longest_s : float
        The longest, seconds.
    """

    kind: FindingKind
    count: int
    severe: int
    greatest: float
    unit: str
    longest_s: float


def tallies_of(findings: Sequence[Finding], channel: str) -> tuple[FindingTally, ...]:
    """The findings on one channel, kind by kind, in the order in which the kinds first come."""
    kinds: dict[FindingKind, list[Finding]] = {}
    for one in findings:
        if one.channel == channel:
            kinds.setdefault(one.kind, []).append(one)
    return tuple(
        FindingTally(
            kind=kind,
            count=len(own),
            severe=sum(one.severity == "severe" for one in own),
            greatest=max(one.size for one in own),
            unit=own[0].unit,
            longest_s=max(one.stop_s - one.start_s for one in own),
        )
        for kind, own in kinds.items()
    )


def weightiest(findings: Sequence[Finding], most: int = MOST_KEPT) -> tuple[Finding, ...]:
    """At most so many findings: severe ones before mild ones, long before short; in the order in which they were given."""
    if len(findings) <= most:
        return tuple(findings)
    ranked = sorted(
        range(len(findings)),
        key=lambda at: (findings[at].severity != "severe", findings[at].start_s - findings[at].stop_s),
    )
    return tuple(findings[at] for at in sorted(ranked[:most]))
