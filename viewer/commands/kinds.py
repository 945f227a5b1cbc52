"""Which signal kind a channel is judged as: asked for, the known-good's, or guessed."""

import argparse
from dataclasses import dataclass

from loomlight.signal.capture import Channel
from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import KINDS, OWN_LIMITS, listed_kind
from loomlight.viewer.commands.sources import KnownGood


@dataclass(frozen=True)
class TakenKind:
    """The kind and, where it was not asked for, a sentence that says where it comes from."""

    key: str
    told: str = ""


def kind_of(arguments: argparse.Namespace, channel: Channel, good: KnownGood | None = None) -> TakenKind:
    """The signal kind that was asked for, else the entry's, else what the samples look like.

    Raises
    ------
    LoomlightError
        If none of the three tells it, naming the kinds there are and those that come near.
    """
    if arguments.kind is not None:
        return TakenKind(listed_kind(arguments.kind).key)
    if arguments.limits is not None:
        return TakenKind(OWN_LIMITS.key)
    if good is not None and good.kind:
        kind = listed_kind(good.kind)
        return TakenKind(kind.key, f"Judged as {kind.title}, as {good.title} says; --kind would choose another.")
    from loomlight.signal.wire_guess import guess

    guesses = guess(channel)
    sure = guesses.sure
    if sure is not None:
        title = listed_kind(sure.kind).title
        return TakenKind(sure.kind, f"Judged as {title}, as it looks: {sure.reason} --kind would choose another.")
    known = ", ".join(kind.key for kind in KINDS)
    near = ", ".join(f"{one.kind} ({one.likeness:.2f})" for one in guesses.ranked[:3])
    seen = f"It looks most like {near}." if near else guesses.why
    raise LoomlightError(f"Say what the wire carries with --kind: {known}. {seen}")
