"""What a person may say about a coil and its driver."""

from loomlight.signal.setting import PRACTICE, Setting

OHMS = Setting(
    "ohms",
    "resistance of the coil",
    "Ω",
    None,
    "the maker's data; else the known-good",
    0.05,
    1000.0,
    "At its plug, cold.",
)
OHMS_SHARE = Setting(
    "ohms_share",
    "resistance may differ by",
    "of it",
    0.25,
    PRACTICE,
    0.01,
    1.0,
    "Copper gains 4 % for each 10 °C, and wires and driver are measured with the coil.",
)
CLAMP = Setting(
    "clamp", "flyback is clamped at about", "V", None, "the maker's data; else the known-good", 10.0, 600.0,
    "What the driver's clamp lets the flyback reach.",
)  # fmt: skip
ON_SHARE = Setting(
    "on_share",
    "switched on, the wire is at most at",
    "× supply",
    0.2,
    PRACTICE,
    0.01,
    0.5,
    "What driver and ground leave.",
)
BURN = Setting(
    "burn",
    "a spark burns at least",
    "s",
    0.0006,
    PRACTICE,
    0.0001,
    0.01,
    "1 to 2 ms is usual while idling; less under boost.",
)
SLOPE = Setting(
    "slope_share",
    "slope at the switching on, from the known-good at most",
    "of it",
    0.35,
    PRACTICE,
    0.05,
    2.0,
    "The slope is V/L: it follows the supply.",
)
SETTINGS = (OHMS, OHMS_SHARE, CLAMP, ON_SHARE, BURN, SLOPE)
