"""What the findings together mean."""

from dataclasses import dataclass
from typing import Literal

from loomlight.signal.evidence import Evidence

State = Literal["clean", "faulty", "cannot tell"]
Fault = Literal["none", "open", "short", "resistive", "unknown"]
ShortTo = Literal["ground", "battery", "other wire"]
Joint = Literal["", "between the probes", "towards the commander", "away from the commander"]


@dataclass(frozen=True)
class Verdict:
    """What the findings together mean, with the reasons.

    Attributes
    ----------
    state : {"clean", "faulty", "cannot tell"}
        The answer.
    fault : {"none", "open", "short", "resistive", "unknown"}
        The fault class; ``"none"`` only where clean, ``"unknown"`` where it cannot be told.
    reasons : tuple of str
        Sentences in the trade's words with the numbers behind them, most telling first. Never empty.
    next_step : str
        What to do next, one sentence; empty where there is nothing to do.
    short_to : str or None
        For shorts: ``"ground"``, ``"battery"`` or ``"other wire"``.
    intermittent : bool
        The line is right, then not.
    series_ohm, series_ohm_low, series_ohm_high : float or None
        Series resistance, best value and interval, ohms; None: not known, or no bound.
    joint : str
        Where the resistance or the break lies, seen from the suspect's probe; empty where that is not known.
    picture : str
        The fault in the trade's words: "one terminator missing", "tooth 17 damaged"; empty where it has no name or is not known.
    evidence : tuple of Evidence
        What speaks for and against wire, component and control unit; empty for kinds that do not tell.
    """

    state: State
    fault: Fault
    reasons: tuple[str, ...]
    next_step: str = ""
    short_to: ShortTo | None = None
    intermittent: bool = False
    series_ohm: float | None = None
    series_ohm_low: float | None = None
    series_ohm_high: float | None = None
    joint: Joint = ""
    evidence: tuple[Evidence, ...] = ()
    picture: str = ""

    def __post_init__(self) -> None:
        if not self.reasons:
            raise ValueError("a verdict needs at least one reason")
        if (self.state == "clean") != (self.fault == "none"):
            raise ValueError(f"state {self.state!r} and fault {self.fault!r} contradict each other")
