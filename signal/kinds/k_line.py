"""K-line: one wire between a tester and the control units, 10.4 kbit/s as a rule."""

from dataclasses import dataclass

from loomlight.signal import sanity
from loomlight.signal.bus_frames import BusFrame
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import INPUT_LIMIT, MAKER_FIRST, RUNNING_ENGINE
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.kline_findings import own_findings
from loomlight.signal.kline_judge import judge_k_line
from loomlight.signal.kline_limits import LIMITS, SETTINGS
from loomlight.signal.kline_physical import physical_layer
from loomlight.signal.kline_reading import KExamination, KReading, bus_report, read_line
from loomlight.signal.kline_rows import bus_frames, frame_rows
from loomlight.signal.line_case import case_of
from loomlight.signal.line_faults import require_even
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import Setting

CAUTIONS = (
    MAKER_FIRST,
    "Never probe high-voltage wiring of hybrid or electric vehicles (usually orange), nor airbag and belt-tensioner circuits: a "
    "K-line may lead to the airbag unit, so probe it at the diagnostic connector and not at that unit.",
    "Back-probe from the seal side with a thin blunt pin; do not pierce insulation or spread a terminal of the "
    "diagnostic connector.",
    INPUT_LIMIT,
    "Do not use a test lamp on a data line. Do not interrupt a tester while it writes to a control unit.",
    RUNNING_ENGINE,
)

RECIPE = Recipe(
    length_s=3.0,
    samples_per_s=200_000.0,
    coupling="DC, ×10 probe",
    where="At the diagnostic connector's K-line pin, and on a second channel at the unit's plug; both ground leads on battery "
    "negative.",
    switched_on="Ignition on; start the tester's request just after the capture begins, so that the opening is in it.",
    notes=(
        "20 samples a bit are good: 200 000 samples a second at 10.4 kbit/s.",
        "A call at 5 baud alone takes 2 s: record 5 s where the vehicle is opened that way.",
        "Give the supply as measured: without it a leak to ground cannot be told.",
    ),
)


@dataclass(frozen=True)
class KLineKind(UsualKind):
    """The signal kind ``k-line``."""

    key: str = "k-line"
    title: str = "K-line"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    recipe: Recipe = RECIPE
    by: WantedBy = "frame"

    def frames(self, looked: Examination) -> tuple[BusFrame, ...]:
        """Messages of one examined channel."""
        assert isinstance(looked, KExamination)
        return bus_frames(looked.line)

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> KExamination:
        """Levels, messages and findings of one channel.

        Raises
        ------
        CannotUse
            If the channel is not in volts or not evenly spaced.
        """
        sanity.require_volts(channel)
        require_even(channel, self.title)
        line = read_line(channel, conditions, part(progress, 0.0, 0.8))
        return KExamination(
            channel=channel,
            findings=own_findings(channel, line, conditions, part(progress, 0.8, 1.0)),
            doubts=_doubts(channel, line, conditions),
            bus=bus_report(line, channel) if not line.is_flat else None,
            line=line,
            measures=physical_layer(line, conditions),
            frames=frame_rows(line),
        )

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """What the suspect's findings mean, beside the known-good's levels where there is one."""
        case = case_of(KExamination, suspect, good, lineup, conditions)
        return Judgement(suspect.findings, judge_k_line(case))

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """A tenth of the supply either way (common practice, no source), or what was given."""
        assert isinstance(suspect, KExamination)
        if conditions.within_v is not None:
            return conditions.within_v
        return 0.1 * suspect.line.supply_v if suspect.line.supply_v is not None else None


def _doubts(channel: Channel, line: KReading, conditions: Conditions) -> tuple[Doubt, ...]:
    levels = line.levels
    if levels is None:
        return (sanity.no_samples(channel),)
    found = sanity.of_recording(channel, levels.greatest)
    if not line.is_flat:
        found.append(sanity.ac_coupling(levels, channel.name))
        if conditions.supply_v is None:
            found.append(sanity.scale_mismatch(levels, channel.name))
        if line.bit_s is not None:
            found.append(sanity.too_few_samples(line.bit_s / line.step_s, channel.name))
    return sanity.doubts_among(found)


K_LINE = KLineKind()
