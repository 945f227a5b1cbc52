"""All that a LIN verdict is made from."""

from dataclasses import dataclass, field

import numpy as np

from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.lin_dropout_figures import DropoutStatistics
from loomlight.signal.lin_examination import LineReading, LinExamination
from loomlight.signal.lin_rise import TimeConstant
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
    good_dropouts: Spans = field(default_factory=lambda: np.empty((0, 2)))
    """Dropouts on the known-good's channel while the suspect's end drives, on the known-good's axis."""
    statistics: DropoutStatistics | None = None
    """Over both of these; None where there are none."""
    slow_rise: TimeConstant | None = None
    """The rise, where it is that of a bus without its commander's pull-up: what looks like a dropout then is none."""

    @property
    def line(self) -> LineReading:
        """What was read off the suspect."""
        return self.suspect.line

    @property
    def good_line(self) -> LineReading | None:
        """What was read off the known-good."""
        return self.good.line if self.good is not None else None

    @property
    def good_dropouts_here(self) -> Spans:
        """Dropouts on the known-good's channel, on the suspect's axis."""
        if self.lineup is None or not len(self.good_dropouts):
            return self.good_dropouts
        return self.lineup.spans_on_suspect(self.good_dropouts)

    @property
    def lets_go(self) -> bool:
        """Whether the wire drops out, on whichever side it shows."""
        return bool(len(self.dropouts) or len(self.good_dropouts))

    @property
    def together(self) -> bool:
        """Whether both channels were recorded at the same moment."""
        return self.good is not None and self.conditions.same_moment

    @property
    def comparable(self) -> bool:
        """Whether there is a known-good that can be laid over the suspect."""
        return self.good is not None and self.lineup is not None and self.lineup.accepted
