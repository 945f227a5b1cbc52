"""Figures over all dropouts of one LIN wire."""

from dataclasses import dataclass

from loomlight.signal.lin_places import FramePlace
from loomlight.signal.recurrence import SURE_P, Recurrence
from loomlight.signal.spans import Spans


@dataclass(frozen=True)
class TalkerShare:
    """One talker's part in the dropouts.

    Attributes
    ----------
    talker : str
        ``"commander"`` or ``"response 0x21"``.
    episodes : int
        Those that begin while it drives.
    share : float
        Its share of the time in which a dropout could be seen.
    p : float
        How probable as many are if the talkers made no difference; 1 at most.
    """

    talker: str
    episodes: int
    share: float
    p: float


@dataclass(frozen=True, eq=False)
class DropoutStatistics:
    """Figures over all dropouts of one wire, on whichever of its channels they show.

    Attributes
    ----------
    spans : ndarray, shape (n, 2)
        Dropouts on the suspect's axis, seconds.
    episodes : ndarray, shape (m, 2)
        Those that belong together, as stretches.
    seen_s : float
        For how long the line was driven, so that a dropout could show, seconds.
    places : tuple of FramePlace or None
        Where in a frame each begins.
    talkers : tuple of TalkerShare
        Every talker that drove, the one with the most episodes first.
    each, together : Recurrence or None
        How dropouts recur, and how episodes do; None where there are too few.
    """

    spans: Spans
    episodes: Spans
    seen_s: float
    places: tuple[FramePlace | None, ...]
    talkers: tuple[TalkerShare, ...]
    each: Recurrence | None
    together: Recurrence | None

    @property
    def tied_to(self) -> str:
        """The talker that the dropouts are tied to; empty where chance explains their shares, or only one talker drove."""
        first = self.talkers[0] if len(self.talkers) > 1 else None
        return first.talker if first is not None and first.p <= SURE_P else ""
