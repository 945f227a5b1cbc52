"""Switched and pulse-width modulated wires: logic, lamps, valves, motors."""

from dataclasses import dataclass

from loomlight.signal import sanity
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import BACK_PROBE, HIGH_VOLTAGE, MAKER_FIRST
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.input_doubts import sits_wrong, ten_times_off
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.pwm_judge import PwmCase, judge_pwm
from loomlight.signal.pwm_reading import RUNT_MOST, PwmReading, read_pwm
from loomlight.signal.pwm_settings import HIGH_SHARE, JITTER, LOW_SHARE, SETTINGS, SLOW, SUPPLY
from loomlight.signal.pwm_tables import pwm_findings, pwm_measures, pwm_tracks
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import PRACTICE, Setting

LEAST_SAMPLES = 15.0
BAND_SHARE = 0.15

LIMITS = (
    Limit("low level at most", 0.2, "× supply", LOW_SHARE.source),
    Limit("high level at least", 0.8, "× supply", HIGH_SHARE.source),
    Limit("an edge takes at most", 0.1, "of a period", SLOW.source),
    Limit("periods scatter by at most", 0.05, "of a period", JITTER.source),
    Limit("a pulse goes at least so far to the other level", RUNT_MOST, "of the amplitude", PRACTICE),
)

CAUTIONS = (
    MAKER_FIRST,
    "A coil that is switched off flies back to 60 V, and to several hundred where no clamp holds it: use a ×10 probe or an "
    "attenuator, and check the instrument's input limit.",
    "Pumps, fans and valves can start at any moment once they are powered; keep hands and leads clear.",
    "A mains instrument's ground lead is earth: clip it to battery negative only, never to a switched wire.",
    BACK_PROBE,
    HIGH_VOLTAGE,
)

RECIPE = Recipe(
    length_s=0.5,
    samples_per_s=500_000.0,
    coupling="DC, ×10 probe",
    where="Back-probe at the load's switched pin; a second time at the control unit's pin tells the wire from the driver.",
    switched_on="The function held on, at about half of its range, throughout the capture.",
    notes=(
        "A hundred samples a period or more, and fifty periods or more.",
        "Move loom and plugs in the second half of the capture.",
    ),
)


@dataclass(frozen=True, eq=False)
class PwmExamination(Examination):
    """With the channel as it was read."""

    reading: PwmReading


@dataclass(frozen=True)
class PwmKind(UsualKind):
    """The signal kind ``pwm``."""

    key: str = "pwm"
    title: str = "Switched or PWM"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    recipe: Recipe = RECIPE
    by: WantedBy = "cycle"

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> Examination:
        """Pulses, levels, edges and findings of one channel.

        Raises
        ------
        CannotUse
            If the channel is not in volts, not evenly spaced, or holds no number.
        """
        sanity.require_volts(channel)
        sanity.require_step(channel)
        reading = read_pwm(channel, part(progress, 0.0, 0.95))
        if reading is None:
            raise sanity.no_number(channel)
        unit = channel.unit or ""
        return PwmExamination(
            channel=channel,
            findings=tuple(pwm_findings(channel, reading, conditions)),
            doubts=_doubts(channel, reading, conditions),
            bus=None,
            measures=pwm_measures(reading, conditions, unit),
            tracks=pwm_tracks(reading, unit),
            reading=reading,
        )

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """The verdict; a known-good is held against it pulse for pulse, whatever its duty factor."""
        assert isinstance(suspect, PwmExamination)
        assert good is None or isinstance(good, PwmExamination)
        beside = ""
        if good is not None and conditions.same_moment and good.reading.starts_s.size:
            beside = f"{good.channel.name!r}, recorded together with it, shows {good.reading.starts_s.size} pulses"
        case = PwmCase(
            channel=suspect.channel,
            reading=suspect.reading,
            good=good.reading if good is not None else None,
            conditions=conditions,
            doubts=suspect.doubts,
            works_beside=beside,
            unit=suspect.channel.unit or "",
        )
        progress(1.0)
        marks, verdict = judge_pwm(case)
        return Judgement((*marks, *suspect.findings), verdict)

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """A share of the amplitude (common practice, no source), or what was given."""
        assert isinstance(suspect, PwmExamination)
        if conditions.within_v is not None:
            return conditions.within_v
        height = suspect.reading.train.amplitude
        return BAND_SHARE * height if height > 0 else None


def _doubts(channel: Channel, reading: PwmReading, conditions: Conditions) -> tuple[Doubt, ...]:
    train = reading.train
    found = sanity.of_recording(channel, train.greatest)
    if train.manner == "two levels":
        fed, battery = conditions.figure(SUPPLY), conditions.supply_v
        known = (fed,) if fed is not None else () if battery is None else (5.0, battery)
        found.append(sits_wrong(train.low, train.high, channel.name, channel.unit or ""))
        found.append(ten_times_off(train.low, train.high, channel.name, known) if channel.unit == "V" else None)
    if reading.rate_hz is not None and channel.step_s is not None:
        samples = 1.0 / (reading.rate_hz * channel.step_s)
        found.append(sanity.fewer_samples(samples, channel.name, "a period", least=LEAST_SAMPLES))
    return sanity.doubts_among(found)


PWM = PwmKind()
