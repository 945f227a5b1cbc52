"""One cause of what is wrong, and the verdict that several of them make."""

from collections.abc import Sequence
from dataclasses import dataclass

from loomlight.signal.capture import Channel
from loomlight.signal.evidence import Evidence, Suspect
from loomlight.signal.examination import Doubt
from loomlight.signal.finding import Finding, FindingKind
from loomlight.signal.verdict import Fault, ShortTo, Verdict


@dataclass(frozen=True)
class Throughout:
    """What a cause shows from the capture's begin to its end, for the mark on the lane.

    Attributes
    ----------
    kind : str
        Of the finding.
    size : float
        Beyond the limit, in ``unit``.
    unit : str
        Of the size.
    rule : str
        What it broke, with its figures, as one short phrase.
    """

    kind: FindingKind
    size: float
    unit: str
    rule: str


@dataclass(frozen=True)
class Cause:
    """What may be wrong, as one reason tells it.

    Attributes
    ----------
    fault : str
        Fault class.
    picture : str
        In the trade's words.
    reason : str
        One or two sentences with the figures.
    do : str
        What to do next.
    suspect : {"wire", "component", "control unit"}
        Whom it speaks for.
    intermittent : bool
        It comes and goes.
    short_to : str or None
        For shorts.
    asked : str
        The question that the evidence table shows.
    throughout : Throughout or None
        What to mark over the whole capture; None where its findings stand at their own times.
    """

    fault: Fault
    picture: str
    reason: str
    do: str
    suspect: Suspect
    intermittent: bool = False
    short_to: ShortTo | None = None
    asked: str = "What was seen?"
    throughout: Throughout | None = None


def marked_throughout(channel: Channel, causes: Sequence[Cause]) -> tuple[Finding, ...]:
    """Findings over the whole channel, of the causes that have no time of their own."""
    return tuple(_mark(channel, one.throughout) for one in causes if one.throughout is not None)


def lost_throughout(channel: Channel, verdict: Verdict) -> tuple[Finding, ...]:
    """The whole channel, where a verdict without any pulse calls it faulty."""
    if verdict.state != "faulty":
        return ()
    length_s = channel.stop_s - channel.start_s
    return (_mark(channel, Throughout("lost signal", length_s, "s", "no pulse in the whole capture")),)


def _mark(channel: Channel, one: Throughout) -> Finding:
    return Finding(one.kind, channel.name, channel.start_s, channel.stop_s, one.size, one.unit, one.rule, "severe")


def verdict_of(causes: Sequence[Cause], *, unsure: Sequence[Doubt], notes: Sequence[str], clean: str) -> Verdict:
    """Faulty with the first cause's class and picture; else unsure; else clean.

    Parameters
    ----------
    causes : sequence of Cause
        Most telling first.
    unsure : sequence of Doubt
        What forbids a clean verdict.
    notes : sequence of str
        Said in any case.
    clean : str
        The reason of a clean verdict.
    """
    doubts = tuple(one.text for one in unsure)
    if causes:
        first = causes[0]
        return Verdict(
            "faulty",
            first.fault,
            (*(one.reason for one in causes), *doubts, *notes),
            next_step=first.do,
            short_to=first.short_to,
            intermittent=first.intermittent,
            picture=first.picture,
            evidence=tuple(Evidence(one.asked, one.picture, one.reason, (one.suspect,)) for one in causes),
        )
    if unsure:
        return Verdict("cannot tell", "unknown", (*doubts, *notes), next_step=unsure[0].do)
    return Verdict("clean", "none", (clean, *notes))
