"""What was asked of a capture, what it answered, and which of the three suspects that raises or lowers."""

from dataclasses import dataclass
from typing import Literal

Suspect = Literal["wire", "component", "control unit"]
SUSPECTS: tuple[Suspect, ...] = ("wire", "component", "control unit")


@dataclass(frozen=True)
class Evidence:
    """One line of the evidence table.

    Attributes
    ----------
    question, answer : str
        "Headers at this probe?", "24, and 24 at the known-good".
    why : str
        What that means, one sentence; empty where it moves nothing.
    raises, lowers : tuple of str
        Suspects that it speaks for and against.
    """

    question: str
    answer: str
    why: str = ""
    raises: tuple[Suspect, ...] = ()
    lowers: tuple[Suspect, ...] = ()

    def move(self, part: str) -> int:
        """+1 where it speaks for a suspect, -1 against, 0 neither."""
        return (part in self.raises) - (part in self.lowers)
