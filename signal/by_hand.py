"""A line-up that is made by hand: moved, stretched about a pinned point, and scored like any other."""

import math
from dataclasses import dataclass, replace

from loomlight.signal.capture import Channel
from loomlight.signal.laid_fit import laid_fit
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.quantity import in_words

MOST_STRETCH = 5.0
"""Either way: by hand a slow capture may be held against a fast one, but nothing is folded into a point."""
MOST_PINS = 2


@dataclass(frozen=True)
class Hand:
    """Where the known-good was put: ``t_good = lag_s + stretch · t_suspect``.

    Attributes
    ----------
    lag_s, stretch : float
        As in a line-up.
    pins : tuple of (float, float)
        Times on the suspect's and on the known-good's axis that stay on each other; at most two.
    """

    lag_s: float
    stretch: float = 1.0
    pins: tuple[tuple[float, float], ...] = ()

    def moved(self, at_s: float, by_s: float) -> "Hand":
        """Draw the known-good's point that lies at ``at_s`` to ``at_s + by_s``, both on the suspect's axis.

        With nothing pinned the whole is shifted; with one pin it is stretched about it; with two it stays.
        """
        if len(self.pins) >= MOST_PINS or not (math.isfinite(at_s) and math.isfinite(by_s)):
            return self
        if not self.pins:
            return replace(self, lag_s=self.lag_s - self.stretch * by_s)
        own_s, good_s = self.pins[0]
        reach_s, there_s = at_s + by_s - own_s, self.lag_s + self.stretch * at_s - good_s
        stretch = there_s / reach_s if reach_s != 0 else math.inf
        if not 1.0 / MOST_STRETCH <= stretch <= MOST_STRETCH:
            return self
        return replace(self, lag_s=good_s - stretch * own_s, stretch=stretch)

    def pinned(self, at_s: float) -> "Hand":
        """Pin what lies on each other at ``at_s``, suspect's axis; a third pin is not taken, nor one on another."""
        if len(self.pins) >= MOST_PINS or not math.isfinite(at_s) or any(at_s == own_s for own_s, _ in self.pins):
            return self
        return replace(self, pins=(*self.pins, (at_s, self.lag_s + self.stretch * at_s)))

    def unpinned(self) -> "Hand":
        """Take all pins away; everything stays where it is."""
        return replace(self, pins=())


def start_of(own: LineUp) -> Hand:
    """Where the hand begins: at the tool's own answer."""
    return Hand(own.lag_s, own.stretch)


def scored(suspect: Channel, good: Channel, hand: Hand, own: LineUp, progress: Progress = unwatched) -> LineUp:
    """The line-up that a hand made, with its fit, beside what the tool's own answer is.

    Parameters
    ----------
    suspect, good : Channel
        The suspect of the form ``even`` or ``pairs``.
    hand : Hand
        Where the known-good was put.
    own : LineUp
        The tool's own answer.
    progress : Progress
        0 to 1.

    Returns
    -------
    LineUp
        ``by`` is "hand"; accepted where the two have time in common: whoever laid them answers for it. ``sureness`` is not
        known, since nothing else was tried.
    """
    placed = LineUp(
        accepted=True,
        by="hand",
        lag_s=hand.lag_s,
        stretch=hand.stretch,
        fit=0.0,
        sureness=math.nan,
        polarity=own.polarity,
        overlap_s=0.0,
        repeats_s=None,
        gain=1.0,
        offset=0.0,
        reason="",
    )
    fit = laid_fit(suspect, good, placed, progress)
    likeness = own.polarity * fit.likeness
    shared = fit.overlap_s > 0
    return replace(
        placed,
        accepted=shared,
        fit=max(likeness, 0.0),
        overlap_s=fit.overlap_s,
        gain=fit.gain,
        offset=fit.offset,
        reason=_told(own) if shared else "The two have no time in common where they were put.",
    )


def _told(own: LineUp) -> str:
    if not own.accepted:
        return f"Made by hand; the tool's own answer was refused: {own.reason}"
    stretched = f", stretched by {own.stretch:.5g}" if abs(own.stretch - 1.0) >= 5e-6 else ""
    return (
        f"Made by hand; the tool's own answer, by {own.by}, is shifted by {in_words(own.lag_s, 's', digits=5)}{stretched}, "
        f"fit {own.fit:.2f}."
    )
