"""One measured figure of a signal, with the limit it is held against."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Measure:
    """One line of a table of measurements.

    Attributes
    ----------
    group, name : str
        Under which heading, and what was measured: "timing", "break".
    value : float or None
        In ``unit``; None where the capture cannot show it, and ``note`` says why.
    unit : str
        Base unit, or empty for a ratio or a count.
    limit : str
        The limit in words with its figure; empty where there is none.
    source : str
        Where the limit comes from; empty where there is none.
    kept : bool or None
        Whether the limit is kept; None where there is none, or where it cannot be told.
    note : str
        What the figure rests on.
    low, high : float or None
        Interval of the value, where it is an estimate; None: not known, or no bound.
    """

    group: str
    name: str
    value: float | None
    unit: str
    limit: str = ""
    source: str = ""
    kept: bool | None = None
    note: str = ""
    low: float | None = None
    high: float | None = None


def at_most(
    group: str, name: str, value: float | None, unit: str, most: float, shown: str, source: str, *, note: str = ""
) -> Measure:
    """A measure with an upper limit; ``shown`` is the limit in words."""
    kept = None if value is None else value <= most
    return Measure(group, name, value, unit, f"at most {shown}", source, kept, note)


def at_least(
    group: str, name: str, value: float | None, unit: str, least: float, shown: str, source: str, *, note: str = ""
) -> Measure:
    """A measure with a lower limit; ``shown`` is the limit in words."""
    kept = None if value is None else value >= least
    return Measure(group, name, value, unit, f"at least {shown}", source, kept, note)
