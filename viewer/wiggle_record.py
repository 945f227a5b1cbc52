"""What a wiggle test told so far: one verdict a capture, what was held meanwhile, and where the verdict changed."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from loomlight.signal.verdict import State, Verdict
from loomlight.viewer.wording import STATE_SIGNS, series_text, verdict_headline

Answer = State | Literal["not read"]
MOST_SHOWN = 50
SIGNS: dict[Answer, str] = {
    "clean": STATE_SIGNS["clean"],
    "faulty": STATE_SIGNS["faulty"],
    "cannot tell": STATE_SIGNS["cannot tell"],
    "not read": "–",
}
WORDS: dict[Answer, str] = {
    "clean": "Clean",
    "faulty": "Faulty",
    "cannot tell": "Cannot tell",
    "not read": "Not read",
}
LONG_QUIET_S = 60
"""From so many seconds without a capture on it is asked whether the instrument still saves."""


@dataclass(frozen=True)
class Told:
    """What one capture came to.

    Attributes
    ----------
    when : datetime
        When its verdict was there, local time.
    path : Path
        The capture.
    answer : {"clean", "faulty", "cannot tell", "not read"}
        The verdict's state; ``"not read"`` where the file could not be used.
    words, detail : str
        The verdict in a few words, and its number or its first reason; for a file that was not read, why.
    held : str
        What was held or moved meanwhile, as the technician said.
    """

    when: datetime
    path: Path
    answer: Answer
    words: str
    detail: str = ""
    held: str = ""

    @property
    def clock(self) -> str:
        """When, as a clock shows it."""
        return self.when.strftime("%H:%M:%S")


def told_of(verdict: Verdict, path: Path, when: datetime, held: str) -> Told:
    """A verdict as it is told."""
    detail = series_text(verdict) or verdict.reasons[0]
    return Told(when, path, verdict.state, verdict_headline(verdict), detail, held)


def not_read(error: Exception, path: Path, when: datetime, held: str) -> Told:
    """A file that could not be used."""
    return Told(when, path, "not read", f"{path.name} was not read", str(error), held)


@dataclass(frozen=True)
class WiggleRecord:
    """All that was told, oldest first."""

    told: tuple[Told, ...] = ()

    def with_told(self, one: Told) -> "WiggleRecord":
        """One more."""
        return WiggleRecord((*self.told, one))

    @property
    def shown(self) -> tuple[Told, ...]:
        """The last `MOST_SHOWN`."""
        return self.told[-MOST_SHOWN:]

    def before(self, one: Told) -> Told | None:
        """The verdict before; a file that was not read says nothing, and is passed over."""
        earlier = self.told[: next(place for place, other in enumerate(self.told) if other is one)]
        return next((other for other in reversed(earlier) if other.answer != "not read"), None)

    def is_change(self, one: Told) -> bool:
        """Whether the verdict is another one than before; the first is none."""
        if one.answer == "not read":
            return False
        before = self.before(one)
        return before is not None and before.words != one.words

    def sentence(self, one: Told) -> str:
        """One of them in full: when, which file, what, from what it changed, and what was held."""
        said = f"{one.clock}  {SIGNS[one.answer]}  {one.path.name}: {_small(one.words)}."
        before = self.before(one)
        if before is not None and self.is_change(one):
            said += f" Changed from {_small(before.words)} at {before.clock}."
        if one.held:
            said += f" Held: {one.held}."
        return f"{said} {one.detail}".strip()

    def summary(self) -> str:
        """How many captures, and how often the verdict changed."""
        changes = sum(self.is_change(one) for one in self.told)
        lost = sum(one.answer == "not read" for one in self.told)
        captures = f"{len(self.told)} capture{'' if len(self.told) == 1 else 's'}"
        changed = {0: "no change", 1: "1 change"}.get(changes, f"{changes} changes")
        return f"{captures}, {changed}{f', {lost} not read' if lost else ''}"


def quiet_sentence(seconds: float, folder: str, *, is_first: bool) -> str:
    """How long nothing has arrived."""
    minutes, hours = seconds // 60, seconds // 3600
    length = f"{seconds:.0f} s" if seconds < LONG_QUIET_S else f"{minutes:.0f} min {seconds % 60:.0f} s"
    if hours >= 1:
        length = f"{hours:.0f} h {minutes % 60:.0f} min"
    said = f"Waiting for the first capture for {length}." if is_first else f"Nothing new for {length}."
    return said if seconds < LONG_QUIET_S else f"{said} Does the instrument still save into {folder}?"


def _small(words: str) -> str:
    return words[:1].lower() + words[1:]
