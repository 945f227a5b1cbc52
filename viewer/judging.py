"""What a comparison or a proof of the desk's choices needs, and both as made ready to be drawn: for aside."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from loomlight.signal.beside import Beside, role_named
from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison, check, compare, compare_as_laid
from loomlight.signal.entry_envelope import envelope_for
from loomlight.signal.errors import CannotUse
from loomlight.signal.finding import Finding
from loomlight.signal.kinds.listing import kind_named
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, part
from loomlight.signal.proof import Circumstances, Proof
from loomlight.signal.prove import prove
from loomlight.signal.verdict import Verdict
from loomlight.viewer.ask import Ask
from loomlight.viewer.choice import Choice
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.lanes_of import Drawn, drawn, proof_findings, proof_lanes


@dataclass(frozen=True, eq=False)
class ProofDrawn:
    """A proof with both comparisons ready to be drawn: their lanes, and the findings on each, by lane key."""

    proof: Proof
    before: Drawn
    after: Drawn
    lanes: tuple[Lane, ...]
    findings: Mapping[str, Sequence[Finding]]


def besides_in(choice: Choice, named: tuple[tuple[str, str], ...], kind: str) -> tuple[Beside, ...]:
    """Channels beside a chosen one, by their names.

    Raises
    ------
    LoomlightError
        If its file has no such channel, or the channel's unit is not the role's.
    """
    found = []
    for key, name in named:
        role = role_named(kind_named(kind).roles, key, kind)
        if choice.capture is None:
            raise CannotUse(f"{choice.label} has no channel beside. Choose none for {role.title}.")
        channel: Channel = choice.capture.channel(name)
        if channel.unit not in (None, role.unit):
            raise CannotUse(f"{role.title} is in {role.unit}, but {channel.name!r} is in {channel.unit}.")
        found.append(Beside(key, channel))
    return tuple(found)


def judged(suspect: Choice, good: Choice | None, ask: Ask, progress: Progress) -> Drawn:
    """Compare (or check, without a known-good) and make ready to draw. For aside."""
    found = _compared(suspect, good, ask, part(progress, 0.0, 0.7))
    return drawn(found, part(progress, 0.7, 1.0))


def verdict_on(suspect: Choice, good: Choice | None, ask: Ask, progress: Progress) -> Verdict:
    """The verdict alone, with nothing made ready to draw. For aside."""
    return _compared(suspect, good, ask, progress).verdict


def judged_as_laid(comparison: Comparison, lineup: LineUp, progress: Progress) -> Drawn:
    """Judge the same two channels at another line-up, and make ready to draw. For aside."""
    found = compare_as_laid(comparison, lineup, part(progress, 0.0, 0.4))
    return drawn(found, part(progress, 0.4, 1.0))


def _compared(suspect: Choice, good: Choice | None, ask: Ask, progress: Progress) -> Comparison:
    besides = besides_in(suspect, ask.besides, ask.kind)
    if good is None:
        conditions = ask.conditions(same_moment=False, besides=besides)
        return check(suspect.channel, kind=ask.kind, conditions=conditions, progress=progress)
    conditions = ask.conditions(same_moment=suspect.is_beside(good), besides=besides)
    share = 0.4 if good.further else 0.0
    envelope = envelope_for((good.channel, *good.further), ask.kind, conditions, part(progress, 0.0, share)).envelope
    return compare(
        suspect.channel,
        good.channel,
        kind=ask.kind,
        conditions=conditions,
        by=ask.by,
        good_besides=besides_in(good, ask.good_besides, ask.kind),
        envelope=envelope,
        progress=part(progress, share, 1.0),
    )


def proven(
    before: Choice,
    before_good: Choice | None,
    after: Choice,
    after_good: Choice | None,
    ask: Ask,
    progress: Progress,
    *,
    said: Circumstances | None = None,
) -> ProofDrawn:
    """Compare both and hold one against the other. For aside."""
    old = judged(before, before_good, ask, part(progress, 0.0, 0.4))
    new = judged(after, after_good, ask, part(progress, 0.4, 0.8))
    found = prove(old.comparison, new.comparison, part(progress, 0.8, 1.0), circumstances=said)
    lanes = proof_lanes(old, new, found)
    return ProofDrawn(found, old, new, lanes, proof_findings(old, new, lanes))
