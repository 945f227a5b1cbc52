"""Charging: the battery's voltage while the engine runs, 12 V or 24 V."""

from dataclasses import dataclass

from loomlight.signal import sanity
from loomlight.signal.beside import Role
from loomlight.signal.capture import Channel
from loomlight.signal.charging_examination import ChargingExamination, read_charge
from loomlight.signal.charging_findings import (
    charge_findings,
    charge_marks,
    charge_measures,
    charge_tracks,
    is_charging,
)
from loomlight.signal.charging_judge import judge_charging
from loomlight.signal.charging_limits import CAUTIONS, CURRENT, LIMITS, RECIPE, SETTINGS
from loomlight.signal.charging_supposed import SUPPOSER
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

WITHOUT_LEVEL = ("AC coupling", "no supply")
"""Doubts of a channel around 0 V; where an alternator's ripple is on it, it is the input that is AC coupled."""
AROUND_ZERO_V = 0.5


@dataclass(frozen=True)
class ChargingKind(UsualKind):
    """The signal kind ``charging``."""

    key: str = "charging"
    title: str = "Charging"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    roles: tuple[Role, ...] = (CURRENT,)
    recipe: Recipe = RECIPE
    supposer: Supposer | None = SUPPOSER

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> ChargingExamination:
        """Level, ripple and its cycle, load steps and belt of one channel.

        Raises
        ------
        CannotUse
            If the channel is not in volts or not evenly spaced, or the current's does not fit.
        """
        sanity.require_volts(channel)
        known = finite(channel)
        outline = outline_of(known, part(progress, 0.0, 0.3))
        doubts = doubts_of(channel, outline, conditions)
        ac_coupled = abs(outline.level()) < AROUND_ZERO_V and any(doubt.about in WITHOUT_LEVEL for doubt in doubts)
        if any(doubt.about in NO_RAIL for doubt in doubts) and not ac_coupled:
            return ChargingExamination(channel, (), doubts, None, charge=None)
        rest = part(progress, 0.3, 1.0)
        charge = read_charge(known, finite_besides(conditions), outline, rest, ac_coupled=ac_coupled)
        if ac_coupled and not is_charging(charge):
            return ChargingExamination(channel, (), doubts, None, charge=None)
        if ac_coupled:
            doubts = (_ac_coupled(channel), *(one for one in doubts if one.about not in WITHOUT_LEVEL))
        return ChargingExamination(
            channel,
            charge_findings(channel, charge),
            doubts,
            None,
            measures=charge_measures(charge),
            tracks=charge_tracks(charge),
            marks=() if ac_coupled else charge_marks(charge),
            charge=charge,
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
        assert isinstance(suspect, ChargingExamination)
        assert good is None or isinstance(good, ChargingExamination)
        progress(0.0)
        return Judgement(*judge_charging(suspect, good))

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """None: two captures of one battery need not agree sample by sample."""
        return None


def _ac_coupled(channel: Channel) -> Doubt:
    text = f"{channel.name!r} lies around 0 V and shows an alternator's ripple: the input is AC coupled."
    return Doubt("AC coupling", text, "Set the input to DC coupling, and record once more for the charging voltage.")


CHARGING = ChargingKind()
