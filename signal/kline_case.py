"""All that a K-line verdict is made from."""

from dataclasses import dataclass

from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.kline_reading import KExamination, KReading
from loomlight.signal.lineup import LineUp


@dataclass(frozen=True, eq=False)
class KCase:
    """All that a K-line verdict is made from."""

    suspect: KExamination
    good: KExamination | None
    lineup: LineUp | None
    conditions: Conditions
    findings: tuple[Finding, ...]

    @property
    def line(self) -> KReading:
        """What was read off the suspect."""
        return self.suspect.line

    def own(self, kind: str) -> list[Finding]:
        """The suspect's findings of one kind."""
        return [one for one in self.findings if one.kind == kind and one.channel == self.suspect.channel.name]
