"""Limits of a SENT line with their sources, and those that a person may change."""

from loomlight.signal.finding import Limit
from loomlight.signal.setting import Setting

LEVEL_SOURCE = "SAE J2716, by a public encyclopaedia"
TICK_SOURCE = "SAE J2716, by a controller's reference manual"
MEMORY = "SAE J2716, from memory"

LOW_V, HIGH_V = 0.5, 4.1
SHORTEST_TICK_S, LONGEST_TICK_S, TICK_SLACK = 3e-6, 90e-6, 0.20
EDGE_LOW_V, EDGE_HIGH_V = 1.1, 3.8

TICK = Setting(
    "tick",
    "tick that the sensor's data sheet names",
    "s",
    None,
    "found from the capture; 3 to 90 µs in SAE J2716",
    1e-6,
    200e-6,
    "Without it only the range of 3 to 90 µs can be held against the tick.",
)
FALL = Setting("fall-time", "a fall from 3.8 V to 1.1 V takes at most", "s", 6.5e-6, MEMORY, 1e-7, 1e-3)
RISE = Setting("rise-time", "a rise from 1.1 V to 3.8 V takes at most", "s", 18e-6, MEMORY, 1e-7, 1e-3)
DRIFT = Setting("sync-drift", "one sync pulse differs from the next by at most", "", 1.0 / 64.0, MEMORY, 1e-4, 0.5)
SETTINGS = (TICK, FALL, RISE, DRIFT)

LIMITS = (
    Limit("low level at most", LOW_V, "V", LEVEL_SOURCE),
    Limit("high level at least", HIGH_V, "V", LEVEL_SOURCE),
    Limit("tick at least", SHORTEST_TICK_S, "s", TICK_SOURCE),
    Limit("tick at most", LONGEST_TICK_S, "s", TICK_SOURCE),
    Limit("tick off its nominal by at most", TICK_SLACK, "× nominal", TICK_SOURCE),
    Limit("low part of a pulse at least", 5.0, "ticks", TICK_SOURCE),
    Limit("pause at least", 12.0, "ticks", TICK_SOURCE),
    Limit("pause at most", 768.0, "ticks", TICK_SOURCE),
    Limit("fall from 3.8 V to 1.1 V at most", 6.5e-6, "s", MEMORY),
    Limit("rise from 1.1 V to 3.8 V at most", 18e-6, "s", MEMORY),
    Limit("one sync pulse differs from the next by at most", 1.0 / 64.0, "× the other", MEMORY),
)
