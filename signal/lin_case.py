"""All that a LIN verdict is made from."""

from dataclasses import dataclass

from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.lin_examination import LineReading, LinExamination
from loomlight.signal.lineup import LineUp
from loomlight.signal.spans import Spans


@dataclass(frozen=True, eq=False)
class Case:
    """All that a LIN verdict is made from."""

    suspect: LinExamination
    good: LinExamination | None
    lineup: LineUp | None
    conditions: Conditions
    findings: tuple[Finding, ...]
    dropouts: Spans

    @property
    def line(self) -> LineReading:
        """What was read off the suspect."""
        return self.suspect.line

    @property
    def good_line(self) -> LineReading | None:
        """What was read off the known-good."""
        return self.good.line if self.good is not None else None

    @property
    def together(self) -> bool:
        """Whether both channels were recorded at the same moment."""
        return self.good is not None and self.conditions.same_moment

    @property
    def comparable(self) -> bool:
        """Whether there is a known-good that can be laid over the suspect."""
        return self.good is not None and self.lineup is not None and self.lineup.accepted
