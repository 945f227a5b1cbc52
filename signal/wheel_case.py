"""What the verdict on a toothed wheel is made from, and one cause of what is wrong."""

from dataclasses import dataclass

from loomlight.signal.capture import Channel
from loomlight.signal.examination import Conditions, Doubt
from loomlight.signal.finding import Finding
from loomlight.signal.input_doubts import not_about_levels
from loomlight.signal.wheel_cam import CamPhase
from loomlight.signal.wheel_reading import WheelReading
from loomlight.signal.wheel_shape import WheelShape


@dataclass(frozen=True)
class WheelCase:
    """All that the verdict is made from.

    Attributes
    ----------
    channel : Channel
        The suspect.
    reading, good : WheelReading
        Of the suspect and, where there is one, of the known-good.
    shape, good_shape : WheelShape or None
        Their averages over turns.
    phase, good_phase : CamPhase or None
        Their cam sensors.
    findings : tuple of Finding
        On the suspect.
    doubts : tuple of Doubt
        About the measurement.
    conditions : Conditions
        What was known beside it.
    turning_beside : str
        Why the wheel must have turned although nothing came; empty where that is not known.
    unit : str
        Of the channel.
    """

    channel: Channel
    reading: WheelReading
    good: WheelReading | None
    shape: WheelShape | None
    good_shape: WheelShape | None
    phase: CamPhase | None
    good_phase: CamPhase | None
    findings: tuple[Finding, ...]
    doubts: tuple[Doubt, ...]
    conditions: Conditions
    turning_beside: str
    unit: str


def turns_of(case: WheelCase) -> range:
    """Whole turns, counted."""
    return range(case.reading.turns.count if case.reading.turns is not None else 0)


def is_cut_off(case: WheelCase) -> bool:
    """Whether the instrument cut the swings off: their heights say nothing then."""
    return any(one.about == "clipping" for one in case.doubts)


def has_levels(case: WheelCase) -> bool:
    """Whether levels and heights of suspect and known-good may be judged."""
    train = case.reading.train
    cut_to_two = is_cut_off(case) and not case.reading.swings and train.low < 0.0
    return not_about_levels(case.doubts) and not cut_to_two
