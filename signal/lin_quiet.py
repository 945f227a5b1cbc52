"""A LIN line on which nothing talks: open, short, asleep, or a probe that does not touch."""

from loomlight.signal.examination import Conditions
from loomlight.signal.lin_examination import SUPPLY_DIODE_V, LineReading
from loomlight.signal.line_verdicts import unsure
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import COMMANDER_SIDE, leak_beside
from loomlight.signal.verdict import Verdict

NOTHING_V = 0.3
"""Below this a flat line reads nothing."""
BATTERY_V = 0.35
"""A line this close to the battery's own voltage is tied to it: a healthy one rests two diode drops lower."""


def judge_quiet(suspect: LineReading, good: LineReading | None, conditions: Conditions) -> Verdict:
    """Say what a flat suspect means.

    Where the known-good on the same bus still talks, a flat suspect is never a short on that wire, which would silence both.
    """
    if suspect.levels is None:
        return unsure("No sample of the suspect is a number.", "Repeat the capture.")
    volts = suspect.levels.high
    talks = good is not None and not good.is_flat
    if talks and conditions.same_moment:
        assert good is not None
        return _beside_a_talking_one(volts, good)
    if good is not None and conditions.same_moment:
        return _both_silent(volts, good, conditions)
    return _silent_alone(volts, good, conditions)


def _beside_a_talking_one(volts: float, good: LineReading) -> Verdict:
    resting_v = good.recessive_v or 0.0
    frames = len(good.received.frames) if good.received is not None else 0
    if volts > 0.5 * resting_v:
        return Verdict(
            "faulty",
            "open",
            (
                f"The suspect rests at {volts:.2f} V, at its own node's pull-up, and shows no header, while the known-good "
                f"on the same bus carries {frames} frames.",
                "A short on this wire would silence both; a probe that does not touch would read nothing. The wire is open "
                "between the two probe points.",
            ),
            next_step="Follow the wire between the two probe points: splices and connectors first, then the wire itself.",
            joint="between the probes",
            picture="open wire",
        )
    return unsure(
        f"The suspect is flat at {volts:.2f} V while the known-good on the same bus carries {frames} frames: an open wire "
        "with its node unpowered, or a probe that does not touch. It is no short on this wire, which would silence both.",
        "Check that the probe touches metal, then measure the node's supply and ground.",
    )


def _both_silent(volts: float, good: LineReading, conditions: Conditions) -> Verdict:
    other_v = good.levels.high if good.levels is not None else 0.0
    tied = _to_battery(min(volts, other_v), conditions)
    if tied is not None:
        return tied
    if conditions.supply_v is None:
        return unsure(
            f"Both channels are flat ({volts:.2f} V and {other_v:.2f} V) and the supply is not known: the bus may be asleep, "
            "unpowered or shorted.",
            "Switch the ignition on, give the supply voltage, and repeat the capture.",
        )
    expected_v = conditions.supply_v - 2 * SUPPLY_DIODE_V
    if volts < 0.6 * expected_v and other_v < 0.6 * expected_v:
        return _to_ground(max(volts, other_v), expected_v, "Both channels")
    return _asleep(volts, expected_v)


def _silent_alone(volts: float, good: LineReading | None, conditions: Conditions) -> Verdict:
    healthy_v = good.recessive_v if good is not None and not good.is_flat else None
    tied = _to_battery(volts, conditions)
    if tied is not None:
        return tied
    if volts < NOTHING_V:
        return unsure(
            f"The line is flat at {volts:.2f} V: a short to ground, an unpowered bus, or a probe that does not touch all "
            "look like this.",
            "Check that the probe touches metal and that the ignition is on; record a working node of the same bus together "
            "with this one.",
        )
    expected_v = conditions.supply_v - 2 * SUPPLY_DIODE_V if conditions.supply_v is not None else healthy_v
    if expected_v is not None and volts < 0.6 * expected_v:
        return _to_ground(volts, expected_v, "The line")
    return _asleep(volts, expected_v)


def _to_battery(volts: float, conditions: Conditions) -> Verdict | None:
    """A line at the battery's own voltage; only a supply measured on the day can tell, not another day's resting level."""
    if conditions.supply_v is None or abs(volts - conditions.supply_v) > BATTERY_V:
        return None
    return Verdict(
        "faulty",
        "short",
        (
            f"The line is flat at {volts:.2f} V, the supply itself ({conditions.supply_v:.2f} V); a healthy line rests about "
            "two diode drops below the supply.",
        ),
        next_step="Unplug the nodes one by one; if it stays, look along the loom for a chafe against a supply wire.",
        short_to="battery",
        picture="short to battery",
    )


def _to_ground(volts: float, expected_v: float, what: str) -> Verdict:
    ohms = leak_beside(max(volts, 0.0), top_v=expected_v, pull=COMMANDER_SIDE, doubt_v=0.4)
    return Verdict(
        "faulty",
        "short",
        (
            f"{what} cannot leave {volts:.2f} V although the pull-ups should bring the line to about {expected_v:.2f} V: a "
            f"path to ground of {in_words(ohms.low, 'Ω')} to {in_words(ohms.high, 'Ω')}.",
            "Assumed: the commander is powered and its pull-up is whole (900 to 1100 Ω).",
        ),
        next_step="Unplug the nodes one by one; where the level comes back, that node or its branch holds the line down.",
        short_to="ground",
        picture="short to ground",
    )


def _asleep(volts: float, expected_v: float | None) -> Verdict:
    beside = f" (about {expected_v:.2f} V expected)" if expected_v is not None else ""
    return unsure(
        f"The line rests at {volts:.2f} V{beside} and nothing talks: the bus is asleep, the commander does not send, or the wire "
        "to this pin is open.",
        "Switch the ignition on, work the function, and record a working node of the same bus together with this one.",
    )
