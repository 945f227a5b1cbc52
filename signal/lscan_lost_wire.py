"""A wire of a low-speed CAN pair that is lost: shorted to the other, cut, or tied to a rail; the bus goes on with one."""

import numpy as np

from loomlight.signal.line_verdicts import unsure
from loomlight.signal.lscan_limits import BATTERY_V, HIGH, LOW
from loomlight.signal.lscan_reading import FEWEST_FRAMES, FRAME_LOST_SHARE, LsCase, LsReading
from loomlight.signal.verdict import ShortTo, Verdict

NEAR_GROUND_V, NEAR_SUPPLY_V = 1.0, 4.0
OPEN_SHARE = 0.25
"""From this share of frames missing altogether on one wire on it is open beyond the probe (common practice, no source)."""
FEWEST_LOST = 2


def goes_on(line: LsReading) -> str:
    """That the bus goes on with the other wire; empty where that was not recorded."""
    if line.other is None:
        return ""
    return f"The bus goes on with {line.other_name} alone: {line.other.frames} frames can be read from it."


def wires_together(case: LsCase) -> Verdict | None:
    """Both wires move the same way: they touch."""
    line = case.line
    if line.other is None or line.own.dominant_high is None or line.own.dominant_high != line.other.dominant_high:
        return None
    return Verdict(
        "faulty",
        "short",
        (
            f"Both wires move the same way, between {_range(line)}: CANH and CANL are shorted together, or both "
            f"probes sit on one wire.",
            f"The bus goes on, as its transceivers switch one wire off: {line.own.frames} frames can be read.",
        ),
        next_step="Check that the probes sit on two wires; then unplug the nodes one by one until the wires part.",
        short_to="other wire",
        picture="CANH and CANL shorted together",
    )


def _range(line: LsReading) -> str:
    levels = line.own.levels
    assert levels is not None
    return f"{levels.low:.2f} V and {levels.high:.2f} V"


def cut_off(case: LsCase) -> Verdict | None:
    """Frames of some nodes only: the wire is cut between this probe and the others."""
    line = case.line
    shares = line.lost_share()
    if (
        line.other is None
        or line.is_silent
        or line.wire is None
        or line.reference is None
        or shares.size < FEWEST_FRAMES
    ):
        return None
    missing = int(np.count_nonzero(shares > FRAME_LOST_SHARE))
    if missing < max(FEWEST_LOST, OPEN_SHARE * shares.size) or missing < 0.7 * np.count_nonzero(shares > 0.2):
        return None
    return Verdict(
        "faulty",
        "open",
        (
            f"{line.name} follows {shares.size - missing} of {shares.size} frames only; {line.other_name} shows them all.",
            "What it shows comes from the node on this side, its frames and its acknowledge of the others': the wire "
            "is cut between this probe and the rest.",
            goes_on(line),
        ),
        next_step=f"Follow {line.name} from this plug to the first splice; record it at another node together with this one.",
        picture=f"{line.name} open",
    )


def tied_to_a_rail(case: LsCase) -> Verdict | None:
    """A wire that stands still while the other one talks."""
    line = case.line
    if line.other is None or not line.is_silent or not line.name:
        return None
    volts = line.own.resting_v
    to: ShortTo | None = None
    also = ""
    if volts > BATTERY_V:
        to, where = "battery", "battery"
    elif volts < NEAR_GROUND_V:
        to, where = "ground", "ground"
        also = " A CANH that is cut off without a node on this side looks the same." if line.name == HIGH else ""
    elif volts > NEAR_SUPPLY_V:
        to, where = "battery", "the 5 V supply"
        also = " A CANL that is cut off without a node on this side looks the same." if line.name == LOW else ""
    else:
        return unsure(
            f"{line.name} stands at {volts:.2f} V, neither at ground nor at a supply, while {line.other_name} talks.",
            "Check the probe and the pin, and repeat the capture.",
        )
    return Verdict(
        "faulty",
        "short",
        (
            f"{line.name} stands at {volts:.2f} V and follows no frame, not even the acknowledge: it is tied to {where}.{also}",
            goes_on(line),
        ),
        next_step="Unplug the nodes one by one; if it stays, look along the loom for a chafe.",
        short_to=to,
        picture=f"{line.name} short to {where}",
    )
