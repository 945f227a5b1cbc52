"""What a line-up by frame needs to know of a bus, whichever bus it is."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Word:
    """A piece of a frame that looks the same wherever it says the same: a break, a byte with its start and stop bit.

    Attributes
    ----------
    start_s, stop_s : float
        Seconds on the channel's axis.
    says : int
        What it says: two words that say the same ought to look alike.
    talker : str
        Who drives the line during it.
    """

    start_s: float
    stop_s: float
    says: int
    talker: str


@dataclass(frozen=True)
class BusFrame:
    """One frame of any bus.

    Attributes
    ----------
    start_s, stop_s : float
        Seconds on the channel's axis.
    identifier : int or None
        None where it could not be read.
    bit_s : float
        Bit time, seconds.
    words : tuple of Word
        In order, each starting with an edge to dominant.
    """

    start_s: float
    stop_s: float
    identifier: int | None
    bit_s: float
    words: tuple[Word, ...]
