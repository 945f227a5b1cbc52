"""Single-wire CAN: body electronics on one wire, 33.3 kbit/s, woken by a higher level."""

from dataclasses import dataclass

from loomlight.signal import sanity
from loomlight.signal.bus_frames import BusFrame
from loomlight.signal.can_wire import bus_frames, frame_rows
from loomlight.signal.can_wire_report import bus_report, level_tracks
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import DATA_BUS, WAKING
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.line_case import case_of
from loomlight.signal.line_faults import require_even
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import Setting
from loomlight.signal.swcan_findings import own_findings, physical_layer
from loomlight.signal.swcan_judge import judge_single_wire
from loomlight.signal.swcan_limits import LIMITS, SETTINGS
from loomlight.signal.swcan_reading import SwExamination, SwReading, read_line

BAND_V = 0.5

CAUTIONS = (
    *DATA_BUS,
    WAKING,
)

RECIPE = Recipe(
    length_s=0.5,
    samples_per_s=1_000_000.0,
    coupling="DC, ×10 probe",
    where="Back-probe the suspect node's pin, and on a second channel the same wire at a node that works; both ground leads on "
    "battery negative.",
    switched_on="Ignition on and a function of this bus worked; to see wake frames, begin with the bus asleep.",
    notes=(
        "20 samples a bit are good: 700 000 samples a second at 33.3 kbit/s.",
        "Give the supply as measured: the wake level is held against it.",
    ),
)


@dataclass(frozen=True)
class SingleWireCanKind(UsualKind):
    """The signal kind ``can-single-wire``."""

    key: str = "can-single-wire"
    title: str = "Single-wire CAN"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    recipe: Recipe = RECIPE
    by: WantedBy = "frame"

    def frames(self, looked: Examination) -> tuple[BusFrame, ...]:
        """Frames of one examined channel."""
        assert isinstance(looked, SwExamination)
        return bus_frames(looked.line.traffic)

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> SwExamination:
        """Levels, frames and findings of one channel.

        Raises
        ------
        CannotUse
            If the channel is not in volts or not evenly spaced.
        """
        sanity.require_volts(channel)
        require_even(channel, self.title)
        line = read_line(channel, part(progress, 0.0, 0.8))
        return SwExamination(
            channel=channel,
            findings=own_findings(channel, line, conditions, part(progress, 0.8, 1.0)),
            doubts=_doubts(channel, line),
            bus=None if line.is_flat else bus_report(channel, line.traffic, line.normal(), recessive_v=line.rest_v),
            line=line,
            measures=physical_layer(line, conditions),
            frames=frame_rows(line.traffic, line.wire),
            tracks=level_tracks(line.traffic, line.wire, "dominant level"),
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
        case = case_of(SwExamination, suspect, good, lineup, conditions)
        return Judgement(suspect.findings, judge_single_wire(case))

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """Half a volt either way (common practice, no source), or what was given."""
        return conditions.within_v if conditions.within_v is not None else BAND_V


def _doubts(channel: Channel, line: SwReading) -> tuple[Doubt, ...]:
    levels = line.levels
    if levels is None:
        return (sanity.no_samples(channel),)
    found = sanity.of_recording(channel, levels.greatest)
    if not line.is_flat:
        found.append(sanity.ac_coupling(levels, channel.name))
        if line.traffic is not None:
            found.append(sanity.too_few_samples(line.traffic.bit_s / line.step_s, channel.name))
    return sanity.doubts_among(found)


CAN_SINGLE_WIRE = SingleWireCanKind()
