"""A line-up: what lays a suspect channel over a known-good one."""

from dataclasses import dataclass
from typing import Literal

By = Literal["shape"]


@dataclass(frozen=True)
class LineUp:
    """The time shift that lays the suspect over the known-good: ``t_good = lag_s + stretch · t_suspect``.

    Attributes
    ----------
    accepted : bool
        Whether it can be relied on; a refused one still holds the best candidate.
    by : {"shape"}
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

    def on_good(self, suspect_s: float) -> float:
        """Time on the known-good's axis that belongs to ``suspect_s``."""
        return self.lag_s + self.stretch * suspect_s

    def on_suspect(self, good_s: float) -> float:
        """Time on the suspect's axis that belongs to ``good_s``."""
        return (good_s - self.lag_s) / self.stretch
