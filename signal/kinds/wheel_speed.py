"""Active two-wire wheel speed sensors: a current of two levels, or of three."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal import sanity
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import BACK_PROBE, HIGH_VOLTAGE, MAKER_FIRST
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.input_doubts import sits_wrong
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.noise import noise_of
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import Setting
from loomlight.signal.speed_bits import frame_rows
from loomlight.signal.speed_judge import NOTHING, SpeedCase, judge_speed
from loomlight.signal.speed_reading import SpeedReading, read_speed
from loomlight.signal.speed_settings import HIGH_LEAST, HIGH_MOST, LOW_LEAST, LOW_MOST, POLES, SETTINGS, SHEET, SHUNT
from loomlight.signal.speed_tables import speed_findings, speed_measures, speed_tracks

LEAST_SAMPLES = 10.0
BAND_SHARE = 0.15
LEAST_DRAWN_A = 5.88e-3
LOOKED = 100_000
BELOW_ZERO = 0.05
"""Of that: a current of a single direction never goes so far below zero but by the instrument."""

LIMITS = (
    Limit("lower current at least", 5.88e-3, "A", SHEET),
    Limit("lower current at most", 8.4e-3, "A", SHEET),
    Limit("upper current at least", 11.7e-3, "A", SHEET),
    Limit("upper current at most", 16.8e-3, "A", SHEET),
    Limit("speed pulse of the third level at least", 23.5e-3, "A", SHEET),
    Limit("speed pulse of the third level at most", 33.6e-3, "A", SHEET),
)

CAUTIONS = (
    MAKER_FIRST,
    "Brakes: a fault in this circuit takes anti-lock and stability control away; road-test only as the maker allows, with a "
    "second person at the instrument.",
    "Lift and support the vehicle as its maker says before turning a wheel; keep loom and leads off turning parts.",
    "Do not feed the sensor from a battery without its series resistance: it is a current source and burns out.",
    BACK_PROBE,
    HIGH_VOLTAGE,
)

RECIPE = Recipe(
    length_s=2.0,
    samples_per_s=200_000.0,
    coupling="DC; a clamp for milliamperes, or volts across a shunt of 75 to 115 Ω in the line",
    where="In the sensor's supply wire at the control unit, or across a shunt put into its ground wire.",
    switched_on="Ignition on, the wheel turned by hand or on rollers, at least three whole turns.",
    notes=(
        "Set the shunt's ohms, and the pulses a turn where they are known.",
        "The kind with a third level needs 5 µs a sample or less: its pulses last about 50 µs.",
        "Move the loom through the steering's and the suspension's way in the second half.",
    ),
)


@dataclass(frozen=True, eq=False)
class SpeedExamination(Examination):
    """With the channel as it was read."""

    reading: SpeedReading


@dataclass(frozen=True)
class WheelSpeedKind(UsualKind):
    """The signal kind ``wheel-speed``."""

    key: str = "wheel-speed"
    title: str = "Wheel speed, two-wire current"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    recipe: Recipe = RECIPE
    by: WantedBy = "cycle"

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> Examination:
        """Levels, speed pulses and findings of one channel.

        Raises
        ------
        CannotUse
            If the channel is neither in amperes nor in volts, not evenly spaced, or holds no number.
        """
        if channel.unit not in ("V", "A", None):
            raise CannotUse(
                f"{channel.name!r} is in {channel.unit}; a wheel speed sensor is judged by its current in A, or in V across a "
                "shunt."
            )
        sanity.require_step(channel)
        shunt, poles = conditions.figure(SHUNT), conditions.figure(POLES)
        reading = read_speed(channel, shunt, poles, part(progress, 0.0, 0.9))
        if reading is None:
            raise sanity.no_number(channel)
        unit = channel.unit or ""
        return SpeedExamination(
            channel=channel,
            findings=tuple(speed_findings(channel, reading)),
            doubts=_doubts(channel, reading, conditions),
            bus=None,
            measures=speed_measures(reading, conditions, unit),
            frames=frame_rows(reading.data) if reading.data is not None else (),
            tracks=speed_tracks(reading, unit),
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
        """The verdict; of a known-good the currents are held against it, whatever its speed."""
        assert isinstance(suspect, SpeedExamination)
        assert good is None or isinstance(good, SpeedExamination)
        beside = ""
        if good is not None and conditions.same_moment and good.reading.has_pulses:
            beside = f"{good.channel.name!r}, recorded together with it, turns"
        case = SpeedCase(
            channel=suspect.channel,
            reading=suspect.reading,
            good=good.reading if good is not None else None,
            findings=suspect.findings,
            conditions=conditions,
            doubts=suspect.doubts,
            turns_beside=beside,
            unit=suspect.channel.unit or "",
        )
        progress(1.0)
        marks, verdict = judge_speed(case)
        return Judgement((*marks, *suspect.findings), verdict)

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """A share of the amplitude (common practice, no source), or what was given."""
        assert isinstance(suspect, SpeedExamination)
        if conditions.within_v is not None:
            return conditions.within_v
        height = suspect.reading.wheel.train.amplitude
        return BAND_SHARE * height if height > 0 else None


def _doubts(channel: Channel, reading: SpeedReading, conditions: Conditions) -> tuple[Doubt, ...]:
    train = reading.wheel.train
    found = sanity.of_recording(channel, train.greatest)
    if reading.has_pulses:
        values = channel.samples.block(0, min(channel.samples.size, LOOKED))
        # Which two levels are the sensor's is not known here: without its steady part others may look like them.
        least, most = np.nanpercentile(values, [1.0, 99.0]).tolist()
        found.append(sits_wrong(least, most, channel.name, channel.unit or ""))
        found.append(_scale(channel, reading, conditions, least * reading.factor))
    if reading.rate_hz is not None and channel.step_s is not None:
        samples = 1.0 / (reading.rate_hz * channel.step_s)
        found.append(sanity.fewer_samples(samples, channel.name, "a pulse", least=LEAST_SAMPLES))
    return sanity.doubts_among(found)


def _scale(channel: Channel, reading: SpeedReading, conditions: Conditions, least: float) -> Doubt | None:
    """The zero is off, or both currents would keep their limits ten times larger or smaller."""
    if not reading.in_amperes:
        return None
    bounds = [conditions.figure(one) or 0.0 for one in (LOW_LEAST, LOW_MOST, HIGH_LEAST, HIGH_MOST)]
    for factor in (10.0, 0.1):
        if bounds[0] <= factor * reading.low <= bounds[1] and bounds[2] <= factor * reading.high <= bounds[3]:
            levels = f"{in_words(reading.low, 'A')} and {in_words(reading.high, 'A')}"
            text = (
                f"{channel.name!r} draws {levels}; {factor:g} times that would be right: is the factor ten times off?"
            )
            do = "Set the factor of clamp or probe, and the shunt's resistance, as they are, and judge again."
            return Doubt("x10 mismatch", text, do)
    # The levels' own scatter says little where they are not the sensor's.
    noise = noise_of(channel, stretches=8) * reading.factor
    if reading.low < NOTHING * LEAST_DRAWN_A or least < -BELOW_ZERO * LEAST_DRAWN_A - 3.0 * noise:
        falls = in_words(min(reading.low, least), "A")
        text = f"{channel.name!r} falls to {falls} between its pulses; a sensor that works draws more."
        do = "Zero the clamp off the wire, set the input to DC coupling, and repeat the capture."
        return Doubt("clamp", text, do)
    return None


WHEEL_SPEED = WheelSpeedKind()
