"""Where times and values stand on the screen."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from PySide6.QtCore import QRectF

Places = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Scale:
    """Mapping of one lane.

    Attributes
    ----------
    rect : QRectF
        The lane's plotting area, pixels.
    start_s, stop_s : float
        Times at its left and right edge.
    low, high : float
        Values at its lower and upper edge.
    """

    rect: QRectF
    start_s: float
    stop_s: float
    low: float
    high: float

    def x_of(self, times_s: npt.ArrayLike) -> Places:
        """Pixels of times."""
        a_second = self.rect.width() / ((self.stop_s - self.start_s) or 1.0)
        return self.rect.left() + (np.asarray(times_s, dtype=np.float64) - self.start_s) * a_second

    def y_of(self, values: npt.ArrayLike, *, held: bool = True) -> Places:
        """Pixels of values; ``held`` keeps them a little outside the lane at most (which would bend sloping lines)."""
        a_unit = self.rect.height() / ((self.high - self.low) or 1.0)
        y: Any = self.rect.bottom() - (np.asarray(values, dtype=np.float64) - self.low) * a_unit
        return np.minimum(np.maximum(y, self.rect.top() - 4), self.rect.bottom() + 4) if held else y

    def time_at(self, x: float) -> float:
        """Time at a pixel."""
        return self.start_s + (x - self.rect.left()) / max(self.rect.width(), 1.0) * (self.stop_s - self.start_s)

    def value_at(self, y: float) -> float:
        """Value at a pixel."""
        return self.low + (self.rect.bottom() - y) / max(self.rect.height(), 1.0) * (self.high - self.low)
