"""CAN pairs whose wires are exchanged, held at a rail, or open: what shows on both wires together, or on one that is held."""

import numpy as np

from loomlight.signal.can_case import CanCase
from loomlight.signal.can_odd_talkers import shifted_talkers
from loomlight.signal.can_oddities import REVERSED_V
from loomlight.signal.can_quiet import ASLEEP_V, short
from loomlight.signal.can_termination import usual_difference
from loomlight.signal.verdict import Verdict

FEWEST_REVERSED, FEWEST_TOGETHER = 6, 3
FRESH_SHARE = 0.05
"""Of the tails: where a node's ground is off, each of its dominant bits leaves one, and a few look like a beginning."""
BIASED_V = (1.2, 3.8)
"""A pair that rests beyond is held by something else."""


def wires_reversed(case: CanCase) -> Verdict | None:
    """A node that drives the pair the wrong way round."""
    odd = case.pair.odd
    if len(odd.reversed_s) < FEWEST_REVERSED:
        return None
    usual = usual_difference(case.pair)
    others = f" while others bring it to {usual:+.2f} V" if usual > 0 else ""
    return Verdict(
        "faulty",
        "unknown",
        (
            f"In {len(odd.reversed_s)} stretches CAN-L stands {-odd.reversed_v:.2f} V above CAN-H{others}: a node drives the "
            f"pair the wrong way round; any receiver on the right wires takes that for recessive (it wants {REVERSED_V:.1f} V).",
            "That node hears nobody, sends into the others' frames, and is acknowledged by none.",
        ),
        next_step="Find the node whose connector has CAN-H and CAN-L exchanged, often the one repaired last: unplug one after "
        "the other until the wrong pulses are gone.",
        picture="wires swapped",
    )


def wire_held(case: CanCase) -> Verdict | None:
    """A wire that is held at a rail while frames still come through."""
    pair = case.pair
    high, low = pair.high_rest, pair.low_rest
    if pair.frames_read == 0:
        return None
    if high is None or low is None:
        return _one_held(case)
    if low.rest_v < ASLEEP_V and high.rest_v < ASLEEP_V + 0.3:
        level = float(np.median([one.low_v for one in pair.signatures])) if pair.signatures else low.rest_v
        return short(
            "CAN-L shorted to ground",
            "ground",
            (
                f"CAN-L stays at {low.rest_v:.2f} V recessive and {level:.2f} V dominant where 2.0 to 3.0 V and 0.5 "
                "to 2.25 V belong.",
                f"CAN-H falls to {high.rest_v:.2f} V between bits, pulled down through the terminators, and rises when dominant: "
                "frames still get through, with the common mode off.",
            ),
        )
    if min(high.rest_v, low.rest_v) > 4.0:
        level = float(np.median([one.high_v for one in pair.signatures])) if pair.signatures else high.rest_v
        return short(
            "CAN-H shorted to battery",
            "battery",
            (
                f"CAN-H stays at {high.rest_v:.2f} V recessive and {level:.2f} V dominant, where 2.0 to 3.0 V and "
                "2.75 to 4.5 V belong.",
                f"CAN-L rests at {low.rest_v:.2f} V, pulled up through the terminators, and dips when dominant.",
            ),
        )
    return None


def _one_held(case: CanCase) -> Verdict | None:
    pair = case.pair
    if pair.wires.form == "CAN-H" and pair.rest_v < ASLEEP_V + 0.3:
        return short(
            "CAN-L shorted to ground",
            "ground",
            (
                f"CAN-H rests at {pair.rest_v:.2f} V where 2.0 to 3.0 V belong, and still carries frames.",
                "With CAN-H itself at ground no frame could be read, so CAN-L is: it pulls CAN-H down through the terminators.",
            ),
        )
    if pair.wires.form == "CAN-L" and pair.rest_v > 4.0:
        return short(
            "CAN-H shorted to battery",
            "battery",
            (
                f"CAN-L rests at {pair.rest_v:.2f} V where 2.0 to 3.0 V belong, and still carries frames.",
                "With CAN-L itself at battery no frame could be read, so CAN-H is: it pulls CAN-L up through the terminators.",
            ),
        )
    return None


def wire_open(case: CanCase) -> Verdict | None:
    """Both wires moving alike with nothing between them: one of them does not reach this probe."""
    odd = case.pair.odd
    rest = [one.rest_v for one in (case.pair.high_rest, case.pair.low_rest) if one is not None]
    if len(odd.together_s) < max(FEWEST_TOGETHER, FRESH_SHARE * odd.tails) or not all(
        BIASED_V[0] < one < BIASED_V[1] for one in rest
    ):
        return None
    if len(odd.together_s) < odd.tails and shifted_talkers(case) is not None:
        return None
    wire, way, other = ("CAN-H", "down", "CAN-L") if odd.together_v < 0 else ("CAN-L", "up", "CAN-H")
    reasons = [
        f"In {len(odd.together_s)} stretches both wires go {way} by {abs(odd.together_v):.2f} V together with nothing "
        f"between them: a node pulls {other} and its {wire} does not reach this probe.",
        f"The difference that a receiver needs (0.9 V) does not come about, so {wire} is open between this probe and that node.",
    ]
    usual = usual_difference(case.pair)
    if usual > 0:
        reasons.append(
            f"On this side the talkers reach {usual:.2f} V; a terminator beyond the break is missing here, which raises it."
        )
    return Verdict(
        "faulty",
        "open",
        tuple(reasons),
        next_step=f"Power off, measure {wire} from connector to connector; the break lies between the nodes read here and those "
        "that are not.",
        picture=f"{wire} open",
    )
