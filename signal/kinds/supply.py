"""Supply rail: what a control unit or a load is fed with, 12 V or 24 V."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal import sanity
from loomlight.signal.beside import Role
from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.finite import beyond_range, finite, finite_besides
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.lineup import LineUp
from loomlight.signal.outline import Outline, outline_of
from loomlight.signal.power_system import level_doubts, system_volts, usual_level
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import Setting
from loomlight.signal.supply_examination import SupplyExamination, read_rail
from loomlight.signal.supply_findings import rail_findings, rail_marks, rail_measures, rail_tracks
from loomlight.signal.supply_judge import judge_supply
from loomlight.signal.supply_limits import CAUTIONS, CURRENT, FAR_END, LIMITS, RECIPE, SETTINGS, limits_for
from loomlight.signal.supply_supposed import SUPPOSER
from loomlight.signal.supposal import Supposer

NO_RAIL = ("no samples", "high voltage", "another voltage", "upside down", "x10 mismatch", "AC coupling", "no supply")


@dataclass(frozen=True)
class SupplyKind(UsualKind):
    """The signal kind ``supply``."""

    key: str = "supply"
    title: str = "Supply rail"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    roles: tuple[Role, ...] = (FAR_END, CURRENT)
    recipe: Recipe = RECIPE
    supposer: Supposer | None = SUPPOSER

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> SupplyExamination:
        """Level, dips, transients, ripple and drop of one channel.

        Raises
        ------
        CannotUse
            If the channel is not in volts or not evenly spaced, or one beside it does not fit.
        """
        sanity.require_volts(channel)
        known = finite(channel)
        outline = outline_of(known, part(progress, 0.0, 0.2))
        doubts = doubts_of(channel, outline, conditions)
        if any(doubt.about in NO_RAIL for doubt in doubts):
            return SupplyExamination(channel, (), doubts, None, rail=None)
        rail = read_rail(known, finite_besides(conditions), outline, part(progress, 0.2, 1.0))
        return SupplyExamination(
            channel,
            rail_findings(channel, rail),
            doubts,
            None,
            measures=rail_measures(rail),
            tracks=rail_tracks(rail),
            marks=rail_marks(rail),
            rail=rail,
        )

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """The verdict; a known-good recorded together is taken for the other end of the wire."""
        assert isinstance(suspect, SupplyExamination)
        assert good is None or isinstance(good, SupplyExamination)
        progress(0.0)
        return Judgement(*judge_supply(suspect, good, conditions))

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """None: two captures of one rail need not agree sample by sample."""
        return None


def doubts_of(channel: Channel, outline: Outline, conditions: Conditions) -> tuple[Doubt, ...]:
    """Is it a supply, and was it measured soundly? Those that leave nothing to judge come first."""
    limits = limits_for(system_volts(outline, conditions), conditions)
    level_v = usual_level(outline, limits.lowest_v, limits.highest_v)
    found = level_doubts(channel, level_v, outline, conditions)
    known = outline.greatest[np.isfinite(outline.greatest)]
    clipped = sanity.clipped(channel, float(known.max())) if known.size else None
    return sanity.doubts_among([*found, beyond_range(channel), sanity.mostly_gaps(channel), clipped])


SUPPLY = SupplyKind()
