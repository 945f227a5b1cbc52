"""A dip of the supply held against the start profiles of ISO 16750-2, depth by duration."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Row = npt.NDArray[np.float64]

SOURCE = (
    "ISO 16750-2, start profile (level I as printed in a test generator's settings; 9.5 V, levels II to IV and 24 V from "
    "memory)"
)
DEPTHS = 24
SLACK_V = 0.1
"""An instrument's own doubt: a dip that goes this little deeper stays within."""


@dataclass(frozen=True)
class StartProfile:
    """One level of the start profile.

    Attributes
    ----------
    name : str
        ``"I"`` to ``"IV"``.
    lowest_v, plateau_v, top_v : float
        Voltage while the starter pulls in; while it turns, lower end of the ripple; before and after.
    fall_s, lowest_s, rise_s, plateau_s, recovery_s : float
        Fall, hold at the lowest, rise to the plateau, plateau, rise to the end.
    """

    name: str
    lowest_v: float
    plateau_v: float
    top_v: float
    fall_s: float
    lowest_s: float
    rise_s: float
    plateau_s: float
    recovery_s: float

    def longest_below(self, volts: float) -> float:
        """How long the profile is below a voltage, seconds."""
        if volts < self.lowest_v:
            return 0.0
        held = self.lowest_s + self.fall_s * min((volts - self.lowest_v) / (self.top_v - self.lowest_v), 1.0)
        if volts < self.plateau_v:
            return held + self.rise_s * (volts - self.lowest_v) / (self.plateau_v - self.lowest_v)
        end = min((volts - self.plateau_v) / (self.top_v - self.plateau_v), 1.0)
        return held + self.rise_s + self.plateau_s + self.recovery_s * end


LEVELS_12 = (
    StartProfile("I", 8.0, 9.5, 12.0, 5e-3, 15e-3, 50e-3, 1.0, 40e-3),
    StartProfile("IV", 6.0, 6.5, 12.0, 5e-3, 15e-3, 50e-3, 10.0, 100e-3),
    StartProfile("II", 4.5, 6.5, 12.0, 5e-3, 15e-3, 50e-3, 10.0, 100e-3),
    StartProfile("III", 3.0, 5.0, 12.0, 5e-3, 15e-3, 50e-3, 1.0, 100e-3),
)
LEVELS_24 = (
    StartProfile("I", 10.0, 20.0, 24.0, 10e-3, 50e-3, 50e-3, 1.0, 40e-3),
    StartProfile("II", 8.0, 15.0, 24.0, 10e-3, 50e-3, 50e-3, 10.0, 100e-3),
    StartProfile("III", 6.0, 10.0, 24.0, 10e-3, 50e-3, 50e-3, 1.0, 40e-3),
)


def levels_for(system_v: float) -> tuple[StartProfile, ...]:
    """The levels of a 12 V or a 24 V system, the mildest first."""
    return LEVELS_24 if system_v > 18.0 else LEVELS_12


def within(profile: StartProfile, volts: Row, step_s: float, *, below_v: float) -> bool:
    """Whether a dip is at no voltage longer below it than the profile is.

    Parameters
    ----------
    profile : StartProfile
        One level.
    volts : ndarray, shape (n,)
        The dip, finite.
    step_s : float
        Sample spacing, seconds.
    below_v : float
        Lowest working voltage: what is above it is no dip.
    """
    ordered = np.sort(volts)
    depths = np.linspace(profile.lowest_v, max(below_v, profile.lowest_v), DEPTHS)
    if ordered.size and ordered[0] < profile.lowest_v - SLACK_V:
        return False
    lasted = np.searchsorted(ordered, depths - SLACK_V) * step_s
    allowed = np.array([profile.longest_below(float(one)) for one in depths])
    return bool((lasted <= allowed + 2 * step_s).all())


def levels_kept(system_v: float, volts: Row, step_s: float, *, below_v: float) -> tuple[str, ...]:
    """Names of the levels that a dip stays within, the mildest first; empty where it leaves them all."""
    return tuple(one.name for one in levels_for(system_v) if within(one, volts, step_s, below_v=below_v))
