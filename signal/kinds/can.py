"""High-speed CAN and CAN FD: a pair of wires, up to 1 Mbit/s, and faster in an FD frame's data phase."""

from dataclasses import dataclass

from loomlight.signal import sanity
from loomlight.signal.beside import Role
from loomlight.signal.bus_frames import BusFrame
from loomlight.signal.can_case import case_of
from loomlight.signal.can_doubts import doubts_of
from loomlight.signal.can_examination import CanExamination, bus_report, read_pair
from loomlight.signal.can_findings import findings_of
from loomlight.signal.can_frame_rows import bus_frames, frame_rows
from loomlight.signal.can_judge import judge_can
from loomlight.signal.can_limits import LIMITS, SETTINGS
from loomlight.signal.can_physical import physical_layer
from loomlight.signal.can_supposed import SUPPOSER
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import DATA_BUS, RUNNING_ENGINE
from loomlight.signal.examination import Conditions, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import Setting
from loomlight.signal.supposal import Supposer

OTHER_WIRE = Role(
    "other wire",
    "other wire of the pair",
    "V",
    "With both wires common mode, symmetry, shorts to a rail and swapped wires show; with one alone they do not.",
)
HALF_V = 0.4
"""Half width of the band beside a known-good (common practice, no source)."""

RECIPE = Recipe(
    length_s=0.05,
    samples_per_s=10e6,
    coupling="DC, ×10 probe",
    where="Back-probe CAN-H and CAN-L of the suspect's connector on two channels, both ground leads on that node's ground.",
    switched_on="Ignition on, so that the bus is awake and the nodes send.",
    notes=(
        "20 samples a bit are good, 10 enough: 10 million a second at 500 kbit/s; for CAN FD count by the data phase.",
        "For the termination: power off, wait until the nodes sleep, then measure between the wires with a meter.",
        "Where the fault comes and goes, record longer and move the loom meanwhile.",
    ),
)
CAUTIONS = (
    *DATA_BUS,
    RUNNING_ENGINE,
    "Measure resistance only with the bus without power: a meter on a live pair disturbs it and reads wrong.",
)


@dataclass(frozen=True)
class CanKind(UsualKind):
    """The signal kind ``can``."""

    key: str = "can"
    title: str = "High-speed CAN"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    roles: tuple[Role, ...] = (OTHER_WIRE,)
    recipe: Recipe = RECIPE
    supposer: Supposer | None = SUPPOSER
    by: WantedBy = "frame"

    def frames(self, looked: Examination) -> tuple[BusFrame, ...]:
        """Frames of one examined channel."""
        assert isinstance(looked, CanExamination)
        return bus_frames(looked.pair)

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> CanExamination:
        """Frames, levels and findings of one channel, with the other wire where it stands beside.

        Raises
        ------
        CannotUse
            If a channel is not in volts or not evenly spaced, or the other wire belongs to another recording.
        """
        other = conditions.beside(OTHER_WIRE.key)
        for one in (channel, other):
            if one is not None:
                sanity.require_volts(one)
        pair = read_pair(channel, other, part(progress, 0.0, 0.9))
        bus = bus_report(pair)
        return CanExamination(
            channel=channel,
            findings=findings_of(channel, pair),
            doubts=doubts_of(channel, other, pair),
            bus=bus,
            measures=physical_layer(pair, bus, conditions),
            frames=frame_rows(pair),
            pair=pair,
        )

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """The verdict, each identifier held against itself on the known-good where there is one."""
        assert isinstance(suspect, CanExamination)
        assert good is None or isinstance(good, CanExamination)
        verdict = judge_can(case_of(suspect, good, lineup, conditions))
        progress(1.0)
        return Judgement(suspect.findings, verdict)

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """0.4 V either way (common practice, no source), or what was given."""
        return conditions.within_v if conditions.within_v is not None else HALF_V


CAN = CanKind()
