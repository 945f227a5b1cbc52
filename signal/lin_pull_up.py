"""A LIN bus whose commander's pull-up does not reach it: told by its slow rise, whoever drives, from a leak and from a joint."""

from loomlight.signal.lin_case import Case
from loomlight.signal.lin_examination import LinExamination
from loomlight.signal.lin_rise import (
    ALL,
    BUS_F,
    LOST_TAU_S,
    MOST_TAU_S,
    TimeConstant,
    edge_constants,
    through_capacitance,
)
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import RESPONDER_SIDE, leak_beside
from loomlight.signal.verdict import Verdict

SAME_RATIO = 1.5
"""Two rises within this ratio are the same bus's (common practice, no source)."""
PICTURE = "lost commander pull-up"
LOW_V = 0.8
"""A resting line this far below where the pull-ups pull to has a leak as well (common practice, no source)."""


def slow_rise(suspect: LinExamination, good: LinExamination | None, *, same_moment: bool) -> TimeConstant | None:
    """The rise of a bus without its commander's pull-up; None where the rise, or the known-good's, says otherwise.

    All talkers rise slowly while the falls are a driver's: a resistance in the wire would slow both, and one side only.
    """
    found = _slow(suspect)
    if found is None or good is None or good.line.is_flat:
        return found
    there = edge_constants(good.channel, good.line).of(ALL, rising=True)
    if there is None:
        return found
    alike = there.is_resolved and found.tau_s < SAME_RATIO * there.tau_s
    return found if alike == same_moment else None


def _slow(examined: LinExamination) -> TimeConstant | None:
    if examined.line.is_flat:
        return None
    constants = edge_constants(examined.channel, examined.line)
    rise, fall = (constants.of(ALL, rising=rising) for rising in (True, False))
    if rise is None or fall is None or fall.tau_s > 0.5 * rise.tau_s:
        return None
    slow = [one.is_resolved and one.low_s > LOST_TAU_S for one in constants.rise]
    return rise if all(slow) else None


def judge_pull_up(case: Case, rise: TimeConstant, caveats: tuple[str, ...]) -> Verdict:
    """The verdict of such a rise."""
    left = through_capacitance(rise, BUS_F)
    reasons = [
        f"The line rises with a time constant of {in_words(rise.tau_s, 's')} ({in_words(rise.low_s, 's')} to "
        f"{in_words(rise.high_s, 's')}), whoever drives; a bus with its 1 kΩ stays under {in_words(MOST_TAU_S, 's')}. It "
        "falls as fast as a driver brings it down.",
        f"With 1 to 10 nF on the bus that leaves {in_words(left.low, 'Ω', digits=2)} to {in_words(left.high, 'Ω', digits=2)} of "
        "pull-ups: the responders' own 20 to 60 kΩ, and not the commander's 1 kΩ.",
    ]
    if case.good_line is not None and case.together:
        reasons.append("The known-good on the same bus rises just as slowly: the whole bus is without it.")
    elif case.good_line is not None:
        reasons.append("The known-good rises faster.")
    top_v, supply = case.line.recessive_v, case.line.supply
    if supply is not None and supply.source == "given" and top_v is not None and supply.volts - LOW_V - top_v > LOW_V:
        ohms = leak_beside(top_v, top_v=supply.volts - 0.7, pull=RESPONDER_SIDE, doubt_v=0.4)
        reasons.append(
            f"It also rests at {top_v:.2f} V instead of about {supply.volts - 0.7:.2f} V: beside such weak pull-ups a leak of "
            f"{in_words(ohms.low, 'Ω')} to {in_words(ohms.high, 'Ω')} does that, dirt and damp among them."
        )
    farads = rise.low_s / 1100.0, rise.high_s / 900.0
    reasons.append(
        f"Beside a whole 1 kΩ it would take {in_words(farads[0], 'F', digits=2)} to {in_words(farads[1], 'F', digits=2)}, more "
        "than the 10 nF that a bus may have."
    )
    return Verdict(
        "faulty",
        "open",
        (*reasons, *caveats),
        next_step="Check the commander's supply and its pull-up (about 1 kΩ and a diode from its supply to the bus), and the "
        "wire from the commander to the first splice.",
        picture=PICTURE,
    )
