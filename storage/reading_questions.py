"""What a file's structure leaves open, with the answers that are offered, and what was assumed meanwhile."""

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from loomlight.signal.errors import FileProblem
from loomlight.storage.reading import NOTHING_SAID, Reading

About = Literal["rows", "time", "time unit", "step", "unit", "counts", "date order", "pairs"]


@dataclass(frozen=True)
class Offer:
    """One answer that can be chosen.

    Attributes
    ----------
    text : str
        The answer in words.
    reading : Reading
        Everything said so far with this answer added: read the file again with it.
    """

    text: str
    reading: Reading


@dataclass(frozen=True)
class Question:
    """Something that the structure does not tell.

    Attributes
    ----------
    about : str
        ``rows``, ``time``, ``time unit``, ``step``, ``unit``, ``counts``, ``date order`` or ``pairs``.
    text : str
        The question, one sentence.
    guess : str
        What was taken until it is answered; empty where the file cannot be read without an answer.
    offers : tuple of Offer
        Answers to choose from; a step or a scale may also be typed in.
    column : int or None
        The column it is about, from 1.
    option : str
        The command-line option that answers it.
    """

    about: About
    text: str
    guess: str
    offers: tuple[Offer, ...]
    column: int | None = None
    option: str = ""


class OpenQuestion(FileProblem):
    """A file that could be read if a question about it were answered."""

    def __init__(self, question: Question, *, file: Path, what: str, do: str, where: str = "") -> None:
        super().__init__(what, file=file, where=where, do=do)
        self.question = question


@dataclass(eq=False)
class Account:
    """What was said, what was assumed and what stays open while one file is read.

    Attributes
    ----------
    reading : Reading
        What the user said.
    notes : list of str
        What was assumed or left out, a sentence each.
    questions : list of Question
        What stays open.
    """

    reading: Reading = NOTHING_SAID
    notes: list[str] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)

    def say(self, *notes: str) -> None:
        """Add notes, each once."""
        self.notes += [note for note in dict.fromkeys(notes) if note not in self.notes]

    def ask(self, question: Question) -> None:
        """Add a question, once for what it is about."""
        if all((one.about, one.column) != (question.about, question.column) for one in self.questions):
            self.questions.append(question)

    def offers(self, *answers: tuple[str, Reading]) -> tuple[Offer, ...]:
        """Offers from new answers alone; what was said before is kept."""
        return tuple(Offer(text, new.over(self.reading)) for text, new in answers)


def step_question(account: Account) -> Question:
    """How far apart the samples are."""
    offers = account.offers(*((text, Reading(step_s=step)) for text, step in STEPS))
    return Question("step", "How far apart are the samples?", "", offers, option="--step")


STEPS = (("1 µs", 1e-6), ("10 µs", 1e-5), ("100 µs", 1e-4), ("1 ms", 1e-3))


def unit_question(account: Account, column: int, name: str, *, guess: str) -> Question:
    """What a column's numbers are in."""
    offers = account.offers(
        *(
            (text, replace(account.reading, units=account.reading.with_unit(column, unit).units))
            for text, unit in UNIT_OFFERS
        )
    )
    return Question("unit", f"What is {name} in?", guess, offers, column, option="--unit")


UNIT_OFFERS = (("volts", "V"), ("millivolts", "mV"), ("amperes", "A"), ("converter counts", "counts"))


def counts_question(account: Account, column: int, name: str, *, unit: str, a_division: float | None) -> Question:
    """How many units one converter count is."""
    offers = [("leave them as counts", account.reading.with_unit(column, "counts"))]
    if a_division is not None:
        scaled = account.reading.with_unit(column, unit).with_scale(column, a_division / COUNTS_A_DIVISION, 0.0)
        offers.insert(0, (f"{COUNTS_A_DIVISION} counts a division, {a_division:g} {unit} a division", scaled))
    text = f"{name} holds converter counts: how many {UNIT_WORDS.get(unit, unit)} is one?"
    return Question("counts", text, "counts", account.offers(*offers), column, option="--scale")


UNIT_WORDS = {"V": "volts", "A": "amperes"}
COUNTS_A_DIVISION = 25
"""Counts of an 8-bit converter that stand for one division on the screen: common practice, no source."""
