"""What a person may say about a wheel speed sensor."""

from loomlight.signal.setting import Setting

SHEET = "a rotational speed sensor's data sheet"

SHUNT = Setting(
    "shunt",
    "resistance that the volts were measured across",
    "Ω",
    None,
    "none given: volts are then judged by their ratio only; 75 and 115 Ω are usual (from memory)",
    0.1,
    10_000.0,
    "The control unit's own shunt, or one put into the line.",
)
POLES = Setting(
    "poles",
    "speed pulses a turn of the wheel",
    "",
    None,
    "not known: missing pulses are then not told by their place",
    4,
    200,
    "43 to 52 are usual on a magnet ring in the bearing's seal.",
)
LOW_LEAST = Setting("low_least", "lower current at least", "A", 5.88e-3, SHEET, 0.0, 0.1, "7 mA less 16 %.")
LOW_MOST = Setting("low_most", "lower current at most", "A", 8.4e-3, SHEET, 0.0, 0.1, "7 mA and 20 %.")
HIGH_LEAST = Setting("high_least", "upper current at least", "A", 11.7e-3, SHEET, 0.0, 0.1, "14 mA less 16 %.")
HIGH_MOST = Setting("high_most", "upper current at most", "A", 16.8e-3, SHEET, 0.0, 0.1, "14 mA and 20 %.")
PEAK_LEAST = Setting(
    "peak_least", "speed pulse of the third level at least", "A", 23.5e-3, SHEET, 0.0, 0.2, "28 mA less 16 %."
)
PEAK_MOST = Setting(
    "peak_most", "speed pulse of the third level at most", "A", 33.6e-3, SHEET, 0.0, 0.2, "28 mA and 20 %."
)
SETTINGS = (SHUNT, POLES, LOW_LEAST, LOW_MOST, HIGH_LEAST, HIGH_MOST, PEAK_LEAST, PEAK_MOST)
