"""What a person may say about a toothed wheel and its sensor, and the wheel that follows."""

from loomlight.signal.examination import Conditions
from loomlight.signal.setting import PRACTICE, Setting
from loomlight.signal.wheel_pattern import Wheel, turned_home

TEETH = Setting(
    "teeth",
    "tooth positions a turn, gap included",
    "",
    None,
    "learnt from the capture where the wheel has a gap",
    2,
    400,
    "60 for a wheel of 60 positions with two left out.",
)
LEFT_OUT = Setting(
    "left_out",
    "teeth left out at the gap",
    "",
    None,
    "learnt from the capture",
    0,
    6,
    "0 for a wheel without a gap, whose turns cannot be learnt.",
)
LEAST_HEIGHT = Setting(
    "least_height",
    "inductive sensor gives at least, peak to peak",
    "V",
    0.4,
    PRACTICE,
    0.0,
    50.0,
    "While cranking; the control unit's own threshold stands in its maker's data.",
)
LOW_SHARE = Setting(
    "low_share",
    "switching sensor pulls down to at most",
    "× supply",
    0.2,
    "usual logic input, from memory",
    0.01,
    0.5,
    "What the control unit still reads as low stands in its maker's data.",
)
HIGH_SHARE = Setting(
    "high_share",
    "switching sensor's line rises to at least",
    "× supply",
    0.8,
    "usual logic input, from memory",
    0.5,
    1.0,
    "What the control unit still reads as high stands in its maker's data.",
)
PULL_UP = Setting(
    "pull_up",
    "supply that the line is pulled up to",
    "V",
    None,
    "5 V, 8 V or the battery, whichever the line comes to",
    1.0,
    40.0,
    "Measured at the line with the sensor unplugged.",
)
RUN_OUT = Setting(
    "run_out",
    "run-out: strength goes up and down once a turn by at most",
    "",
    0.2,
    PRACTICE,
    0.01,
    1.0,
    "Half of peak to peak over the mean.",
)
CAM_DRIFT = Setting(
    "cam_drift",
    "cam against crank, from the known-good at most",
    "° crank",
    6.0,
    PRACTICE,
    0.5,
    60.0,
    "One tooth of a chain wheel is about 15 to 20°; a cam that is adjusted while running moves on purpose.",
)
SETTINGS = (TEETH, LEFT_OUT, LEAST_HEIGHT, LOW_SHARE, HIGH_SHARE, PULL_UP, RUN_OUT, CAM_DRIFT)


def given_wheel(conditions: Conditions) -> Wheel | None:
    """The wheel that a person gave; None without its number of positions.

    Without the teeth left out the gaps are those that the capture shows, or none.
    """
    teeth, left_out = conditions.figure(TEETH), conditions.figure(LEFT_OUT)
    if teeth is None:
        return None
    positions = round(teeth)
    gone = min(round(left_out or 0.0), positions - 1)
    return turned_home(Wheel(positions, tuple(range(positions - gone, positions))))


def gaps_given(conditions: Conditions) -> bool:
    """Whether a person gave how many teeth are left out."""
    return conditions.figure(LEFT_OUT) is not None
