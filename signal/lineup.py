"""A line-up: what lays a suspect channel over a known-good one."""

from dataclasses import dataclass, field, replace
from typing import Literal

from loomlight.signal.laid import Laid
from loomlight.signal.spans import Spans
from loomlight.signal.tolerance_band import Envelope

By = Literal["shape", "frame", "cycle", "hand"]
WantedBy = Literal["auto", "shape", "frame", "cycle"]
WAYS: tuple[WantedBy, ...] = ("auto", "shape", "frame", "cycle")
"""What can be asked for; a line-up by hand is made in the window."""


@dataclass(frozen=True)
class LineUp:
    """The time shift that lays the suspect over the known-good: ``t_good = lag_s + stretch · t_suspect``.

    Attributes
    ----------
    accepted : bool
        Whether it can be relied on; a refused one still holds the best candidate.
    by : {"shape", "frame", "cycle", "hand"}
        How it was found.
    lag_s : float
        Seconds; both times on their own file's axis, start included.
    stretch : float
        Ratio of the known-good's clock to the suspect's.
    fit : float
        0 to 1: size of the normalised cross-correlation over the overlap.
    sureness : float
        0 to 1: how far the best stands above its rivals and above chance.
    polarity : {1, -1}
        -1 where the suspect is upside down against the known-good.
    overlap_s : float
        Length of the stretch that both cover, seconds.
    repeats_s : float or None
        The period at which the answer repeats (equally good line-ups), else None.
    gain, offset : float
        Value fit over the overlap: suspect ≈ gain · good + offset, in the channels' unit.
    reason : str
        One sentence: why it was accepted or refused.
    why : str
        One sentence: which way was chosen, and why; empty where it was asked for.
    laid : Laid or None
        By frame and by cycle: where each piece lies; ``lag_s`` and ``stretch`` are then what fits all of them best.
    envelope : Envelope or None
        Where the known-good was captured several times: the band around it, on its axis.
    """

    accepted: bool
    by: By
    lag_s: float
    stretch: float
    fit: float
    sureness: float
    polarity: Literal[1, -1]
    overlap_s: float
    repeats_s: float | None
    gain: float
    offset: float
    reason: str
    why: str = ""
    laid: Laid | None = field(default=None, repr=False, compare=False)
    envelope: Envelope | None = field(default=None, repr=False, compare=False)

    def on_good(self, suspect_s: float) -> float:
        """Time on the known-good's axis that belongs to ``suspect_s``."""
        return self.lag_s + self.stretch * suspect_s

    def on_suspect(self, good_s: float) -> float:
        """Time on the suspect's axis that belongs to ``good_s``."""
        return (good_s - self.lag_s) / self.stretch

    def spans_on_suspect(self, spans_s: Spans) -> Spans:
        """Stretches of the known-good's axis on the suspect's; shape (n, 2)."""
        here: Spans = (spans_s - self.lag_s) / self.stretch
        return here

    def turned(self) -> "LineUp":
        """The same, with the known-good in the suspect's place."""
        return replace(self, lag_s=-self.lag_s / self.stretch, stretch=1.0 / self.stretch, laid=None)


def refused(by: By, reason: str, *, stretch: float = 1.0) -> LineUp:
    """A line-up that could not be begun: nothing laid over anything, and why.

    Parameters
    ----------
    by : str
        The way that was tried.
    reason : str
        One sentence for the user.
    stretch : float
        What is known of the two clocks all the same.
    """
    return LineUp(
        accepted=False,
        by=by,
        lag_s=0.0,
        stretch=stretch,
        fit=0.0,
        sureness=0.0,
        polarity=1,
        overlap_s=0.0,
        repeats_s=None,
        gain=1.0,
        offset=0.0,
        reason=reason,
    )
