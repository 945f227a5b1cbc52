"""A SENT line that is silent or held: open, or tied to a rail."""

from loomlight.signal.line_verdicts import unsure
from loomlight.signal.quantity import in_words
from loomlight.signal.sent_findings import doubt_v
from loomlight.signal.sent_limits import LOW_V
from loomlight.signal.sent_reading import SentCase
from loomlight.signal.verdict import Verdict

ABOVE_V = 5.8
"""No sensor supplied with 5 V brings the line there."""
NOTHING_V = 0.3
RECEIVER_V = (4.3, 5.7)
"""Where a receiver's pull-up brings a line that nobody drives."""
HELD_V = 2.0
"""A high level below this is no weak sensor but a line that is held."""


def silent_line(case: SentCase) -> Verdict | None:
    """A line on which nothing is sent."""
    if not case.line.is_flat:
        return None
    volts = case.line.high_v
    good = case.good.line if case.good is not None and case.conditions.same_moment else None
    if volts > ABOVE_V:
        return _battery(f"The line is flat at {volts:.2f} V; a sensor on a 5 V supply leaves it between 0 V and 5 V.")
    if good is not None and not good.is_flat:
        if volts > NOTHING_V:
            return Verdict(
                "faulty",
                "open",
                (
                    f"The suspect is flat at {volts:.2f} V, where the receiver's pull-up brings it, while the "
                    f"known-good end of the wire carries {len(good.frames)} frames at the same time.",
                    "A short would silence both ends: the wire is open between the two probe points.",
                ),
                next_step="Follow the wire between the two probe points: connectors first, then the wire itself.",
                joint="between the probes",
                picture="wire open",
            )
        return unsure(
            f"The suspect is flat at {volts:.2f} V while the other end carries {len(good.frames)} frames: an open wire to a "
            "receiver without power, or a probe that does not touch.",
            "Check that the probe touches metal and that the receiver is powered, and repeat the capture.",
        )
    if volts < NOTHING_V:
        return unsure(
            f"The line is flat at {volts:.2f} V: a short to ground, a receiver without power, or a probe that does not touch.",
            "Check that the probe touches metal and the ignition is on; unplug the sensor: if the line then rises to "
            "5 V, the sensor or its branch holds it down.",
        )
    if RECEIVER_V[0] <= volts <= RECEIVER_V[1]:
        return unsure(
            f"The line is flat at {volts:.2f} V, where the receiver's pull-up brings it: nobody drives it. The wire "
            "to the sensor is open, the sensor lacks its supply or ground, or the line is shorted to the 5 V supply.",
            "Measure supply and ground at the sensor's plug, then record at the sensor's own pin: if it sends there, the wire "
            "between is open.",
        )
    return unsure(
        f"The line is flat at {volts:.2f} V, which is neither of its levels.",
        "Check the probe and the pin; unplug the sensor and see whether the line rises to 5 V.",
    )


def _battery(reason: str) -> Verdict:
    return Verdict(
        "faulty",
        "short",
        (
            reason,
            "Something brings the battery's voltage onto the wire; sensor and receiver may have been damaged by it.",
        ),
        next_step="Switch off first. Look for a chafe against a supply wire and a wrong plug; measure sensor and "
        "receiver only after the line is free.",
        short_to="battery",
        picture="short to battery",
    )


def held_line(case: SentCase) -> Verdict | None:
    """A line that moves, but out of the reach that a sensor has, or hardly at all."""
    line = case.line
    if line.high_v > ABOVE_V:
        return _battery(
            f"The line moves between {line.low_v:.2f} V and {line.high_v:.2f} V; a sensor on a 5 V supply leaves it "
            f"between 0 V and 5 V."
        )
    if line.high_v < HELD_V and line.low_v < LOW_V + doubt_v(line):
        ratio = line.high_v / max(5.0 - line.high_v, 0.1)
        low_ohm, high_ohm = 30.0 * ratio, 300.0 * ratio
        return Verdict(
            "faulty",
            "short",
            (
                f"The sensor sends, but the line gets no higher than {line.high_v:.2f} V: something holds it down.",
                f"Beside an output of 30 to 300 Ω (common practice, no source) that is {in_words(low_ohm, 'Ω', digits=2)} to "
                f"{in_words(high_ohm, 'Ω', digits=2)} to ground.",
            ),
            next_step="Unplug the receiver, then the sensor: where the level comes back, that side holds the line "
            "down; else the wire.",
            short_to="ground",
            picture="short to ground",
        )
    return None
