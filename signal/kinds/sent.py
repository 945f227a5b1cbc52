"""SENT: a sensor sends nibbles as times between falling edges, on one wire."""

from dataclasses import dataclass

from loomlight.signal import sanity
from loomlight.signal.bus_frames import BusFrame
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import BACK_PROBE, HIGH_VOLTAGE, INPUT_LIMIT, MAKER_FIRST, RUNNING_ENGINE
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.line_case import case_of
from loomlight.signal.line_faults import require_even
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.recipe import Recipe
from loomlight.signal.sent_findings import own_findings
from loomlight.signal.sent_judge import judge_sent
from loomlight.signal.sent_limits import LIMITS, SETTINGS
from loomlight.signal.sent_physical import physical_layer
from loomlight.signal.sent_reading import SentExamination, SentReading, bus_report, read_line, tracks
from loomlight.signal.sent_rows import bus_frames, frame_rows
from loomlight.signal.setting import Setting

LEAST_SAMPLES_A_TICK, GOOD_SAMPLES_A_TICK = 2.5, 8.0
BAND_V = 0.5

CAUTIONS = (
    MAKER_FIRST,
    HIGH_VOLTAGE,
    "Such a sensor may belong to steering, brakes, throttle or fuel pressure: probe it standing still, and let nobody "
    "drive with a probe in its plug. Release fuel pressure by the maker's procedure before a fuel sensor is unplugged.",
    BACK_PROBE,
    INPUT_LIMIT,
    RUNNING_ENGINE,
)

RECIPE = Recipe(
    length_s=0.05,
    samples_per_s=4_000_000.0,
    coupling="DC, ×10 probe with a short ground lead",
    where="At the receiver's pin, and on a second channel at the sensor's own pin; both ground leads at the sensor's ground.",
    switched_on="Ignition on; move what the sensor measures during the capture.",
    notes=(
        "Eight samples a tick are good: 3 million samples a second at a tick of 3 µs.",
        "20 frames hold a whole message of the slow channel: about 20 ms at a tick of 3 µs.",
        "Give the tick of the sensor's data sheet, if you have it: only then a clock that is off can be told.",
    ),
)


@dataclass(frozen=True)
class SentKind(UsualKind):
    """The signal kind ``sent``."""

    key: str = "sent"
    title: str = "SENT sensor"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    recipe: Recipe = RECIPE

    def frames(self, looked: Examination) -> tuple[BusFrame, ...]:
        """Frames of one examined channel."""
        assert isinstance(looked, SentExamination)
        return bus_frames(looked.line)

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> SentExamination:
        """Levels, frames and findings of one channel.

        Raises
        ------
        CannotUse
            If the channel is not in volts or not evenly spaced.
        """
        sanity.require_volts(channel)
        require_even(channel, self.title)
        line = read_line(channel, part(progress, 0.0, 0.8))
        return SentExamination(
            channel=channel,
            findings=own_findings(channel, line, conditions, part(progress, 0.8, 1.0)),
            doubts=_doubts(channel, line),
            bus=bus_report(line) if not line.is_flat else None,
            line=line,
            measures=physical_layer(line, conditions),
            frames=frame_rows(line),
            tracks=tracks(line),
        )

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """What the suspect's findings mean, beside the known-good's levels and edges where there is one."""
        case = case_of(SentExamination, suspect, good, lineup, conditions)
        return Judgement(suspect.findings, judge_sent(case))

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """Half a volt either way (common practice, no source), or what was given."""
        return conditions.within_v if conditions.within_v is not None else BAND_V


def _doubts(channel: Channel, line: SentReading) -> tuple[Doubt, ...]:
    levels = line.levels
    if levels is None:
        return (sanity.no_samples(channel),)
    found = sanity.of_recording(channel, levels.greatest)
    if not line.is_flat:
        found += [sanity.ac_coupling(levels, channel.name), _scale(line, channel.name)]
    if line.tick_s is not None:
        ticks = line.tick_s / line.step_s
        found.append(
            sanity.fewer_samples(ticks, channel.name, "a tick", least=LEAST_SAMPLES_A_TICK, good=GOOD_SAMPLES_A_TICK)
        )
    return sanity.doubts_among(found)


def _scale(line: SentReading, name: str) -> Doubt | None:
    """Levels that would be right if the probe factor were ten times off."""
    for factor, setting in sanity.FACTORS:
        whole = 4.0 <= factor * line.high_v <= 5.6 and factor * abs(line.low_v) <= 0.5
        if whole and not 3.0 <= line.high_v <= 6.0 and line.amplitude_v > 10.0 * line.noise_v:
            return sanity.factor_off(name, f"goes up to {line.high_v:.3g} V", factor, "a sensor's 5 V", setting)
    return None


SENT = SentKind()
