"""Verdicts that the kinds of two-state wires word alike."""

from collections.abc import Sequence

from loomlight.signal.finding import Finding
from loomlight.signal.verdict import Verdict

FEWEST_BROKEN = 3
"""One broken frame may be the capture's own begin or a disturbance (common practice, no source)."""


def unsure(reason: str, do: str) -> Verdict:
    """Cannot tell: why, and what to do about it, one sentence each."""
    return Verdict("cannot tell", "unknown", (reason,), next_step=do)


def interference(spikes: str, spoilt: str, where: str, *, is_heard: bool) -> Verdict:
    """Spikes that the wire's own circuit does not make.

    Parameters
    ----------
    spikes, spoilt : str
        How many there are, and what they spoilt, one sentence each.
    where : str
        Where to look if they stay, after "look" or "check": ends the sentence.
    is_heard : bool
        They spoil what is sent: faulty. Else the probe's own lead may have picked them up: cannot tell.
    """
    reasons = (
        spikes,
        spoilt,
        "A long ground lead of the probe picks up the same: the capture alone cannot tell it from the wire.",
    )
    do = f"Shorten the probe's ground lead, keep the leads off ignition and motor wiring, and repeat; if it stays, {where}."
    return Verdict("faulty" if is_heard else "cannot tell", "unknown", reasons, next_step=do, picture="interference")


def spoilt(count: int, said: str, *, read: bool, unit: str = "frame") -> str:
    """What interference spoilt: ``said`` of so many, else whether any ``unit`` could be read at all."""
    if count:
        return f"{count} {said}."
    return f"The {unit}s are whole." if read else f"No {unit} could be read."


def clock_off(found: Sequence[Finding], source: str) -> Verdict:
    """Bit rates that are off; ``source`` is where their limit comes from."""
    return Verdict(
        "faulty",
        "unknown",
        (
            *(f"{one.rule[:1].upper()}{one.rule[1:]} ({source})." for one in found[:4]),
            "The wire does not change a bit rate: the clock of the node that sends these is off.",
        ),
        next_step="Find the node that sends these identifiers; its control unit is in question, not the wire.",
        picture="bit rate off",
    )


def frames_break(severe: Sequence[Finding], right: str) -> Verdict:
    """Frames with an error though ``right`` (one sentence) at this probe: faulty where they keep breaking."""
    told = f"{len(severe)} frames with an error, the first: {severe[0].rule}."
    step = "Record at the node that sends these together with this one."
    if len(severe) < FEWEST_BROKEN:
        return unsure(f"{told} {right}", step)
    why = "Which node breaks them, or whose wire, this probe does not tell: a level too low to be read looks the same."
    return Verdict("faulty", "unknown", (told, right, why), next_step=step, picture="frames broken")
