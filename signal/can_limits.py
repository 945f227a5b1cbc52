"""Limits of high-speed CAN with their sources, the figures that a person may change, and the plain model of a driver."""

from typing import Final

from loomlight.signal.finding import Limit
from loomlight.signal.setting import Setting

SHEET: Final = "data sheet of a transceiver written to ISO 11898-2:2016"
STANDARD: Final = "ISO 11898-2, as told in data sheets"

HIGH_DOMINANT_V: Final = (2.75, 4.5)
LOW_DOMINANT_V: Final = (0.5, 2.25)
DIFFERENCE_V: Final = (1.5, 3.0)
RECESSIVE_V: Final = (2.0, 3.0)
RECEIVER_V: Final = (0.5, 0.9)
SYMMETRY: Final = (0.9, 1.1)

LIMITS: Final = (
    Limit("receiver takes it for recessive at or below", RECEIVER_V[0], "V", STANDARD),
    Limit("receiver takes it for dominant at or above", RECEIVER_V[1], "V", STANDARD),
    Limit("dominant: CAN-H minus CAN-L at least (50 to 65 Ω)", DIFFERENCE_V[0], "V", SHEET),
    Limit("dominant: CAN-H minus CAN-L at most (50 to 65 Ω)", DIFFERENCE_V[1], "V", SHEET),
    Limit("dominant: CAN-H at least", HIGH_DOMINANT_V[0], "V", SHEET),
    Limit("dominant: CAN-H at most", HIGH_DOMINANT_V[1], "V", SHEET),
    Limit("dominant: CAN-L at least", LOW_DOMINANT_V[0], "V", SHEET),
    Limit("dominant: CAN-L at most", LOW_DOMINANT_V[1], "V", SHEET),
    Limit("recessive: each wire at least", RECESSIVE_V[0], "V", SHEET),
    Limit("recessive: each wire at most", RECESSIVE_V[1], "V", SHEET),
    Limit("sum of both wires at least", SYMMETRY[0], "× transceivers' supply", SHEET),
    Limit("sum of both wires at most", SYMMETRY[1], "× transceivers' supply", SHEET),
    Limit("termination across the pair, power off", 60.0, "Ω", "two of 120 Ω: ISO 11898-2"),
)

TRANSCEIVER_SUPPLY: Final = Setting(
    "transceiver supply",
    "supply of the transceivers",
    "V",
    5.0,
    "typical value of data sheets, from memory",
    lowest=3.0,
    highest=5.5,
    hint="The sum of both wires is held against it.",
)
SETTINGS: Final = (TRANSCEIVER_SUPPLY,)

SOUND_OHM: Final = 60.0
SOURCE_V: Final = (2.6, 3.0, 3.6)
"""A driver's two stages as one source between the wires: least, usual and greatest (common practice, no source)."""
DRIVER_OHM: Final = (20.0, 30.0, 44.0)
"""The resistance behind it: 3.0 V behind 30 Ω give the usual 2.0 V at 60 Ω (common practice, no source)."""
METER_V: Final = 0.05
"""Levels nearer to a limit than this may be the instrument's offset and gain."""
