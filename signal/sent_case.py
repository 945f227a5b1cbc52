"""All that a SENT verdict is made from."""

from dataclasses import dataclass

from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.lineup import LineUp
from loomlight.signal.sent_reading import SentExamination, SentReading


@dataclass(frozen=True, eq=False)
class SentCase:
    """All that a SENT verdict is made from."""

    suspect: SentExamination
    good: SentExamination | None
    lineup: LineUp | None
    conditions: Conditions
    findings: tuple[Finding, ...]

    @property
    def line(self) -> SentReading:
        """What was read off the suspect."""
        return self.suspect.line

    def own(self, kind: str) -> list[Finding]:
        """The suspect's findings of one kind."""
        return [one for one in self.findings if one.kind == kind and one.channel == self.suspect.channel.name]
