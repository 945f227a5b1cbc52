"""What can hurt or damage on most wires, one sentence each; a kind adds what only its own wire does."""

MAKER_FIRST = (
    "Follow the vehicle maker's procedure and local codes; leave work that needs a licence to those who hold one."
)
HIGH_VOLTAGE = (
    "Never probe high-voltage wiring of hybrid or electric vehicles (usually orange), "
    "nor airbag and belt-tensioner circuits."
)
BACK_PROBE = "Back-probe from the seal side with a thin blunt pin; do not pierce insulation or spread a terminal."
INPUT_LIMIT = (
    "Check the instrument's input limit; a mains instrument's ground lead is earth: clip it to battery negative only."
)
DATA_LINE = "Do not use a test lamp on a data line. Do not disconnect a battery while modules are awake."
RUNNING_ENGINE = "With the engine running keep leads and sleeves off belts and fans; a fan can start by itself."
WAKING = "Waking the bus may start motors, locks or fans by itself: keep hands and leads off what can move."

DATA_BUS = (MAKER_FIRST, HIGH_VOLTAGE, BACK_PROBE, INPUT_LIMIT, DATA_LINE)
"""On every bus between control units."""
