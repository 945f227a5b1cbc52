"""What every maker of signals hands over."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from loomlight.signal.beside import Beside
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.examination import Conditions


@dataclass(frozen=True, eq=False)
class Made:
    """A made capture, and what is true of it.

    Attributes
    ----------
    capture : Capture
        All channels on one axis.
    channel : str
        Name of the one to judge.
    kind : str
        Key of the signal kind.
    fault : str
        What was put in; empty for a clean one.
    conditions : Conditions
        What a person would know beside it.
    good : Capture or None
        A known-good of another day; its channel has the same name.
    good_besides : tuple of Beside
        What stands beside the known-good's channel, where the kind takes such.
    expected : tuple of str
        The pictures (`Verdict.picture`) that are right; empty: any faulty verdict is.
    limit_broken : bool
        Whether the fault at this size breaks a limit of the kind.
    truth : mapping
        Figures: ohms, tooth, count…
    """

    capture: Capture
    channel: str
    kind: str
    fault: str
    conditions: Conditions = field(default_factory=Conditions)
    good: Capture | None = None
    good_besides: tuple[Beside, ...] = ()
    expected: tuple[str, ...] = ()
    limit_broken: bool = True
    truth: Mapping[str, float] = field(default_factory=dict)

    @property
    def suspect(self) -> Channel:
        """The channel to judge."""
        return self.capture.channel(self.channel)


class Maker(Protocol):
    """A module that makes one kind of signal."""

    KIND: str
    FAULTS: tuple[str, ...]

    def made(
        self,
        fault: str,
        rng: np.random.Generator,
        *,
        noise_db: float | None = None,
        samples_per_s: float | None = None,
    ) -> Made:
        """One instance, random but for what is given; ``fault`` empty for a clean one.

        ``noise_db`` is the ratio of the signal's standard deviation to the noise's; None: the instrument's own noise.
        ``samples_per_s`` None: a usual rate of the kind.
        """
