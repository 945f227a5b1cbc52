"""What a user can mend, said in one line: what, where in the file, what to do.

LoomlightError
├── FileProblem      a file that cannot be used as it is
├── NoSuchChannel    a channel name that the capture does not have
├── UnknownKind      a signal kind that does not exist (yet)
└── CannotUse        data that this step cannot work on, with the reason
"""

from pathlib import Path


class LoomlightError(Exception):
    """Something the user can mend; its text is shown as it is. Any other exception is our own bug."""


class FileProblem(LoomlightError):
    """A file that cannot be used as it is: what is wrong, where in it, what to do."""

    def __init__(self, what: str, *, file: Path, where: str = "", do: str) -> None:
        super().__init__(f"{file.name}{', ' if where else ''}{where}: {what}. {do}.")
        self.what, self.file, self.where, self.do = what, file, where, do


class NoSuchChannel(LoomlightError):
    """A channel was asked for that the capture does not have."""

    def __init__(self, wanted: str, *, source: str, names: tuple[str, ...]) -> None:
        numbered = ", ".join(f"#{number} {name}" for number, name in enumerate(names, start=1))
        super().__init__(f"{source} has no channel {wanted!r}. Choose one of: {numbered}.")
        self.wanted, self.names = wanted, names


class UnknownKind(LoomlightError):
    """A signal kind was asked for that does not exist."""

    def __init__(self, wanted: str, *, known: tuple[str, ...]) -> None:
        super().__init__(f"There is no signal kind {wanted!r}. Choose one of: {', '.join(known)}.")
        self.wanted, self.known = wanted, known


class CannotUse(LoomlightError):
    """The data cannot be worked on in this step; the text says why and what to do."""
