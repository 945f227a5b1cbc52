"""Whether two captures were taken under the same conditions; what differs is said."""

from dataclasses import dataclass

from loomlight.signal.capture import Channel
from loomlight.signal.comparison import Comparison
from loomlight.signal.quantity import in_words

SUPPLY_SHARE = 0.2
"""How far the supplies of the two captures may be apart (common practice, no source)."""
BIT_RATE_SHARE = 0.04
"""Two nodes of one LIN bus are at most ±2 % off each (LIN Specification Package 2.2A, bit rate tolerance; from memory)."""
LENGTH_SHARE = 0.1
STEP_SHARE = 0.01
SETUP = "set up by hand: "


@dataclass(frozen=True)
class Condition:
    """One thing about both captures.

    Attributes
    ----------
    name : str
        "supply at the node", "sample step"…
    before, after : str
        In words, with the unit.
    same : bool or None
        None where one of them is not known.
    hinders : str
        Why the two cannot be compared, one sentence; empty where they can.
    """

    name: str
    before: str
    after: str
    same: bool | None
    hinders: str = ""


def conditions_of_both(before: Comparison, after: Comparison) -> tuple[Condition, ...]:
    """Signal kind, supply, bit rate, length, probe factor and step of both."""
    found = [_kind(before, after)]
    if before.bus is not None or after.bus is not None:
        found += [_supply(before, after), _bit_rate(before, after)]
    return (*found, _length(before, after), _setup(before, after), _step(before, after))


def length_s(comparison: Comparison) -> float:
    """Length of the suspect's capture, seconds."""
    return comparison.suspect.stop_s - comparison.suspect.start_s


def _kind(before: Comparison, after: Comparison) -> Condition:
    same = before.kind == after.kind
    hinders = f"The two were judged by different signal kinds ({before.kind} and {after.kind})."
    return Condition("signal kind", before.kind, after.kind, same, "" if same else hinders)


def _supply(before: Comparison, after: Comparison) -> Condition:
    old, new = (one.bus.supply_v if one.bus is not None else None for one in (before, after))
    same, hinders = _alike(old, new, SUPPLY_SHARE), ""
    if same is False:
        hinders = f"The supplies differ too much to compare: {old:.1f} V before, {new:.1f} V after."
    return Condition("supply at the node", in_words(old, "V"), in_words(new, "V"), same, hinders)


def _bit_rate(before: Comparison, after: Comparison) -> Condition:
    old, new = (one.bus.bit_rate if one.bus is not None else None for one in (before, after))
    same, hinders = _alike(old, new, BIT_RATE_SHARE), ""
    if same is False:
        hinders = f"The bit rates differ: {old:.0f} bit/s before, {new:.0f} bit/s after. Is it the same bus?"
    was, now = (f"{one:.0f} bit/s" if one else "not known" for one in (old, new))
    return Condition("bit rate", was, now, same, hinders)


def _length(before: Comparison, after: Comparison) -> Condition:
    old, new = length_s(before), length_s(after)
    return Condition("length", in_words(old, "s"), in_words(new, "s"), _alike(old, new, LENGTH_SHARE))


def _setup(before: Comparison, after: Comparison) -> Condition:
    old, new = (_set_up(one.suspect) for one in (before, after))
    return Condition("probe factor and set-up", old, new, old == new)


def _set_up(channel: Channel) -> str:
    return "; ".join(one.removeprefix(SETUP) for one in channel.history if one.startswith(SETUP)) or "as in the file"


def _step(before: Comparison, after: Comparison) -> Condition:
    """A coarser step after the repair may hide what was seen before."""
    old, new = before.suspect.step_s, after.suspect.step_s
    same, hinders = _alike(old, new, STEP_SHARE), ""
    lengths_s = sorted(one.stop_s - one.start_s for one in before.findings if one.kind == "dropout")
    typical_s = lengths_s[len(lengths_s) // 2] if lengths_s else None
    if old and new and typical_s is not None and new > old and typical_s < new:
        hinders = (
            f"The sample step after the repair ({in_words(new, 's')}) is longer than the usual dropout before "
            f"({in_words(typical_s, 's')}): it may have gone unseen. Record with a step as before ({in_words(old, 's')})."
        )
    was, now = (in_words(one, "s") if one else "uneven" for one in (old, new))
    return Condition("sample step", was, now, same, hinders)


def _alike(old: float | None, new: float | None, share: float) -> bool | None:
    return abs(old - new) <= share * old if old and new else None
