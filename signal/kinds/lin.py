"""LIN bus: one wire, commander and responders, 1 to 20 kbit/s."""

from dataclasses import dataclass, replace

import numpy as np

from loomlight.signal import sanity
from loomlight.signal.beside import Role
from loomlight.signal.beyond_envelope import with_the_band
from loomlight.signal.bus_frames import BusFrame
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import DATA_BUS, RUNNING_ENGINE
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Finding, Limit
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.lin_band import away_from_the_good, half_width
from loomlight.signal.lin_bus_frames import bus_frames
from loomlight.signal.lin_case import Case
from loomlight.signal.lin_case_measures import case_measures
from loomlight.signal.lin_decode import LinTraffic
from loomlight.signal.lin_dropout_statistics import dropout_statistics, places_of_dropouts, places_on_the_known_good
from loomlight.signal.lin_dropouts import dropouts, with_sharp_ends
from loomlight.signal.lin_evidence import evidence_of
from loomlight.signal.lin_examination import LineReading, LinExamination, bus_report, read_line
from loomlight.signal.lin_findings import dropout_findings, own_findings
from loomlight.signal.lin_fitted import SUPPOSER
from loomlight.signal.lin_frame_rows import frame_rows
from loomlight.signal.lin_ground import ROLE
from loomlight.signal.lin_judge import judge_lin
from loomlight.signal.lin_physical import TRANSMITTER, physical_layer
from loomlight.signal.lin_pull_up import slow_rise
from loomlight.signal.lin_shifts import SHIFT
from loomlight.signal.lin_turned import turned_frames, upside_down
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import Setting
from loomlight.signal.supposal import Supposer

FEWEST_EDGES = 20
RECEIVER = "LIN 2.2 parameters 17 and 18; ISO 17987-4"

LIMITS = (
    Limit("receiver takes it for dominant at or below", 0.40, "× supply", RECEIVER),
    Limit("receiver takes it for recessive at or above", 0.60, "× supply", RECEIVER),
    Limit("a driver brings the line to or below", 0.20, "× supply", TRANSMITTER),
    Limit("the resting line reaches at least", 0.80, "× supply", TRANSMITTER),
    Limit("highest bit rate", 20_000.0, "bit/s", "ISO 17987-4, scope"),
    Limit("lowest bit rate", 1_000.0, "bit/s", "LIN 2.x"),
    Limit("header and response take at most", 1.4, "× nominal", "LIN Specification Package 2.2A, section 2.3"),
)

CAUTIONS = (
    *DATA_BUS,
    RUNNING_ENGINE,
)

ROLES = (
    Role(
        ROLE,
        "ground pin of the node that answers weakly",
        "V",
        "Against battery negative, recorded together: tells that node's bad ground from a joint in the bus wire.",
    ),
)

RECIPE = Recipe(
    length_s=1.0,
    samples_per_s=500_000.0,
    coupling="DC, ×10 probe",
    where="Back-probe the suspect's pin at its connector, and on a second channel the same bus at a node that works; "
    "both ground leads on battery negative: an instrument that joins two nodes' grounds hides a bad one.",
    switched_on="Ignition on and the function switched on, so that the commander sends.",
    notes=(
        "20 samples a bit are good: 400 000 samples a second at 20 kbit/s.",
        "Where the fault comes and goes, record longer and move the loom meanwhile.",
    ),
)


@dataclass(frozen=True)
class LinKind(UsualKind):
    """The signal kind ``lin``."""

    key: str = "lin"
    title: str = "LIN bus"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = (SHIFT,)
    roles: tuple[Role, ...] = ROLES
    recipe: Recipe = RECIPE
    supposer: Supposer | None = SUPPOSER
    by: WantedBy = "frame"

    def frames(self, looked: Examination) -> tuple[BusFrame, ...]:
        """Frames of one examined channel."""
        assert isinstance(looked, LinExamination)
        return bus_frames(looked.line)

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> LinExamination:
        """Levels, frames and findings of one channel.

        Raises
        ------
        CannotUse
            If the channel is not in volts or not evenly spaced.
        """
        sanity.require_volts(channel)
        reading = read_line(channel, conditions, part(progress, 0.0, 0.9))
        return LinExamination(
            channel=channel,
            findings=own_findings(channel, reading),
            doubts=_doubts(channel, reading),
            bus=bus_report(reading) if not reading.is_flat else None,
            line=reading,
            measures=physical_layer(channel, reading, part(progress, 0.9, 1.0)),
            frames=frame_rows(reading),
        )

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """Dropouts beside the known-good, then the verdict."""
        assert isinstance(suspect, LinExamination)
        assert good is None or isinstance(good, LinExamination)
        case = _case(suspect, good, lineup, conditions)
        progress(0.3)
        verdict = judge_lin(case)
        away: list[Finding] = []
        if good is not None and lineup is not None and lineup.accepted and not suspect.line.is_flat:
            away = away_from_the_good(suspect, good, lineup, conditions, case.findings, part(progress, 0.3, 1.0))
        told = with_the_band(verdict, away)
        everything = tuple(sorted([*case.findings, *away], key=lambda one: one.start_s))
        return Judgement(everything, replace(told, evidence=evidence_of(case, verdict)), case_measures(case))

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """A tenth of the supply either way (common practice, no source), or what was given."""
        assert isinstance(suspect, LinExamination)
        return half_width(suspect.line, conditions)


def _case(suspect: LinExamination, good: LinExamination | None, lineup: LineUp | None, conditions: Conditions) -> Case:
    """Dropouts on either side of the wire, each as a finding on the channel that lost the signal."""
    case = Case(suspect, good, lineup, conditions, (), np.empty((0, 2)))
    own, other = (suspect.channel, suspect.line), (good.channel, good.line) if good is not None else None
    both = case.together and case.comparable
    if (rise := slow_rise(suspect, good, same_moment=conditions.same_moment)) is not None:
        case = replace(case, slow_rise=rise)
    elif not suspect.line.is_flat:
        spans = dropouts(suspect.line, case.good_line, lineup, same_moment=conditions.same_moment)
        case = replace(case, dropouts=with_sharp_ends(spans, own, other if both else None, lineup))
    if rise is None and both and lineup is not None and other is not None and not other[1].is_flat:
        spans = dropouts(other[1], suspect.line, lineup.turned(), same_moment=True)
        case = replace(case, good_dropouts=with_sharp_ends(spans, other, own, lineup.turned()))
    wire = ""
    if case.together and good is not None:
        wire = f"the wire between {suspect.channel.name!r} and {good.channel.name!r}"
    found = [
        *suspect.findings,
        *dropout_findings(suspect.channel, case.dropouts, suspect.line, places_of_dropouts(case), wire=wire),
    ]
    if good is not None and conditions.same_moment:
        # A level that is lifted, or lost, on the known-good's side bears on the wire between the two as well.
        found += [one for one in good.findings if one.kind in ("weak dominant", "no response")]
        places = places_on_the_known_good(case)
        found += dropout_findings(good.channel, case.good_dropouts, good.line, places, wire=wire)
    findings = tuple(sorted(found, key=lambda one: one.start_s))
    return replace(case, findings=findings, statistics=dropout_statistics(case))


def _doubts(channel: Channel, reading: LineReading) -> tuple[Doubt, ...]:
    levels = reading.levels
    if levels is None:
        return ()
    found = sanity.of_recording(channel, levels.greatest)
    if levels.two_states:
        turned = 0 if _carries_frames(reading) else turned_frames(channel, levels)
        found.append(upside_down(channel.name, turned) or sanity.ac_coupling(levels, channel.name))
        if not turned and not _fits_given_supply(reading):
            found.append(sanity.scale_mismatch(levels, channel.name))
    if reading.seen is not None:
        bit_s = reading.seen.bit_s or _shortest_s(reading.seen)
        if bit_s is not None and channel.step_s is not None:
            found.append(sanity.too_few_samples(bit_s / channel.step_s, channel.name))
    return sanity.doubts_among(found)


def _carries_frames(reading: LineReading) -> bool:
    """Whether any frame can be read as it stands."""
    frames = [frame for one in (reading.seen, reading.received) if one is not None for frame in one.frames]
    return any(frame.state in ("good", "no response") for frame in frames)


def _fits_given_supply(reading: LineReading) -> bool:
    """Whether the supply is known and a tenth or ten times the resting level would not come near it either."""
    supply = reading.supply
    if supply is None or supply.source != "given" or reading.levels is None:
        return False
    return not any(0.7 < factor * reading.levels.high / supply.volts < 1.2 for factor in (0.1, 10.0))


def _shortest_s(traffic: LinTraffic) -> float | None:
    """Where no bit time could be read: a low estimate of the usual distance between edges."""
    apart = np.diff(traffic.edges_s)
    return float(np.percentile(apart, 10)) if apart.size >= FEWEST_EDGES else None


LIN = LinKind()
