"""What the verdict on a coil is made from, and the resistance and inductance that follow."""

from dataclasses import dataclass

from loomlight.signal.capture import Channel
from loomlight.signal.coil_current import CurrentReading
from loomlight.signal.coil_fit import Interval, henries_of, ohms_of
from loomlight.signal.coil_voltage import VoltageReading
from loomlight.signal.examination import Conditions, Doubt
from loomlight.signal.quantity import in_words

USUAL_SUPPLY_V = 13.2
SUPPLY_DOUBT = 0.1


@dataclass(frozen=True)
class CoilSide:
    """One examined channel, as current or as voltage.

    Attributes
    ----------
    channel : Channel
        As recorded.
    current, voltage : CurrentReading, VoltageReading or None
        One of them.
    across_v : float or None
        Volts across the coil, measured beside the current.
    """

    channel: Channel
    current: CurrentReading | None
    voltage: VoltageReading | None
    across_v: float | None

    @property
    def has_pulses(self) -> bool:
        """Whether at least two pulses were seen."""
        if self.current is not None:
            return self.current.starts_s.size >= 2
        return self.voltage is not None and self.voltage.starts_s.size >= 2


@dataclass(frozen=True)
class CoilCase:
    """All that the verdict is made from; ``worked_beside`` says why current must have flowed."""

    own: CoilSide
    good: CoilSide | None
    conditions: Conditions
    doubts: tuple[Doubt, ...]
    worked_beside: str


def across(side: CoilSide, conditions: Conditions) -> tuple[float, bool, str]:
    """Volts across coil, wires and switch, whether measured, and how that is known."""
    if side.across_v is not None:
        return side.across_v, True, "measured beside it"
    if conditions.supply_v is not None:
        return conditions.supply_v, False, "the supply that was given, 0 to 1 V left by the switch"
    return USUAL_SUPPLY_V, False, f"{USUAL_SUPPLY_V:g} V assumed, 0 to 1 V left by the switch"


def resistance(side: CoilSide, conditions: Conditions) -> Interval | None:
    """Ohms of coil, wires and switch."""
    if side.current is None or side.current.fit is None:
        return None
    volts, measured, _ = across(side, conditions)
    return _doubtful(ohms_of(side.current.fit, volts, measured=measured), side, conditions)


def inductance(side: CoilSide, conditions: Conditions) -> Interval | None:
    """Henries at the switching on."""
    if side.current is None or side.current.fit is None:
        return None
    volts, measured, _ = across(side, conditions)
    return _doubtful(henries_of(side.current.fit, volts, measured=measured), side, conditions)


def _doubtful(one: Interval, side: CoilSide, conditions: Conditions) -> Interval:
    """Wider where not even the supply is known."""
    if side.across_v is not None or conditions.supply_v is not None:
        return one
    high = None if one.high is None else one.high * (1 + SUPPLY_DOUBT)
    return Interval(one.value, one.low * (1 - SUPPLY_DOUBT), high)


def ohms_words(ohms: Interval) -> str:
    """A resistance with its interval."""
    high = in_words(ohms.high, "Ω") if ohms.high is not None else "no upper bound"
    return f"{in_words(ohms.value, 'Ω')} ({in_words(ohms.low, 'Ω')} to {high})"
