"""All that a low-speed CAN verdict is made from."""

from dataclasses import dataclass

from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.lineup import LineUp
from loomlight.signal.lscan_reading import LsExamination, LsReading


@dataclass(frozen=True, eq=False)
class LsCase:
    """All that a low-speed CAN verdict is made from."""

    suspect: LsExamination
    good: LsExamination | None
    lineup: LineUp | None
    conditions: Conditions
    findings: tuple[Finding, ...]

    @property
    def line(self) -> LsReading:
        """What was read off the suspect and the other wire."""
        return self.suspect.line

    def own(self, kind: str) -> list[Finding]:
        """The suspect's findings of one kind."""
        return [one for one in self.findings if one.kind == kind and one.channel == self.suspect.channel.name]
