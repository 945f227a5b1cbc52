"""How to capture a kind of signal so that it can be judged."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Recipe:
    """What to set up before the next capture.

    Attributes
    ----------
    length_s : float
        How long, seconds.
    samples_per_s : float
        How fast at least, samples a second.
    coupling : str
        "DC" for nearly everything, and the probe: "DC, ×10 probe".
    where : str
        Where to probe, one sentence.
    switched_on : str
        What must be on or running, one sentence.
    notes : tuple of str
        What else helps, one sentence each.
    """

    length_s: float
    samples_per_s: float
    coupling: str
    where: str
    switched_on: str
    notes: tuple[str, ...] = ()
