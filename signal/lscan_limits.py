"""Limits of low-speed fault-tolerant CAN with their sources, and those that a person may change."""

from loomlight.signal.finding import Limit
from loomlight.signal.setting import PRACTICE, Setting

SHEET = "ISO 11898-3 as a transceiver's data sheet prints it, at 5 V"
MEMORY = "ISO 11898-3, from memory"

HIGH, LOW = "CANH", "CANL"
HIGH_REST_V, LOW_REST_BELOW_V = 0.2, 0.2
HIGH_DOMINANT_BELOW_V, LOW_DOMINANT_V = 1.4, 1.4
ONE_WIRE_HIGH_V, ONE_WIRE_LOW_V = 1.7, 3.3
DIFFERENCE_V = -3.2
BATTERY_V = 6.5
"""A CANL above this is taken for one that is tied to battery (the detector of a transceiver: 6.5 to 8.0 V)."""
MOST_RATE = 125_000.0

SUPPLY = Setting("supply-5v", "supply of the transceivers", "V", 5.0, SHEET, 4.0, 6.0, "Levels are held against it.")
CLOCK = Setting("clock", "a bit rate is off by at most", "", 0.005, PRACTICE, 1e-4, 0.1)
RATE = Setting(
    "bit-rate",
    "bit rate",
    "bit/s",
    None,
    "found from the capture; at most 125 kbit/s in ISO 11898-3 (from memory)",
    5e3,
    2e5,
)
BACK = Setting("back", "time constant of the way back to recessive at most", "× bit", 0.2, PRACTICE, 0.01, 1.0)
SETTINGS = (SUPPLY, CLOCK, RATE, BACK)

LIMITS = (
    Limit("CANH recessive at most", HIGH_REST_V, "V", SHEET),
    Limit("CANL recessive below the supply by at most", LOW_REST_BELOW_V, "V", SHEET),
    Limit("CANH dominant below the supply by at most", HIGH_DOMINANT_BELOW_V, "V", SHEET),
    Limit("CANL dominant at most", LOW_DOMINANT_V, "V", SHEET),
    Limit("difference CANH less CANL counts as dominant above", DIFFERENCE_V, "V", SHEET),
    Limit("on CANH alone dominant above", ONE_WIRE_HIGH_V, "V", SHEET),
    Limit("on CANL alone dominant below", ONE_WIRE_LOW_V, "V", SHEET),
    Limit("CANL is taken for tied to battery above", BATTERY_V, "V", SHEET),
    Limit("highest bit rate", MOST_RATE, "bit/s", MEMORY),
)
