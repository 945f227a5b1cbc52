"""Cranking: battery voltage, and the starter's current, while the engine is turned."""

from dataclasses import dataclass

from loomlight.signal import sanity
from loomlight.signal.beside import Role
from loomlight.signal.capture import Channel
from loomlight.signal.cranking_examination import CrankingExamination, read_start
from loomlight.signal.cranking_findings import start_findings, start_marks, start_measures, start_tracks
from loomlight.signal.cranking_judge import judge_cranking
from loomlight.signal.cranking_limits import CAUTIONS, CURRENT, FAR_END, LIMITS, RECIPE, SETTINGS, SYNC
from loomlight.signal.cranking_supposed import SUPPOSER
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.finite import finite, finite_besides
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.kinds.supply import NO_RAIL, doubts_of
from loomlight.signal.lineup import LineUp
from loomlight.signal.outline import outline_of
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import Setting
from loomlight.signal.supposal import Supposer


@dataclass(frozen=True)
class CrankingKind(UsualKind):
    """The signal kind ``cranking``."""

    key: str = "cranking"
    title: str = "Cranking"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    roles: tuple[Role, ...] = (CURRENT, SYNC, FAR_END)
    recipe: Recipe = RECIPE
    supposer: Supposer | None = SUPPOSER

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> CrankingExamination:
        """Stages, speed and compressions of one channel: battery voltage, or the starter's current alone.

        Raises
        ------
        CannotUse
            If the channel is neither in volts nor in amperes, or not evenly spaced, or one beside it does not fit.
        """
        if channel.unit != "A":
            sanity.require_volts(channel)
        known = finite(channel)
        outline = outline_of(known, part(progress, 0.0, 0.3))
        doubts: tuple[Doubt, ...] = ()
        if channel.unit != "A":
            doubts = doubts_of(channel, outline, conditions)
            if any(doubt.about in NO_RAIL for doubt in doubts):
                return CrankingExamination(channel, (), doubts, None, start=None)
        start = read_start(known, finite_besides(conditions), outline, part(progress, 0.3, 1.0))
        return CrankingExamination(
            channel,
            start_findings(channel, start),
            doubts,
            None,
            measures=start_measures(start),
            tracks=start_tracks(start),
            marks=start_marks(start),
            start=start,
        )

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """The verdict; a known-good adds its own figures to the reasons."""
        assert isinstance(suspect, CrankingExamination)
        assert good is None or isinstance(good, CrankingExamination)
        progress(0.0)
        return Judgement(*judge_cranking(suspect, good))

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """None: two starts need not agree sample by sample."""
        return None


CRANKING = CrankingKind()
