"""A lane's findings, made ready for drawing many of them in every frame."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
import numpy.typing as npt

from loomlight.signal.finding import Finding
from loomlight.viewer.lanes.stretches import Stretches

LASTING = ("frame error", "no response", "weak dominant", "weak recessive")
"""What is true of a whole frame or of a state, not of an event inside it."""


@dataclass(frozen=True, eq=False)
class Layer:
    """Findings that are drawn alike: all severe or all mild, all events or all lasting."""

    severe: bool
    lasting: bool
    stretches: Stretches


class Marks(Sequence[Finding]):
    """Findings with their ends and kinds as arrays.

    Attributes
    ----------
    spans_s : ndarray of float64, shape (n, 2)
        Begin and end, seconds.
    severe, lasting : ndarray of bool, shape (n,)
        Whether the function may suffer; whether it is one of `LASTING`.
    layers : tuple of Layer
        In the order in which they are drawn.
    """

    def __init__(self, findings: Sequence[Finding]) -> None:
        self._findings = tuple(findings)
        self.spans_s = np.array([(one.start_s, one.stop_s) for one in self._findings], np.float64).reshape(-1, 2)
        self.severe: npt.NDArray[np.bool_] = np.array([one.severity == "severe" for one in self._findings], bool)
        self.lasting: npt.NDArray[np.bool_] = np.array([one.kind in LASTING for one in self._findings], bool)
        self.layers = tuple(
            Layer(severe, lasting, Stretches(self.spans_s[chosen]))
            for severe in (False, True)
            for lasting in (True, False)
            if (chosen := (self.severe == severe) & (self.lasting == lasting)).any()
        )

    @overload
    def __getitem__(self, index: int) -> Finding: ...

    @overload
    def __getitem__(self, index: slice) -> Sequence[Finding]: ...

    def __getitem__(self, index: int | slice) -> Finding | Sequence[Finding]:
        return self._findings[index]

    def __len__(self) -> int:
        return len(self._findings)

    def index(self, value: object, start: int = 0, stop: int | None = None) -> int:
        """Where a finding stands; of thousands only those with its ends are compared with it."""
        if isinstance(value, Finding):
            stop = len(self) if stop is None else stop
            same = (self.spans_s[start:stop] == (value.start_s, value.stop_s)).all(axis=1)
            for at in np.flatnonzero(same).tolist():
                if self._findings[start + at] == value:
                    return start + int(at)
        raise ValueError(f"{value!r} is not among them")

    def __contains__(self, value: object) -> bool:
        try:
            self.index(value)
        except ValueError:
            return False
        return True

    def near(self, at_s: float, slack_s: float) -> Finding | None:
        """The finding at a time, give or take ``slack_s``: of several the one whose middle is nearest."""
        hit = np.flatnonzero((self.spans_s[:, 0] - slack_s <= at_s) & (at_s <= self.spans_s[:, 1] + slack_s))
        if not hit.size:
            return None
        return self._findings[hit[np.argmin(np.abs(self.spans_s[hit].mean(axis=1) - at_s))]]
