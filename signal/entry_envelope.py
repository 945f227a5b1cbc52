"""The envelope of a library entry: what its captures make together, and what one that is not confirmed would change."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from loomlight.signal.capture import Channel
from loomlight.signal.envelope import envelope_of, laid_on_first
from loomlight.signal.errors import LoomlightError
from loomlight.signal.examination import Conditions
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.tolerance_band import Envelope
from loomlight.signal.widening import odd_one, widened_by


@dataclass(frozen=True, eq=False)
class EntryEnvelope:
    """What is known of an entry's envelope.

    Attributes
    ----------
    envelope : Envelope or None
        None where there are fewer than two captures that lie on each other.
    told : tuple of str
        What it rests on, which capture is odd, what another one would change; one sentence or two each.
    """

    envelope: Envelope | None = field(repr=False)
    told: tuple[str, ...] = ()


def envelope_for(
    channels: Sequence[Channel], kind: str, conditions: Conditions, progress: Progress = unwatched
) -> EntryEnvelope:
    """The envelope of the captures that were confirmed; none, with the reason, where they make none.

    Parameters
    ----------
    channels : sequence of Channel
        The first is the one that the band lies along; one alone makes no envelope.
    kind : str
        Key of the signal kind.
    conditions : Conditions
        Of judging.
    progress : Progress
        0 to 1.
    """
    if len(channels) < 2:
        return EntryEnvelope(None)
    try:
        members = laid_on_first(channels, kind=kind, conditions=conditions, progress=part(progress, 0.0, 0.6))
        odd = odd_one(members, part(progress, 0.6, 0.7))
        doubt = () if odd is None else (f"Capture {odd.index + 1} of the confirmed ones looks odd. {odd.reason}",)
        envelope = envelope_of(members, part(progress, 0.7, 1.0))
    except LoomlightError as error:
        return EntryEnvelope(None, (f"No envelope. {error}",))
    return EntryEnvelope(envelope, (envelope.told, *doubt))


def with_one_to_confirm(
    channels: Sequence[Channel], new: Channel, kind: str, conditions: Conditions, progress: Progress = unwatched
) -> str:
    """What a capture that is not confirmed would make of the envelope of the others."""
    try:
        members = laid_on_first(channels, kind=kind, conditions=conditions, progress=part(progress, 0.0, 0.5))
        found = widened_by(members, new, kind=kind, conditions=conditions, progress=part(progress, 0.5, 1.0))
    except LoomlightError as error:
        return f"The newest capture cannot widen the envelope. {error}"
    return f"If the newest capture is confirmed: {found.told}"
