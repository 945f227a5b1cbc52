"""All that a verdict on a CAN pair is made from."""

from dataclasses import dataclass, field

from loomlight.signal.can_examination import CanExamination, PairReading
from loomlight.signal.can_termination import Change, changes
from loomlight.signal.examination import Conditions
from loomlight.signal.lineup import LineUp


@dataclass(frozen=True, eq=False)
class CanCase:
    """One judgement's stages; ``held`` holds the identifiers that both sides carry."""

    suspect: CanExamination
    good: CanExamination | None
    lineup: LineUp | None
    conditions: Conditions
    held: tuple[Change, ...] = field(default=())

    @property
    def pair(self) -> PairReading:
        """The suspect's reading."""
        return self.suspect.pair

    @property
    def good_pair(self) -> PairReading | None:
        """The known-good's, where it is sound and recorded alike."""
        if self.good is None or self.good.doubts:
            return None
        return self.good.pair if self.good.pair.wires.form == self.suspect.pair.wires.form else None


def case_of(
    suspect: CanExamination, good: CanExamination | None, lineup: LineUp | None, conditions: Conditions
) -> CanCase:
    """Put the stages together."""
    bare = CanCase(suspect, good, lineup, conditions)
    other = bare.good_pair
    return CanCase(suspect, good, lineup, conditions, changes(bare.pair, other) if other is not None else ())
