"""The before/after comparison, check by check. Types only; they are filled in `prove`."""

from dataclasses import dataclass
from typing import Literal

from loomlight.signal.comparison import Comparison
from loomlight.signal.lineup import LineUp

ProofState = Literal["proven", "not proven", "cannot tell"]


@dataclass(frozen=True)
class ProofCheck:
    """One figure before and after the repair.

    Attributes
    ----------
    name : str
        "dropouts", "dominant level of the commander"…, with its unit in brackets where it has one.
    before, after : float or None
        None: could not be measured.
    limit : float or None
        What ``after`` had to keep; None where the check only informs.
    passed : bool or None
        None where ``after`` could not be measured.
    """

    name: str
    before: float | None
    after: float | None
    limit: float | None
    passed: bool | None


@dataclass(frozen=True, eq=False)
class Proof:
    """Whether the repair is proven, and by what.

    Attributes
    ----------
    before, after : Comparison
        What was held against each other.
    lineup : LineUp or None
        Lays the suspect before over the wire after, so that both can be shown at the same moment of the bus; None where
        the two cannot be laid over each other.
    checks : tuple of ProofCheck
        Figure by figure.
    state : {"proven", "not proven", "cannot tell"}
        The answer.
    reasons : tuple of str
        Sentences with the numbers. Never empty.
    """

    before: Comparison
    after: Comparison
    lineup: LineUp | None
    checks: tuple[ProofCheck, ...]
    state: ProofState
    reasons: tuple[str, ...]
