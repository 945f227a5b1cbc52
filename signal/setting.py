"""A figure of a signal kind that a person may change."""

import math
from dataclasses import dataclass

from loomlight.signal.errors import CannotUse

PRACTICE = "common practice, no source"
"""The source of a figure of the trade that no standard or data sheet gives."""


@dataclass(frozen=True)
class Setting:
    """A limit that is known from memory only, or something that only a person knows.

    Attributes
    ----------
    key : str
        Name on the command line and in files: ``"teeth"``.
    title : str
        Name on the screen: "teeth on the wheel, gap included".
    unit : str
        Base unit, or empty for a ratio or a count.
    default : float or None
        What holds where nothing was given; None: found from the capture, or not known.
    source : str
        Where the default comes from: the published source, "from memory", or "common practice, no source".
    lowest, highest : float
        What makes sense, both included.
    hint : str
        What it is for, one sentence; empty where the title says it.
    """

    key: str
    title: str
    unit: str
    default: float | None
    source: str
    lowest: float = -math.inf
    highest: float = math.inf
    hint: str = ""

    def checked(self, value: float) -> float:
        """The value, if it makes sense.

        Raises
        ------
        CannotUse
            Naming what would make sense.
        """
        if math.isfinite(value) and self.lowest <= value <= self.highest:
            return value
        unit = f" {self.unit}" if self.unit else ""
        raise CannotUse(
            f"{self.title}: {value:g}{unit} makes no sense. Give {self.lowest:g} to {self.highest:g}{unit}."
            if math.isfinite(self.lowest) and math.isfinite(self.highest)
            else f"{self.title}: {value:g}{unit} makes no sense."
        )


def setting_named(settings: tuple[Setting, ...], key: str, kind: str) -> Setting:
    """The setting with this key.

    Raises
    ------
    CannotUse
        Naming those that the kind has.
    """
    for setting in settings:
        if setting.key == key:
            return setting
    known = ", ".join(setting.key for setting in settings)
    has = f"It has: {known}." if known else "It has none."
    raise CannotUse(f"{kind} has no setting {key!r}. {has}")
