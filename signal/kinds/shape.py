"""The shape that every signal kind has: limits with their sources, an examination, a judgement."""

from dataclasses import dataclass
from typing import Protocol

from loomlight.signal.beside import Role
from loomlight.signal.bus_frames import BusFrame
from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions, Examination
from loomlight.signal.finding import Finding, Limit
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.measure import Measure
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import Setting
from loomlight.signal.supposal import Supposer
from loomlight.signal.verdict import Verdict


@dataclass(frozen=True)
class Judgement:
    """Findings of the comparison and what they mean.

    Attributes
    ----------
    findings : tuple of Finding
        All findings on the suspect, and those on the known-good that bear on the verdict, in order of time.
    verdict : Verdict
        What they mean.
    measures : tuple of Measure
        What only the comparison shows, beside what the suspect's examination measured.
    """

    findings: tuple[Finding, ...]
    verdict: Verdict
    measures: tuple[Measure, ...] = ()


@dataclass(frozen=True)
class UsualKind:
    """What most kinds have alike; a kind says only what it has otherwise.

    The members are those of `SignalKind`: no channel beside, no fault supposed, lined up as the two channels decide, no frames.
    """

    roles: tuple[Role, ...] = ()
    supposer: Supposer | None = None
    by: WantedBy = "auto"

    def frames(self, looked: Examination) -> tuple[BusFrame, ...]:
        """None: it carries none."""
        return ()


class SignalKind(Protocol):
    """What a wire carries: brings the limits and the checks."""

    @property
    def key(self) -> str:
        """Name on the command line and in files: ``"lin"``."""

    @property
    def title(self) -> str:
        """Name on the screen: "LIN bus"."""

    @property
    def limits(self) -> tuple[Limit, ...]:
        """The limits with their sources."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """What can hurt or damage when this wire is probed, one sentence each."""

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Figures that a person may change: limits known from memory only, and what only a person knows."""

    @property
    def roles(self) -> tuple[Role, ...]:
        """What a channel beside the judged one can be."""

    @property
    def recipe(self) -> Recipe:
        """How to capture it."""

    @property
    def supposer(self) -> Supposer | None:
        """How faults are supposed on a known-good; None where they are not."""

    @property
    def by(self) -> WantedBy:
        """How ``auto`` lines this kind up; ``"auto"`` where the two channels decide."""

    def frames(self, looked: Examination) -> tuple[BusFrame, ...]:
        """Frames for a line-up by frame; empty for kinds that carry none."""

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> Examination:
        """Look at one channel by itself.

        Raises
        ------
        CannotUse
            If the kind cannot work on this channel at all (unit, form), with the reason.
        """

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """Say what the suspect's findings mean, against the known-good where there is one that lines up.

        A refused ``lineup`` is handed over as it is: the kind judges without laying one over the other, and says so.
        """

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """Half width of the band in the difference lane, volts; None where there is none."""
