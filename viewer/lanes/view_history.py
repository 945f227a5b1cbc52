"""The stretch of time that is shown, and the way back to earlier ones."""

import math

MOST_KEPT = 100
SHORTEST_SHARE = 1e-9


class ViewHistory:
    """Begin and end of the view, held inside what there is, with back and forward.

    Attributes
    ----------
    full : tuple of float
        Begin and end of all that can be shown, seconds.
    view : tuple of float
        Begin and end of what is shown.
    """

    def __init__(self) -> None:
        self.full = (0.0, 1.0)
        self.view = (0.0, 1.0)
        self._back: list[tuple[float, float]] = []
        self._forward: list[tuple[float, float]] = []
        self._moving = False

    def reset(self, full: tuple[float, float]) -> None:
        """Show all of something new; the way back ends here."""
        low, high = full
        self.full = full if high > low else (low, low + 1.0)
        self.view = self.full
        self._back.clear()
        self._forward.clear()
        self._moving = False

    def show(self, start_s: float, stop_s: float, *, moving: bool = False) -> None:
        """Show a stretch, held inside the whole with a tenth to spare.

        ``moving`` is for one of many small steps (a turning wheel, a dragged lane): all in a row are one step back.
        """
        if not (math.isfinite(start_s) and math.isfinite(stop_s)):
            return
        low, high = self.full
        whole = high - low
        # Never shorter than what the times themselves resolve: a clock time of many digits leaves less room for zooming.
        shortest = max(SHORTEST_SHARE * whole, 256 * math.ulp(max(abs(low), abs(high))))
        length = min(max(abs(stop_s - start_s), shortest), 1.2 * whole)
        middle = 0.5 * (start_s + stop_s)
        begin = min(max(middle - length / 2, low - 0.1 * whole), high + 0.1 * whole - length)
        if (begin, begin + length) == self.view:
            return
        if not (moving and self._moving):
            self._back = [*self._back[-MOST_KEPT + 1 :], self.view]
        self._forward.clear()
        self._moving = moving
        self.view = (begin, begin + length)

    def zoom(self, factor: float, around_s: float, *, moving: bool = False) -> None:
        """Make the stretch ``factor`` times as long, ``around_s`` staying where it is."""
        start, stop = self.view
        self.show(around_s + (start - around_s) * factor, around_s + (stop - around_s) * factor, moving=moving)

    def pan(self, share: float) -> None:
        """Move by a share of what is shown."""
        start, stop = self.view
        self.show(start + share * (stop - start), stop + share * (stop - start), moving=True)

    def fit(self) -> None:
        """Show all."""
        self.show(*self.full)

    def back(self) -> None:
        """To the view before."""
        if self._back:
            self._forward.append(self.view)
            self.view = self._back.pop()
            self._moving = False

    def forward(self) -> None:
        """To the view that was left by going back."""
        if self._forward:
            self._back.append(self.view)
            self.view = self._forward.pop()
            self._moving = False
