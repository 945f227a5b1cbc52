"""What is wrong with a battery or a supply, one thing at a time, and the verdict that several of them make."""

from collections.abc import Sequence
from dataclasses import dataclass

from loomlight.signal.examination import Examination
from loomlight.signal.quantity import in_words
from loomlight.signal.verdict import Fault, Verdict
from loomlight.signal.voltage_drop import Drop


@dataclass(frozen=True)
class Trouble:
    """One thing that is wrong, ready for a verdict.

    Attributes
    ----------
    picture : str
        In the trade's words.
    fault : str
        Fault class.
    reasons : tuple of str
        With the figures, one sentence each.
    next_step : str
        What to do.
    intermittent : bool
        It comes and goes.
    ohm : tuple of float or None
        Resistance that does it: best, least, most.
    """

    picture: str
    fault: Fault
    reasons: tuple[str, ...]
    next_step: str
    intermittent: bool = False
    ohm: tuple[float | None, float | None, float | None] = (None, None, None)


def faulty(troubles: Sequence[Trouble], notes: Sequence[str]) -> Verdict:
    """All that is wrong, under the class and picture of the first; ``notes`` are said in any case."""
    first = troubles[0]
    return Verdict(
        "faulty",
        first.fault,
        (*(sentence for one in troubles for sentence in one.reasons), *notes),
        next_step=first.next_step,
        intermittent=first.intermittent,
        series_ohm=first.ohm[0],
        series_ohm_low=first.ohm[1],
        series_ohm_high=first.ohm[2],
        picture=first.picture,
    )


def cannot_tell(questions: Sequence[tuple[str, str]], kept: Sequence[str], notes: Sequence[str]) -> Verdict:
    """What is open, each with what to do about it, then what is right, and the notes that were not said already."""
    asked = [text for text, _ in questions]
    said = (*asked, *kept, *(note for note in notes if note not in asked))
    return Verdict("cannot tell", "unknown", said, next_step=questions[0][1])


def not_sound(looked: Examination) -> Verdict:
    """Nothing was measured: why not, and what to do about the first of it."""
    texts = tuple(one.text for one in looked.doubts)
    return Verdict("cannot tell", "unknown", texts, next_step=looked.doubts[0].do)


def resistance_words(drop: Drop) -> str:
    """The resistance behind a drop with its interval, as a sentence after another; empty where it is not known."""
    if drop.ohm is None:
        return ""
    low, high = in_words(drop.ohm_low, "Ω", digits=2), in_words(drop.ohm_high, "Ω", digits=2)
    return f" That is {in_words(drop.ohm, 'Ω', digits=2)} ({low} to {high})."
