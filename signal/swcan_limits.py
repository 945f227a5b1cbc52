"""Limits of single-wire CAN with their sources, and those that a person may change."""

from loomlight.signal.finding import Limit
from loomlight.signal.setting import PRACTICE, Setting

LEVEL_SOURCE = "SAE J2411, levels of 0 V and 4 V by a secondary account; the figure from memory"
MEMORY = "SAE J2411, from memory"
RATE_SOURCE = "SAE J2411, by an industry association's account: 33.3 kbit/s, 83.3 kbit/s for download"

NORMAL_RATES = (33_333.0, 83_333.0)
WAKE_FROM_V = 6.5
"""Above this a frame is sent at the wake level: a normal one never gets there."""

NORMAL_LOW = Setting("normal-low", "normal level at least", "V", 3.4, LEVEL_SOURCE, 1.0, 6.0)
NORMAL_HIGH = Setting("normal-high", "normal level at most", "V", 5.2, LEVEL_SOURCE, 3.0, 7.0)
REST = Setting("rest", "recessive level at most", "V", 0.6, PRACTICE, 0.05, 2.0)
THRESHOLD = Setting("threshold", "a receiver takes it for dominant above", "V", 2.1, MEMORY, 1.0, 4.0)
WAKE = Setting("wake", "wake level at least", "V", 9.9, MEMORY, 6.5, 30.0)
WAKE_DROP = Setting(
    "wake-drop",
    "or below the supply by at most",
    "V",
    1.5,
    MEMORY,
    0.1,
    6.0,
    "A low battery allows a wake level below its fixed limit.",
)
TAU = Setting("time-constant", "time constant of a fall at most", "s", 5e-6, MEMORY, 1e-7, 1e-3, "At 33.3 kbit/s.")
CLOCK = Setting("clock", "a bit rate is off by at most", "", 0.005, MEMORY, 1e-4, 0.1)
RATE = Setting("bit-rate", "bit rate", "bit/s", None, f"found from the capture; {RATE_SOURCE}", 1e3, 1e6)
SETTINGS = (NORMAL_LOW, NORMAL_HIGH, REST, THRESHOLD, WAKE, WAKE_DROP, TAU, CLOCK, RATE)

LIMITS = (
    Limit("normal level at least", 3.4, "V", LEVEL_SOURCE),
    Limit("normal level at most", 5.2, "V", LEVEL_SOURCE),
    Limit("recessive level at most", 0.6, "V", PRACTICE),
    Limit("a receiver takes it for dominant above", 2.1, "V", MEMORY),
    Limit("wake level at least", 9.9, "V", MEMORY),
    Limit("usual bit rate", 33_333.0, "bit/s", RATE_SOURCE),
    Limit("bit rate for download", 83_333.0, "bit/s", RATE_SOURCE),
    Limit("nodes at most", 32.0, "", RATE_SOURCE),
)
