"""Limits of a K-line with their sources, and those that a person may change."""

from loomlight.signal.finding import Limit
from loomlight.signal.setting import Setting

TESTER_SOURCE = "ISO 14230-1:2012, 8.2.2"
CLOCK_SOURCE = "ISO 14230-1:2012, 8.2.3"
SHIFT_SOURCE = "ISO 14230-1:2012, 8.2.4"
MEMORY = "ISO 9141-2 and ISO 14230-1, from memory"

TESTER_LOW_SHARE, TESTER_HIGH_SHARE = 0.10, 0.90
CLOCK_SHARE = 0.01
"""A bit rate may be off by 0.5 %, by 1 % where it is measured."""
UART_SHARE = 0.03
"""Beyond this the last bit of a byte is read from its neighbour by a clock that is off the other way (10 bits, half a bit)."""
SHIFT_SHARE = 0.30

SENDER_LOW = Setting("sender-low", "a unit brings the line to or below", "× supply", 0.20, MEMORY, 0.01, 0.6)
SENDER_HIGH = Setting("sender-high", "the resting line reaches at least", "× supply", 0.80, MEMORY, 0.3, 1.0)
RECEIVER_LOW = Setting("receiver-low", "a receiver takes it for low at or below", "× supply", 0.30, MEMORY, 0.05, 0.6)
RECEIVER_HIGH = Setting(
    "receiver-high", "a receiver takes it for high at or above", "× supply", 0.70, MEMORY, 0.3, 0.95
)
PULL_UP = Setting(
    "pull-up",
    "pull-up at the tester",
    "Ω",
    None,
    "510 Ω, at 24 V 1 kΩ: ISO 14230-1:2012, 8.2.2",
    50.0,
    100e3,
    "Where another tester pulls the line up: resistances are worked out from it.",
)
RATE = Setting(
    "bit-rate",
    "bit rate",
    "bit/s",
    None,
    "found from the capture; 10.4 kbit/s in ISO 14230-2",
    900.0,
    130e3,
    "Where the maker names another one: what is measured is held against it.",
)
FAST = Setting("fast-half", "fast opening: low for", "s", 25e-3, "ISO 14230-2, from memory", 5e-3, 0.1)
FAST_WHOLE = Setting(
    "fast-whole", "fast opening: low and high together", "s", 50e-3, "ISO 14230-2, from memory", 1e-2, 0.2
)
FAST_SLACK = Setting("fast-slack", "fast opening may be off by", "s", 1e-3, "ISO 14230-2, from memory", 0.0, 0.02)
SETTINGS = (SENDER_LOW, SENDER_HIGH, RECEIVER_LOW, RECEIVER_HIGH, PULL_UP, RATE, FAST, FAST_WHOLE, FAST_SLACK)

LIMITS = (
    Limit("a tester brings the line to or below", TESTER_LOW_SHARE, "× supply", TESTER_SOURCE),
    Limit("a tester lets the line rise to at least", TESTER_HIGH_SHARE, "× supply", TESTER_SOURCE),
    Limit("a unit brings the line to or below", 0.20, "× supply", MEMORY),
    Limit("a unit lets the line rise to at least", 0.80, "× supply", MEMORY),
    Limit("a receiver takes it for low at or below", 0.30, "× supply", MEMORY),
    Limit("a receiver takes it for high at or above", 0.70, "× supply", MEMORY),
    Limit("a bit rate is off by at most", CLOCK_SHARE, "× nominal", CLOCK_SOURCE),
    Limit("an edge comes late by at most", SHIFT_SHARE, "× bit", SHIFT_SOURCE),
)
