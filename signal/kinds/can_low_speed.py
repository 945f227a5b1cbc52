"""Low-speed fault-tolerant CAN: two wires that move against each other, up to 125 kbit/s, on one wire at need."""

from dataclasses import dataclass

from loomlight.signal import sanity
from loomlight.signal.beside import Role
from loomlight.signal.bus_frames import BusFrame
from loomlight.signal.can_wire import bus_frames, frame_rows
from loomlight.signal.can_wire_report import bus_report, level_tracks
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import DATA_BUS, WAKING
from loomlight.signal.examination import BusReport, Conditions, Doubt, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.line_case import case_of
from loomlight.signal.line_faults import require_even
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.lscan_findings import own_findings, physical_layer
from loomlight.signal.lscan_judge import judge_low_speed
from loomlight.signal.lscan_limits import LIMITS, SETTINGS
from loomlight.signal.lscan_reading import LsExamination, LsReading, read_pair
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import Setting

BAND_V = 0.5
LOST_STEADY_SHARE = 0.3

OTHER_WIRE = Role(
    "other wire",
    "other wire of the pair",
    "V",
    "With both wires an open or shorted one, a short between them and a moved ground show; with one alone they do not.",
)

CAUTIONS = (
    *DATA_BUS,
    WAKING,
)

RECIPE = Recipe(
    length_s=0.2,
    samples_per_s=2_500_000.0,
    coupling="DC, ×10 probes",
    where="Back-probe CANH and CANL at the suspect node's plug, one channel each; both ground leads on battery negative.",
    switched_on="Ignition on and a function of this bus worked; asleep, CANL stands at battery and CANH at 0 V.",
    notes=(
        "20 samples a bit are good: 2.5 million samples a second at 125 kbit/s.",
        "Name the other wire beside the suspect: this bus hides a lost wire by going on with one.",
    ),
)


@dataclass(frozen=True)
class LowSpeedCanKind(UsualKind):
    """The signal kind ``can-low-speed``."""

    key: str = "can-low-speed"
    title: str = "Low-speed CAN"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    roles: tuple[Role, ...] = (OTHER_WIRE,)
    recipe: Recipe = RECIPE
    by: WantedBy = "frame"

    def frames(self, looked: Examination) -> tuple[BusFrame, ...]:
        """Frames of one examined channel."""
        assert isinstance(looked, LsExamination)
        return bus_frames(looked.line.reference)

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> LsExamination:
        """Levels, frames and findings of one channel.

        Raises
        ------
        CannotUse
            If the channel is not in volts or not evenly spaced.
        """
        sanity.require_volts(channel)
        require_even(channel, self.title)
        other = conditions.beside(OTHER_WIRE.key)
        if other is not None:
            sanity.require_volts(other)
            require_even(other, self.title)
        line = read_pair(channel, other, part(progress, 0.0, 0.8))
        return LsExamination(
            channel=channel,
            findings=own_findings(channel, line, conditions, part(progress, 0.8, 1.0)),
            doubts=_doubts(channel, line),
            bus=_report(channel, line),
            line=line,
            measures=physical_layer(line, conditions),
            frames=frame_rows(line.reference, line.wire),
            tracks=level_tracks(line.reference, line.wire, f"dominant level of {line.name or 'this wire'}"),
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
        case = case_of(LsExamination, suspect, good, lineup, conditions)
        return Judgement(suspect.findings, judge_low_speed(case))

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """Half a volt either way (common practice, no source), or what was given."""
        return conditions.within_v if conditions.within_v is not None else BAND_V


def _report(channel: Channel, line: LsReading) -> BusReport | None:
    """None where neither wire carries anything."""
    if line.reference is None and line.is_silent:
        return None
    return bus_report(channel, line.traffic, line.by_identifier(), recessive_v=line.own.resting_v)


def _doubts(channel: Channel, line: LsReading) -> tuple[Doubt, ...]:
    levels = line.own.levels
    if levels is None:
        return (sanity.no_samples(channel),)
    found = sanity.of_recording(channel, levels.greatest)
    # A node whose ground has moved takes CANL below 0 V, but not by as much as a lost steady part would.
    if not line.is_silent and line.own.dominant_high is not None and levels.low < -LOST_STEADY_SHARE * levels.amplitude:
        found.append(sanity.ac_coupling(levels, channel.name))
    if line.traffic is not None and channel.step_s is not None and not line.is_silent:
        found.append(sanity.too_few_samples(line.traffic.bit_s / channel.step_s, channel.name))
    return sanity.doubts_among(found)


CAN_LOW_SPEED = LowSpeedCanKind()
