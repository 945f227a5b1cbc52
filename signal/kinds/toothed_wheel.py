"""Toothed wheel with a switching (Hall) or an inductive sensor: crankshaft, camshaft, gearbox."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal import sanity
from loomlight.signal.beside import Role
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import BACK_PROBE, HIGH_VOLTAGE, MAKER_FIRST
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.input_doubts import sits_wrong, ten_times_off
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import PRACTICE, Setting
from loomlight.signal.wheel_cam import CamPhase, cam_phase
from loomlight.signal.wheel_case import WheelCase
from loomlight.signal.wheel_findings import wheel_findings
from loomlight.signal.wheel_judge import judge_wheel
from loomlight.signal.wheel_levels import SUPPLIES
from loomlight.signal.wheel_measures import wheel_measures, wheel_tracks
from loomlight.signal.wheel_reading import WheelReading, read_wheel
from loomlight.signal.wheel_settings import (
    CAM_DRIFT,
    HIGH_SHARE,
    LEAST_HEIGHT,
    LOW_SHARE,
    PULL_UP,
    RUN_OUT,
    SETTINGS,
    gaps_given,
    given_wheel,
)
from loomlight.signal.wheel_shape import LOW_TOOTH, SHIFTED, WheelShape, damaged_teeth, wheel_shape

LEAST_SAMPLES = 8.0
SAME_ENDS = 0.05
BAND_SHARE = 0.15

LIMITS = (
    Limit("switching sensor pulls down to at most", 0.2, "× supply", LOW_SHARE.source),
    Limit("switching sensor's line rises to at least", 0.8, "× supply", HIGH_SHARE.source),
    Limit("inductive sensor gives at least, peak to peak", 0.4, "V", LEAST_HEIGHT.source),
    Limit("a tooth off its place by at most", SHIFTED, "of a pitch", PRACTICE),
    Limit("a tooth's signal beside its neighbours' at least", LOW_TOOTH, "", PRACTICE),
    Limit("run-out of the strength once a turn at most", 0.2, "", RUN_OUT.source),
    Limit("cam against crank, from the known-good at most", 6.0, "° crank", CAM_DRIFT.source),
)

CAUTIONS = (
    MAKER_FIRST,
    "Engine running or cranking: keep hands, leads and sleeves off belts, fans and the starter; gear out, brake on.",
    "An inductive sensor can give over 100 V at high speed: use a ×10 probe and check the instrument's input limit.",
    "To crank without starting, disable fuel and ignition after the maker's procedure; never leave a coil's output open.",
    BACK_PROBE,
    HIGH_VOLTAGE,
)

RECIPE = Recipe(
    length_s=2.0,
    samples_per_s=100_000.0,
    coupling="DC, ×10 probe",
    where="Back-probe the sensor's signal at the control unit's plug, ground lead at the sensor's own ground; an inductive "
    "sensor between its two wires.",
    switched_on="Cranking or running at a steady speed, at least three whole turns, better ten.",
    notes=(
        "Twenty samples a tooth or more: 60 teeth at 3000 rpm pass 3000 times a second.",
        "Record the cam sensor on a second channel: it tells a standing engine from a dead sensor, and shows the timing.",
    ),
)

ROLES = (
    Role(
        "cam", "cam sensor", "V", "Where the cam stands against the crankshaft, and whether the engine turned at all."
    ),
)


@dataclass(frozen=True, eq=False)
class WheelExamination(Examination):
    """With the channel as it was read."""

    reading: WheelReading
    shape: WheelShape | None
    phase: CamPhase | None
    turning_beside: str


@dataclass(frozen=True)
class ToothedWheelKind(UsualKind):
    """The signal kind ``toothed-wheel``."""

    key: str = "toothed-wheel"
    title: str = "Toothed wheel"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    roles: tuple[Role, ...] = ROLES
    recipe: Recipe = RECIPE
    by: WantedBy = "cycle"

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> Examination:
        """Teeth, turns, speed and findings of one channel.

        Raises
        ------
        CannotUse
            If the channel is not in volts, not evenly spaced, or holds no number.
        """
        sanity.require_volts(channel)
        sanity.require_step(channel)
        reading = read_wheel(
            channel, given_wheel(conditions), part(progress, 0.0, 0.8), gaps_known=gaps_given(conditions)
        )
        if reading is None:
            raise sanity.no_number(channel)
        shape = wheel_shape(reading)
        cam = conditions.beside("cam")
        phase = cam_phase(reading, cam, part(progress, 0.8, 1.0)) if cam is not None else None
        unit = channel.unit or ""
        doubts = _doubts(channel, reading, conditions)
        cut_off = any(one.about == "clipping" for one in doubts)
        damaged = damaged_teeth(shape, cut_off=cut_off) if shape is not None else ()
        return WheelExamination(
            channel=channel,
            findings=tuple(wheel_findings(channel, reading, damaged)),
            doubts=doubts,
            bus=None,
            measures=wheel_measures(reading, shape, phase, conditions, unit),
            tracks=wheel_tracks(reading, unit),
            reading=reading,
            shape=shape,
            phase=phase,
            turning_beside=_turning_beside(cam) if reading.teeth is None else "",
        )

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """The verdict; a known-good is held against it tooth by tooth, whatever its speed."""
        assert isinstance(suspect, WheelExamination)
        assert good is None or isinstance(good, WheelExamination)
        turning = suspect.turning_beside
        if not turning and good is not None and conditions.same_moment and good.reading.teeth is not None:
            turning = f"{good.channel.name!r}, recorded together with it, shows {good.reading.teeth.times_s.size} teeth"
        case = WheelCase(
            channel=suspect.channel,
            reading=suspect.reading,
            good=good.reading if good is not None else None,
            shape=suspect.shape,
            good_shape=good.shape if good is not None else None,
            phase=suspect.phase,
            good_phase=good.phase if good is not None else None,
            findings=suspect.findings,
            doubts=suspect.doubts,
            conditions=conditions,
            turning_beside=turning,
            unit=suspect.channel.unit or "",
        )
        progress(1.0)
        marks, verdict = judge_wheel(case)
        return Judgement((*marks, *suspect.findings), verdict)

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """A share of the signal's height (common practice, no source), or what was given."""
        assert isinstance(suspect, WheelExamination)
        if conditions.within_v is not None:
            return conditions.within_v
        height = suspect.reading.train.amplitude
        return BAND_SHARE * height if height > 0 else None


def _turning_beside(cam: Channel | None) -> str:
    """Whether the cam shows that the engine turned."""
    if cam is None or cam.step_s is None:
        return ""
    other = read_wheel(cam, None)
    if other is None or other.train.at_s.size < 4:
        return ""
    return f"{cam.name!r} beside it shows {other.train.at_s.size} edges"


def _doubts(channel: Channel, reading: WheelReading, conditions: Conditions) -> tuple[Doubt, ...]:
    train = reading.train
    found = [*sanity.of_recording(channel, train.greatest), _cut_off(channel, reading)]
    cut_off = any(one is not None and one.about == "clipping" for one in found)
    if train.manner == "two levels" and not cut_off:
        fed, battery = conditions.figure(PULL_UP), conditions.supply_v
        known = (fed,) if fed is not None else () if battery is None else (*SUPPLIES, battery)
        found.append(sits_wrong(train.low, train.high, channel.name, channel.unit or ""))
        found.append(ten_times_off(train.low, train.high, channel.name, known) if channel.unit == "V" else None)
    if reading.pitch_s is not None and channel.step_s is not None:
        samples = reading.pitch_s / channel.step_s
        found.append(sanity.fewer_samples(samples, channel.name, "a tooth", least=LEAST_SAMPLES))
    return sanity.doubts_among(found)


def _cut_off(channel: Channel, reading: WheelReading) -> Doubt | None:
    """Swings that all end at the very same value: that is the instrument's end, not the sensor's."""
    train = reading.train
    # Swings that are cut off far down look like two levels, as far below zero as above.
    both = train.amplitude > 0 and abs(train.greatest + train.least) < SAME_ENDS * (train.greatest - train.least)
    if channel.clipped or not ((reading.swings and reading.heights.size) or both):
        return None
    count = min(channel.samples.size, 1_000_000)
    values = channel.samples.block(0, count)
    values = values[np.isfinite(values)]
    for end, name in ((values.max(initial=-np.inf), "upper"), (values.min(initial=np.inf), "lower")):
        share = float((values == end).mean()) if values.size else 0.0
        if share > 0.03:
            return Doubt(
                "clipping",
                f"{share:.0%} of the samples stand at exactly {end:.3g} V, the {name} end of the instrument's range: the swings "
                "are cut off there by the instrument, so their height is at least that; edges and speed still hold.",
                "Choose a larger range, or a ×10 probe, and repeat the capture.",
            )
    return None


TOOTHED_WHEEL = ToothedWheelKind()
