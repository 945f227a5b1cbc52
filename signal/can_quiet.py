"""Pairs on which no frame can be read: shorted, asleep, or not talking."""

from loomlight.signal.can_case import CanCase
from loomlight.signal.can_wires import Rest
from loomlight.signal.verdict import ShortTo, Verdict

ASLEEP_V = 0.6
"""Below this a wire is not biased: asleep, without power, or held at ground."""
ABOVE_BIAS_V = 4.0
"""No transceiver holds the resting pair there (data sheet: 2.0 to 3.0 V)."""
WAKE = "Wake the bus (ignition on, a door opened) and repeat; then measure each wire against ground and battery, power off."
UNPLUG = "Power off, unplug one control unit after the other, measuring; the one with which the short goes has it, else the loom."


def judge_quiet(case: CanCase) -> Verdict:
    """What the resting levels, and what little moves, tell."""
    pair = case.pair
    if pair.wires.form == "both wires":
        return _both(case)
    if pair.wires.form == "difference":
        return _difference(case)
    return _one_wire(case)


def short(picture: str, to: ShortTo, reasons: tuple[str, ...]) -> Verdict:
    """A verdict that names a short."""
    return Verdict("faulty", "short", reasons, next_step=UNPLUG, short_to=to, picture=picture)


def _unknown(reasons: tuple[str, ...], do: str) -> Verdict:
    return Verdict("cannot tell", "unknown", reasons, next_step=do)


def _both(case: CanCase) -> Verdict:
    high, low, apart = case.pair.high_rest, case.pair.low_rest, case.pair.wires.rest
    if high is None or low is None or apart is None:
        return _unknown(("Nothing was acquired on one of the wires.",), "Check the probes and repeat the capture.")
    levels = f"CAN-H rests at {high.rest_v:.2f} V and CAN-L at {low.rest_v:.2f} V"
    middle = 0.5 * (high.rest_v + low.rest_v)
    if middle > ABOVE_BIAS_V:
        return _at_battery(high, low, apart, levels)
    if middle < ASLEEP_V:
        rise = max(high.above_v - high.rest_v, low.above_v - low.rest_v)
        if (high.talks or low.talks) and rise > 0:
            return short(
                "CAN-H shorted to ground",
                "ground",
                (
                    f"{levels}; when a node tries to talk, both wires rise by {rise:.2f} V only: its current flows to ground.",
                    "With CAN-L at ground CAN-H would still rise by 2 V and more, so it is CAN-H.",
                ),
            )
        return _unknown(
            (
                f"{levels} and nothing moves: the bus is asleep or without power, or CAN-H is shorted to ground "
                "(then no node can talk either).",
            ),
            WAKE,
        )
    if apart.talks and abs(apart.above_v - apart.rest_v) < 0.9:
        volts = apart.above_v - apart.rest_v
        return short(
            "CAN-H and CAN-L shorted together",
            "other wire",
            (
                f"{levels}; when a node tries to talk, the wires part by {volts:.2f} V where 1.5 to 3.0 V belong, and no frame "
                "comes of it.",
                f"A usual driver parts them that far across about {30 * volts / max(3.0 - volts, 0.1):.1f} Ω (20 to 44 Ω in "
                "the driver assumed); two terminators are 60 Ω.",
            ),
        )
    if apart.talks:
        return _unreadable(case, levels)
    return _unknown(
        (f"{levels}, as an awake bus does, and nothing is sent.", "A hard short between the wires looks the same."),
        "Make a node send, and measure between the wires, power off: 60 Ω belong there.",
    )


def _at_battery(high: Rest, low: Rest, apart: Rest, levels: str) -> Verdict:
    dip = max(high.rest_v - high.below_v, low.rest_v - low.below_v)
    reason = f"{levels}: battery voltage reaches the pair, where no transceiver holds it."
    if apart.talks and apart.above_v - apart.rest_v > 0.9:
        return short(
            "CAN-H shorted to battery",
            "battery",
            (
                reason,
                f"CAN-L still dips by {apart.above_v - apart.rest_v:.1f} V when a node talks, and CAN-H does not: "
                "CAN-H is shorted.",
            ),
        )
    if (high.talks or low.talks) and dip > 0:
        return short(
            "CAN-L shorted to battery",
            "battery",
            (
                reason,
                f"When a node tries to talk, both wires dip by {dip:.2f} V only: CAN-L cannot be pulled down. With CAN-H at "
                "battery CAN-L would still dip by volts.",
            ),
        )
    return short(
        "CAN-H or CAN-L shorted to battery",
        "battery",
        (reason, "Nothing moves, so the capture does not tell which of the two wires."),
    )


def _difference(case: CanCase) -> Verdict:
    rest = case.pair.wires.rest
    if rest is None or not rest.talks:
        return _unknown(
            (
                "The difference rests and nothing is sent: asleep, without power, or shorted; the difference alone "
                "does not tell.",
            ),
            "Record both wires against ground.",
        )
    volts = rest.above_v - rest.rest_v
    if volts < 0.9:
        reason = f"The wires part by {volts:.2f} V at most where 1.5 to 3.0 V belong, and no frame comes of it."
        return Verdict(
            "faulty",
            "short",
            (
                reason,
                "Whether they are shorted to each other, to ground or to battery only both wires against ground show.",
            ),
            next_step="Record both wires against ground.",
        )
    return _unreadable(case, f"The difference swings by {volts:.2f} V")


def _one_wire(case: CanCase) -> Verdict:
    pair = case.pair
    name, volts, rest = pair.wires.form, pair.rest_v, pair.wires.rest
    level = f"{name} rests at {volts:.2f} V"
    if volts > ABOVE_BIAS_V:
        return short(
            "CAN-H or CAN-L shorted to battery",
            "battery",
            (
                f"{level}: battery voltage reaches the pair.",
                "One wire alone does not tell which of the two is shorted.",
            ),
        )
    if rest is not None and rest.talks:
        swing = rest.above_v - rest.rest_v
        if swing < (0.45 if 1.5 < volts < 3.5 else 0.8):
            to = "near 0 V" if volts < ASLEEP_V else "where an awake bus does"
            return Verdict(
                "faulty",
                "short",
                (
                    f"{level}, {to}; when a node tries to talk it moves by {swing:.2f} V only, and no frame comes of it.",
                    "One wire alone does not tell whether it is shorted to the other wire or to a rail.",
                ),
                next_step="Record both wires against ground.",
            )
        return _unreadable(case, f"{level} and moves by {swing:.2f} V")
    return _unknown(
        (
            f"{level} and nothing moves: asleep, without power, shorted, or nobody sends.",
            "One wire alone tells no more.",
        ),
        WAKE,
    )


def _unreadable(case: CanCase, levels: str) -> Verdict:
    traffic = case.pair.traffic
    tried = f" ({len(traffic.frames)} starts of frames were tried)" if traffic is not None and traffic.frames else ""
    short_note: tuple[str, ...] = ()
    if traffic is None or not traffic.frames:
        short_note = (
            "No start of a frame after a rest of the bus is in the capture: a frame takes 50 to 160 bits, so it is too short.",
        )
    return _unknown(
        (f"{levels}, but no frame can be read{tried}.", *short_note),
        "Record both wires, with 20 samples a bit or more and at a node's connector, and look at the bits in the folded view.",
    )
