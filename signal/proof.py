"""The before/after comparison, check by check. The types; `prove` fills them."""

from dataclasses import dataclass
from typing import Literal

from loomlight.signal.comparison import Comparison

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
    """Whether the repair is proven, and by what."""

    before: Comparison
    after: Comparison
    checks: tuple[ProofCheck, ...]
    state: ProofState
    reasons: tuple[str, ...]
