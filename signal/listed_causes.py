"""The three suspects of a fault code (wire, component, control unit), raised or lowered by the evidence."""

from dataclasses import dataclass
from typing import Literal

from loomlight.signal.job_records import Part
from loomlight.signal.verdict import Verdict

Leaning = Literal["raised", "lowered", "open"]
SUSPECTS: tuple[Part, ...] = ("wire", "component", "control unit")


@dataclass(frozen=True)
class Standing:
    """How one of the three suspects stands.

    Attributes
    ----------
    part : {"wire", "component", "control unit"}
        Which.
    leaning : {"raised", "lowered", "open"}
        "open": no evidence, or evidence both ways.
    reasons : tuple of str
        One sentence for each piece of evidence.
    """

    part: Part
    leaning: Leaning
    reasons: tuple[str, ...] = ()


def standings(verdicts: tuple[tuple[str, Verdict], ...]) -> tuple[Standing, ...]:
    """Weigh what the verdicts say.

    Parameters
    ----------
    verdicts : tuple of (str, Verdict)
        Each with the words for what it is about ("blower LIN in before.csv"); of captures before the repair only.

    Notes
    -----
    A resistance or a break that lies in the wire raises the wire and lowers the other two: a component that is starved by
    its wire looks broken. A short may sit in the wire or in whatever hangs on it, so all three stay open. A clean wire is
    lowered and the two others raised. `cannot tell` moves nothing.
    """
    moves: dict[Part, list[tuple[int, str]]] = {part: [] for part in SUSPECTS}
    for about, verdict in verdicts:
        for part, step, why in _moves_of(verdict):
            moves[part].append((step, f"{about}: {why}"))
    return tuple(_standing(part, found) for part, found in moves.items())


def _moves_of(verdict: Verdict) -> list[tuple[Part, int, str]]:
    """Each suspect that a verdict moves: from its evidence where it has some, else from the verdict itself."""
    if verdict.evidence:
        found = [(part, row.move(part), row) for row in verdict.evidence for part in SUSPECTS]
        return [(part, step, f"{row.answer}: {row.why[:1].lower()}{row.why[1:]}") for part, step, row in found if step]
    return [(part, step, why) for part, (step, why) in _by_state(verdict).items()]


def _by_state(verdict: Verdict) -> dict[Part, tuple[int, str]]:
    if verdict.state == "clean":
        return {
            "wire": (-1, "the signal is right at the probe."),
            "component": (1, "the wire brings a right signal, so what listens to it comes into question."),
            "control unit": (1, "the wire brings a right signal, so what sends and listens comes into question."),
        }
    if verdict.state == "faulty" and verdict.fault in ("open", "resistive"):
        word = "open" if verdict.fault == "open" else "resistive"
        return {
            "wire": (1, f"the wire is {word}{' at times' if verdict.intermittent else ''}."),
            "component": (-1, "the wire explains what is seen; mend it before the component is judged."),
            "control unit": (-1, "the wire explains what is seen; mend it before the control unit is judged."),
        }
    if verdict.state == "faulty" and verdict.fault == "short":
        why = "a short may sit in the wire or inside what hangs on it; unplug one after the other."
        return dict.fromkeys(SUSPECTS, (0, why))
    return {}


def _standing(part: Part, moves: list[tuple[int, str]]) -> Standing:
    steps = {step for step, _ in moves if step}
    leaning: Leaning = "open"
    if len(steps) == 1:
        leaning = "raised" if steps == {1} else "lowered"
    return Standing(part, leaning, tuple(why for _, why in moves))
