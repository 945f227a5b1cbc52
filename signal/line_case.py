"""All that the verdict on a two-state wire is made from, whatever was read off it, and how its judges are asked."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from loomlight.signal.examination import Conditions, Examination
from loomlight.signal.finding import Finding
from loomlight.signal.line_faults import LEAST_SPIKES
from loomlight.signal.lineup import LineUp
from loomlight.signal.verdict import Verdict

Line = TypeVar("Line")

MANY_SPIKES = 20
"""From this many on they come first: what is read between them is worth little (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class LineExamination(Examination, Generic[Line]):
    """One wire by itself: what was read off it, beside findings and doubts."""

    line: Line


@dataclass(frozen=True, eq=False)
class LineCase(Generic[Line]):
    """A suspect wire, and the known-good where there is one."""

    suspect: LineExamination[Line]
    good: LineExamination[Line] | None
    lineup: LineUp | None
    conditions: Conditions

    @property
    def line(self) -> Line:
        """What was read off the suspect."""
        return self.suspect.line

    def own(self, kind: str) -> list[Finding]:
        """The suspect's findings of one kind."""
        return [one for one in self.suspect.findings if one.kind == kind]

    def severe(self, kind: str) -> list[Finding]:
        """The severe ones among them."""
        return [one for one in self.own(kind) if one.severity == "severe"]

    def not_laid(self) -> tuple[str, ...]:
        """Why the known-good does not lie over the suspect, as a sentence; empty where it does, or there is none."""
        if self.lineup is None or self.lineup.accepted:
            return ()
        return (f"The known-good was not laid over it: {self.lineup.reason}",)


Judge = Callable[[LineCase[Line]], Verdict | None]
"""Says what one fault would do to the wire; None where it shows nothing of it."""


def case_of(
    form: type[LineExamination[Line]],
    suspect: Examination,
    good: Examination | None,
    lineup: LineUp | None,
    conditions: Conditions,
) -> LineCase[Line]:
    """The case of two channels that one kind has examined; ``form`` is its own examination."""
    assert isinstance(suspect, form)
    assert good is None or isinstance(good, form)
    return LineCase(suspect, good, lineup, conditions)


def unsound(case: LineCase[Line]) -> Verdict | None:
    """Cannot tell, where the measurement itself is in doubt."""
    disturbed = len(case.own("spike")) >= LEAST_SPIKES
    # Bursts make bits that nobody sent: too few samples for those is no doubt about the measurement.
    doubts = [one for one in case.suspect.doubts if not (disturbed and one.about == "too few samples")]
    if not doubts:
        return None
    return Verdict("cannot tell", "unknown", tuple(one.text for one in doubts), next_step=doubts[0].do)


def first_told(
    case: LineCase[Line], judges: Sequence[Judge[Line]], under_spikes: Sequence[Judge[Line]]
) -> Verdict | None:
    """What the first judge says that has something to say; None where none has.

    Parameters
    ----------
    case : LineCase
        To judge.
    judges : sequence of Judge
        The most telling first.
    under_spikes : sequence of Judge
        Asked before those where the wire is full of interference.
    """
    asked = (*under_spikes, *judges) if len(case.own("spike")) >= MANY_SPIKES else judges
    return next((verdict for judge in asked if (verdict := judge(case)) is not None), None)
