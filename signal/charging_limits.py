"""What a charged battery has to keep, for 12 V and 24 V, and what a person may change."""

from dataclasses import dataclass

from loomlight.signal.beside import Role
from loomlight.signal.cautions import INPUT_LIMIT, MAKER_FIRST
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Limit
from loomlight.signal.power_system import SYSTEM
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import PRACTICE, Setting

GUIDE = "trade guides on charging systems"
AT_C = 25.0
"""Temperature that the limits hold for."""
COLDER_V = 0.01
"""Volts more for each degree colder (an engine maker's manual: about 0.1 V for 10 °C), for each 12 V."""

HIGHEST = Setting(
    "highest",
    "highest charging voltage",
    "V",
    None,
    f"15.5 V (24 V vehicles: 31 V): {GUIDE}",
    lowest=10.0,
    highest=60.0,
    hint="Above it the regulator is at fault.",
)
LOWEST = Setting(
    "lowest",
    "lowest charging voltage, engine above idle",
    "V",
    None,
    f"13.2 V (24 V vehicles: 26.4 V): {GUIDE}",
    lowest=5.0,
    highest=60.0,
    hint="Below it the battery is not filled; a controlled alternator goes lower on purpose.",
)
RIPPLE = Setting(
    "ripple",
    "most ripple at the battery, peak to peak",
    "V",
    None,
    f"0.5 V (24 V vehicles: 1 V): {PRACTICE}; {GUIDE} give less than 0.5 V on AC volts",
    lowest=0.01,
    highest=20.0,
    hint="Under load, on the lead posts.",
)
CONTROLLED = Setting(
    "controlled",
    "the control unit sets the charging voltage: 1 yes, 0 no",
    "",
    None,
    "what the vehicle's wiring shows; not assumed where it is not given",
    lowest=0.0,
    highest=1.0,
    hint="A controlled one moves between about 12.2 and 15 V on purpose.",
)
FALLBACK = Setting(
    "fallback",
    "value of a controlled alternator that has lost its command",
    "V",
    None,
    f"14.4 V (24 V vehicles: 28.8 V): {PRACTICE}",
    lowest=10.0,
    highest=40.0,
    hint="Standing still there means the command is missing.",
)
ENGINE = Setting(
    "engine-rpm",
    "engine speed while it was recorded",
    "rpm",
    None,
    "read from the dash or the scan tool",
    lowest=100.0,
    highest=10_000.0,
    hint="Tells a lost phase from a sound ripple by its frequency.",
)
PERIODS = Setting(
    "periods",
    "electrical periods of the alternator a turn of the engine",
    "",
    16.0,
    f"6 to 8 pole pairs times pulleys of 2 to 3: {PRACTICE}",
    lowest=2.0,
    highest=80.0,
    hint="Pole pairs times engine pulley over alternator pulley.",
)
TEMPERATURE = Setting(
    "temperature",
    "temperature at the battery",
    "°C",
    None,
    "the colder, the higher the charging voltage: about 0.1 V for 10 °C (an engine maker's manual)",
    lowest=-50.0,
    highest=120.0,
    hint="Moves the limits with it.",
)
SETTINGS = (SYSTEM, LOWEST, HIGHEST, RIPPLE, CONTROLLED, FALLBACK, ENGINE, PERIODS, TEMPERATURE)
CURRENT = Role("current", "current into the battery", "A", "Whether it is charged, and how much.")

LIMITS = (
    Limit("lowest charging voltage, 12 V (24 V: 26.4 V)", 13.2, "V", GUIDE),
    Limit("highest charging voltage, 12 V (24 V: 31 V)", 15.5, "V", GUIDE),
    Limit("ripple at the battery, peak to peak, 12 V (24 V: 1 V)", 0.5, "V", PRACTICE),
    Limit("ripple on AC volts, 12 V (24 V: 1 V)", 0.5, "V", GUIDE),
    Limit("fixed value of a controlled alternator without its command", 14.4, "V", PRACTICE),
)

CAUTIONS = (
    MAKER_FIRST,
    "Never probe high-voltage wiring of hybrid or electric vehicles (usually orange): there a converter charges the battery.",
    "Running engine: keep leads, sleeves and clamp off belts, pulleys and fans; a fan can start by itself. Exhaust outside.",
    "A battery gives off hydrogen while it charges: no sparks or flame, no rings or watch, eye protection, insulated tools.",
    "Never disconnect the battery or the alternator's wire while the engine runs: the load dump can destroy control units.",
    "Put the clamp on with the engine off; its jaws must not short battery positive to the body.",
    INPUT_LIMIT,
)

RECIPE = Recipe(
    length_s=2.0,
    samples_per_s=100_000.0,
    coupling="DC, range to 20 V (24 V vehicles: 40 V)",
    where="At the battery's terminals, on the lead posts themselves; a clamp around the battery's wire if there is one.",
    switched_on="Engine running above idle, warm; blower, rear window and headlights on, one of them switched while it records.",
    notes=(
        "50 000 samples a second or more show the ripple's shape; at fewer only its height is judged.",
        "To see whether a controlled alternator moves, record a second time: 30 s with revving, coasting and idling.",
        "A converter of 10 bits or more, or a range that just holds the voltage: the ripple is some tenths of a volt.",
        "Note the engine's speed: it tells a lost phase from a sound ripple.",
    ),
)


@dataclass(frozen=True)
class ChargingLimits:
    """What holds for this vehicle: volts, and what is known of it."""

    system_v: float
    lowest_v: float
    highest_v: float
    ripple_v: float
    fallback_v: float
    controlled: bool | None
    electrical_hz: float | None

    @property
    def twelves(self) -> float:
        """1 for 12 V, 2 for 24 V."""
        return self.system_v / 12.0


def limits_for(system_v: float, conditions: Conditions) -> ChargingLimits:
    """Limits as given, else as usual in a 12 V or 24 V vehicle, moved by the temperature where that is known."""
    k = system_v / 12.0
    temperature = conditions.figure(TEMPERATURE)
    colder = 0.0 if temperature is None else COLDER_V * k * (AT_C - temperature)
    controlled, rpm = conditions.figure(CONTROLLED), conditions.figure(ENGINE)
    return ChargingLimits(
        system_v,
        conditions.figure_or(LOWEST, 13.2 * k + min(colder, 0.0)),
        conditions.figure_or(HIGHEST, 15.5 * k + max(colder, 0.0)),
        conditions.figure_or(RIPPLE, 0.5 * k),
        conditions.figure_or(FALLBACK, 14.4 * k),
        None if controlled is None else controlled >= 0.5,
        None if rpm is None else rpm / 60.0 * conditions.figure_or(PERIODS, 16.0),
    )
