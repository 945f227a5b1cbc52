"""The stretch of time and the values that are shown, and the way back to earlier ones."""

import math

MOST_KEPT = 100
SHORTEST_SHARE = 1e-9
Range = tuple[float, float]
Values = dict[str, Range]


class ViewHistory:
    """Begin and end of the view, held inside what there is, with back and forward.

    Attributes
    ----------
    full : tuple of float
        Begin and end of all that can be shown, seconds.
    view : tuple of float
        Begin and end of what is shown.
    values : dict
        Least and greatest value of each lane that does not stand at its own scale, by lane key.
    """

    def __init__(self) -> None:
        self.full = (0.0, 1.0)
        self.view = (0.0, 1.0)
        self.values: Values = {}
        self._back: list[tuple[Range, Values]] = []
        self._forward: list[tuple[Range, Values]] = []
        self._moving = False

    def reset(self, full: tuple[float, float]) -> None:
        """Show all of something new; the way back ends here."""
        low, high = full
        self.full = full if high > low else (low, low + 1.0)
        self.view, self.values = self.full, {}
        self._back.clear()
        self._forward.clear()
        self._moving = False

    def show(self, start_s: float, stop_s: float, *, moving: bool = False, values: Values | None = None) -> None:
        """Show a stretch, held inside the whole with a tenth to spare; ``values`` where those change too.

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
        self._change((begin, begin + length), self.values if values is None else values, moving=moving)

    def show_values(self, values: Values, *, moving: bool = False) -> None:
        """Show other values over the same time."""
        self._change(self.view, values, moving=moving)

    def _change(self, view: Range, values: Values, *, moving: bool) -> None:
        if (view, values) == (self.view, self.values):
            return
        if not (moving and self._moving):
            self._back = [*self._back[-MOST_KEPT + 1 :], (self.view, self.values)]
        self._forward.clear()
        self._moving = moving
        self.view, self.values = view, dict(values)

    def zoom(self, factor: float, around_s: float, *, moving: bool = False) -> None:
        """Make the stretch ``factor`` times as long, ``around_s`` staying where it is."""
        start, stop = self.view
        self.show(around_s + (start - around_s) * factor, around_s + (stop - around_s) * factor, moving=moving)

    def pan(self, share: float) -> None:
        """Move by a share of what is shown."""
        start, stop = self.view
        self.show(start + share * (stop - start), stop + share * (stop - start), moving=True)

    def fit(self) -> None:
        """Show all, every lane at its own scale."""
        self.show(*self.full, values={})

    @property
    def can_go_back(self) -> bool:
        """Whether there is a view before."""
        return bool(self._back)

    @property
    def can_go_forward(self) -> bool:
        """Whether a view was left by going back."""
        return bool(self._forward)

    def back(self) -> None:
        """To the view before."""
        if self._back:
            self._forward.append((self.view, self.values))
            self.view, self.values = self._back.pop()
            self._moving = False

    def forward(self) -> None:
        """To the view that was left by going back."""
        if self._forward:
            self._back.append((self.view, self.values))
            self.view, self.values = self._forward.pop()
            self._moving = False
