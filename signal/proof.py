"""The before/after comparison, check by check. Types only; they are filled in `prove`."""

from dataclasses import dataclass, field
from typing import Literal

from loomlight.signal.comparison import Comparison
from loomlight.signal.lineup import LineUp
from loomlight.signal.same_conditions import Condition

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


@dataclass(frozen=True)
class Circumstances:
    """What only the technician can say about the two captures.

    Attributes
    ----------
    picked : bool
        The capture before was kept because it showed the fault: it does not tell how often the fault comes.
    provoked : bool
        What brought the fault on before (moving the loom, load, heat) was repeated while recording after the repair.
    """

    picked: bool = False
    provoked: bool = False


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
    conditions : tuple of Condition
        What both were taken under.
    circumstances : Circumstances
        What the technician said.
    """

    before: Comparison
    after: Comparison
    lineup: LineUp | None
    checks: tuple[ProofCheck, ...]
    state: ProofState
    reasons: tuple[str, ...]
    conditions: tuple[Condition, ...] = ()
    circumstances: Circumstances = field(default_factory=Circumstances)
