"""What a supply rail has to keep, for 12 V and 24 V, and what a person may change."""

from dataclasses import dataclass

from loomlight.signal.beside import Role
from loomlight.signal.cautions import HIGH_VOLTAGE, MAKER_FIRST, RUNNING_ENGINE
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Limit
from loomlight.signal.power_system import SYSTEM
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import PRACTICE, Setting

LOWEST = Setting(
    "lowest",
    "lowest working voltage",
    "V",
    None,
    "9 V (24 V vehicles: 16 V): ISO 16750-2 supply codes C and F, from memory",
    lowest=1.0,
    highest=36.0,
    hint="Below it the supply is too low, or dips.",
)
HIGHEST = Setting(
    "highest",
    "highest working voltage",
    "V",
    None,
    "16 V (24 V vehicles: 32 V): ISO 16750-2 supply codes A to D and E to G; 12 V as printed in a test generator's settings",
    lowest=5.0,
    highest=60.0,
    hint="Above it the supply is too high, or shows a transient.",
)
PEAK = Setting(
    "peak",
    "highest voltage for a moment",
    "V",
    None,
    "24 V (24 V vehicles: 36 V): ISO 16750-2, jump start; from memory",
    lowest=10.0,
    highest=200.0,
    hint="A transient above it is severe.",
)
REVERSE = Setting(
    "reverse",
    "lowest voltage for a moment",
    "V",
    -1.0,
    "ISO 16750-2, ground and supply offset ±1.0 V; from memory",
    lowest=-200.0,
    highest=0.0,
    hint="A transient below it is severe: the supply was reversed.",
)
RIPPLE = Setting(
    "ripple",
    "most ripple, peak to peak",
    "V",
    None,
    "1 V (24 V vehicles: 2 V): ISO 16750-2, superimposed alternating voltage, severity 1, from memory; twice that is "
    + PRACTICE,
    lowest=0.01,
    highest=20.0,
    hint="What moves faster than 50 Hz.",
)
START_LEVEL = Setting(
    "start-level",
    "start profile level that the unit was made for",
    "",
    None,
    "ISO 16750-2, levels I to IV as 1 to 4; the unit's maker says which",
    lowest=1.0,
    highest=4.0,
    hint="Without it a dip within some level, but not the mildest, is left open.",
)
DROP = Setting(
    "drop",
    "most voltage drop to the far end",
    "V",
    0.5,
    PRACTICE,
    lowest=0.01,
    highest=20.0,
    hint="Common practice: a ground path 0.2 V, a switch 0.3 V, one joint 0.1 V, a starter cable 0.5 V.",
)
SETTINGS = (SYSTEM, LOWEST, HIGHEST, PEAK, REVERSE, RIPPLE, START_LEVEL, DROP)

FAR_END = Role("far end", "the other end of the same supply wire", "V", "The voltage drop along the wire.")
CURRENT = Role("current", "current in the same wire", "A", "The resistance that makes the drop.")

LIMITS = (
    Limit("lowest working voltage, 12 V (24 V: 16 V)", 9.0, "V", "ISO 16750-2 supply code C (24 V: F), from memory"),
    Limit("highest working voltage, 12 V (24 V: 32 V)", 16.0, "V", "ISO 16750-2:2012 item 4.2, supply code A"),
    Limit("highest voltage for a moment, 12 V (24 V: 36 V)", 24.0, "V", "ISO 16750-2, jump start; from memory"),
    Limit("lowest voltage for a moment", -1.0, "V", "ISO 16750-2, ground and supply offset; from memory"),
    Limit("ripple, peak to peak, 12 V (24 V: 2 V)", 1.0, "V", "ISO 16750-2, severity 1; from memory"),
    Limit("start profile level I, lowest", 8.0, "V", "ISO 16750-2:2003 item 4.5.3"),
    Limit("start profile level II, lowest", 4.5, "V", "ISO 16750-2; from memory"),
    Limit("start profile level III, lowest", 3.0, "V", "ISO 16750-2; from memory"),
    Limit("start profile level IV, lowest", 6.0, "V", "ISO 16750-2; from memory"),
    Limit("voltage drop to the far end", 0.5, "V", PRACTICE),
)

CAUTIONS = (
    MAKER_FIRST,
    HIGH_VOLTAGE,
    "A battery gives off hydrogen: no sparks or flame near it, no rings or watch, eye protection, insulated tools.",
    "Never disconnect the battery while the engine runs: the load dump can destroy control units.",
    "Transients can exceed the instrument's input limit: use a ×10 probe or an attenuator; a mains instrument's ground is earth.",
    RUNNING_ENGINE,
)

RECIPE = Recipe(
    length_s=5.0,
    samples_per_s=100_000.0,
    coupling="DC, ×10 probe, range to 50 V",
    where="At the control unit's supply pin against its own ground pin, under load; for the drop a second channel at battery "
    "positive, and a current clamp around the supply wire.",
    switched_on="The load that the wire feeds, and a start of the engine where dips are looked for.",
    notes=(
        "Transients of 50 µs need 1 million samples a second or more, bursts 50 million.",
        "Zero the clamp first; put it around one wire only, its arrow along the current.",
        "Where the fault comes and goes, record longer and move the loom meanwhile.",
    ),
)


@dataclass(frozen=True)
class SupplyLimits:
    """What holds for this vehicle, volts; ``start_level`` is the name of a start profile level or empty."""

    system_v: float
    lowest_v: float
    highest_v: float
    peak_v: float
    reverse_v: float
    ripple_v: float
    drop_v: float
    start_level: str


def limits_for(system_v: float, conditions: Conditions) -> SupplyLimits:
    """Limits as given, else as usual in a 12 V or 24 V vehicle."""
    is_24 = system_v > 18.0
    level = conditions.figure(START_LEVEL)
    return SupplyLimits(
        system_v,
        conditions.figure_or(LOWEST, 16.0 if is_24 else 9.0),
        conditions.figure_or(HIGHEST, 32.0 if is_24 else 16.0),
        conditions.figure_or(PEAK, 36.0 if is_24 else 24.0),
        conditions.figure_or(REVERSE, -1.0),
        conditions.figure_or(RIPPLE, 2.0 if is_24 else 1.0),
        conditions.figure_or(DROP, 0.5),
        ("", "I", "II", "III", "IV")[round(level)] if level is not None else "",
    )
