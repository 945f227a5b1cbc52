"""What battery, leads, starter and engine have to keep while the engine is cranked, and what a person may change."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal.beside import Role
from loomlight.signal.cautions import INPUT_LIMIT, MAKER_FIRST
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Limit
from loomlight.signal.power_system import SYSTEM
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import PRACTICE, Setting

BCI = "Battery Council International, open-circuit voltage by state of charge at 26.7 °C: 12.24 V at 50 %"
GUIDE = "a trade guide: 9.7 V warm; 9.6 V from memory"
COLD_V = ((-18.0, 8.5), (-12.0, 8.7), (-7.0, 8.9), (-1.0, 9.1), (4.0, 9.3), (10.0, 9.4), (16.0, 9.5), (21.0, 9.6))
"""Least voltage of a 12 V battery under load by its temperature in °C; load test table from memory."""

CYLINDERS = Setting(
    "cylinders",
    "cylinders",
    "",
    None,
    "what the engine has; with a sync mark each cam turn it is counted",
    lowest=1.0,
    highest=16.0,
    hint="Four-stroke: half of them push back each turn. Needed for the engine's speed and for cylinder against cylinder.",
)
REST = Setting(
    "rest",
    "least battery voltage at rest",
    "V",
    None,
    f"12.2 V (24 V vehicles: 24.4 V): {BCI}",
    lowest=5.0,
    highest=30.0,
    hint="Below it the battery is charged first. AGM and gel batteries read 0.1 to 0.2 V higher.",
)
LOWEST = Setting(
    "lowest",
    "least battery voltage while the starter turns",
    "V",
    None,
    f"9.6 V (24 V vehicles: 19.2 V): {GUIDE}",
    lowest=3.0,
    highest=25.0,
    hint="The mean while it turns, not the first dip.",
)
SPEED = Setting(
    "speed",
    "least cranking speed",
    "rpm",
    120.0,
    PRACTICE,
    lowest=20.0,
    highest=600.0,
    hint="Warm engine; the vehicle's maker gives its own.",
)
WEAK = Setting(
    "weak",
    "a cylinder is weak below this share of the others",
    "",
    0.75,
    f"20 to 25 % apart: {PRACTICE}",
    lowest=0.1,
    highest=0.98,
    hint="Of the pulse that each compression makes in current or voltage.",
)
DROP = Setting(
    "drop",
    "most voltage drop from battery to starter",
    "V",
    None,
    "0.5 V (24 V vehicles: 1 V): a study guide on voltage drop tests, starter cable",
    lowest=0.05,
    highest=5.0,
    hint="While it turns, with the far end recorded.",
)
TEMPERATURE = Setting(
    "temperature",
    "temperature of the battery",
    "°C",
    None,
    "lowers the least voltage as a load test's table does (from memory)",
    lowest=-40.0,
    highest=80.0,
    hint="A cold battery gives less.",
)
SETTINGS = (SYSTEM, CYLINDERS, REST, LOWEST, SPEED, WEAK, DROP, TEMPERATURE)

CURRENT = Role("current", "current of the starter (clamp)", "A", "Compression by current, and resistances.")
FAR_END = Role("far end", "voltage at the starter's terminal", "V", "The drop along the cable.")
SYNC = Role(
    "sync",
    "a mark once each turn of the cam",
    "V",
    "Which compression is the weak one: a cam, injector or coil signal.",
)

LIMITS = (
    Limit("battery voltage at rest, 12 V (24 V: 24.4 V)", 12.2, "V", BCI),
    Limit("battery voltage while the starter turns, 12 V (24 V: 19.2 V)", 9.6, "V", GUIDE),
    Limit(
        "cold test, -18 °C, after 30 s at the rated current", 7.2, "V", "SAE, as a battery maker's lexicon prints it"
    ),
    Limit("cold test, -18 °C, after 10 s at the rated current", 7.5, "V", "EN, as a battery maker's lexicon prints it"),
    Limit("voltage drop along the starter's cable", 0.5, "V", "a study guide on voltage drop tests"),
    Limit("cranking speed", 120.0, "rpm", PRACTICE),
    Limit("weakest cylinder against the others", 0.75, "×", PRACTICE),
)

CAUTIONS = (
    MAKER_FIRST,
    "Out of gear, brake on, nobody in front of the vehicle: it may move, and the engine may start.",
    "Keep leads, sleeves and clamp off belts and fans; a fan can start by itself.",
    "Stop fuel and ignition only in the way the maker gives; never pull a plug lead: its voltage is tens of kilovolts.",
    "A battery gives off hydrogen: no sparks or flame, no rings or watch, eye protection, insulated tools.",
    "Crank for 10 s at most and let the starter cool; the clamp goes on with the key off, its jaws away from battery positive.",
    INPUT_LIMIT,
)

RECIPE = Recipe(
    length_s=6.0,
    samples_per_s=10_000.0,
    coupling="DC, range to 20 V (24 V vehicles: 40 V); clamp to 1000 A",
    where="Battery voltage at the lead posts; the clamp around the whole positive or negative lead of the battery.",
    switched_on="Fuel or ignition stopped the maker's way, throttle open, all loads off; crank for 4 s.",
    notes=(
        "Begin to record half a second before the key is turned: the voltage at rest is needed.",
        "A mark once a cam turn on a third channel (cam sensor, or the first injector or coil) tells which cylinder it is.",
        "Five turns of the cam or more: 3 s at 200 rpm.",
    ),
)


@dataclass(frozen=True)
class CrankingLimits:
    """What holds for this vehicle."""

    system_v: float
    rest_v: float
    lowest_v: float
    rpm: float
    weak: float
    drop_v: float
    cylinders: int | None

    @property
    def twelves(self) -> float:
        """1 for 12 V, 2 for 24 V."""
        return self.system_v / 12.0


def limits_for(system_v: float, conditions: Conditions) -> CrankingLimits:
    """Limits as given, else as usual in a 12 V or 24 V vehicle, lower for a cold battery."""
    k = system_v / 12.0
    temperature = conditions.figure(TEMPERATURE)
    at_c, least_v = zip(*COLD_V, strict=True)
    lowest = 9.6 if temperature is None else float(np.interp(temperature, at_c, least_v))
    cylinders = conditions.figure(CYLINDERS)
    return CrankingLimits(
        system_v,
        conditions.figure_or(REST, 12.2 * k),
        conditions.figure_or(LOWEST, lowest * k),
        conditions.figure_or(SPEED, 120.0),
        conditions.figure_or(WEAK, 0.75),
        conditions.figure_or(DROP, 0.5 * k),
        None if cylinders is None else round(cylinders),
    )
