"""Faults that may be supposed on a known-good, to see what they would look like."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from loomlight.signal.capture import Channel
from loomlight.signal.examination import Examination
from loomlight.signal.lineup import LineUp
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Verdict


@dataclass(frozen=True)
class Supposal:
    """A fault to choose from.

    Attributes
    ----------
    name : str
        "series resistance", "one terminator missing"…
    unit : str
        Unit of its size; empty where it has none.
    usual : float or None
        A size to begin with; None where it has none.
    """

    name: str
    unit: str = ""
    usual: float | None = None


@dataclass(frozen=True)
class SupposedFault:
    """A fault to look at.

    Attributes
    ----------
    kind : str
        Name of a `Supposal`.
    size : float or None
        In the supposal's unit; None where it has none.
    beyond : tuple of str
        Who sits behind the fault: ``"responder 0x21"``.
    unit : str
        The supposal's unit.
    before : bool
        Whether it is looked at from before the fault instead of from behind it.
    """

    kind: str
    size: float | None = None
    beyond: tuple[str, ...] = ()
    unit: str = ""
    before: bool = False

    def in_words(self) -> str:
        """For a lane's head."""
        return self.kind if self.size is None else f"{self.kind} of {in_words(self.size, self.unit)}"


@dataclass(frozen=True)
class Fitted:
    """What a verdict's figures predict.

    Attributes
    ----------
    fault : SupposedFault
        With the verdict's figure.
    picture : callable
        Begin and end on the suspect's axis (seconds) to the predicted channel on the same axis; raises `CannotUse`.
    """

    fault: SupposedFault
    picture: Callable[[float, float], Channel]


@dataclass(frozen=True)
class Supposer:
    """How a signal kind supposes faults.

    Attributes
    ----------
    faults : tuple of Supposal
        What may be supposed.
    beyond : callable
        Who may sit behind a fault, from an examined known-good; empty where that makes no difference or nothing can be supposed.
    ready : callable
        Whether an examined known-good carries what is needed.
    picture : callable
        An examined known-good, the fault, begin and end on its axis (seconds) to the channel as the fault would leave it;
        raises `CannotUse` with the reason where it cannot.
    fitted : callable or None
        The suspect's examination, the known-good's, the line-up and the verdict to what the verdict's figures predict for the
        capture itself; None where that is no fault that can be drawn.
    longest_s : float
        The longest stretch that is worked out at a time, seconds.
    beyond_words : (str, str)
        What the choice of who sits behind the fault is called, and what stands for nobody.
    """

    faults: tuple[Supposal, ...]
    beyond: Callable[[Examination], tuple[str, ...]]
    ready: Callable[[Examination], bool]
    picture: Callable[[Examination, SupposedFault, float, float], Channel]
    fitted: Callable[[Examination, Examination | None, LineUp | None, Verdict], Fitted | None] | None = None
    longest_s: float = math.inf
    beyond_words: tuple[str, str] = ("Behind the fault", "none: everyone on the known-good's side")


def nobody(good: Examination) -> tuple[str, ...]:
    """For kinds in which a fault has nobody behind it."""
    return ()
