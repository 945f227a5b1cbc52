"""Is a switched wire's probe, or a clamp, connected and set as it must be? Doubts that forbid judging levels, not times."""

from collections.abc import Sequence

from loomlight.signal import sanity
from loomlight.signal.capture import Channel
from loomlight.signal.examination import Doubt
from loomlight.signal.quantity import in_words
from loomlight.signal.voltage_drop import undithered_step

ABOUT_LEVELS = frozenset({"upside down", "AC coupling", "x10 mismatch", "clamp"})
"""Doubts with which no level and no height is judged; pulses that lack or are too many still hold."""
TURNED, ACROSS = 0.1, 0.1
"""Of the amplitude: what a wire may stand above, and below, 0 V before it is turned round or lost its steady part."""
RAILS = ((4.5, 5.5), (7.2, 8.8), (10.5, 15.5), (22.0, 30.0))
"""Volts that lines of vehicles are fed with: 5 V, 8 V, and batteries of 12 V and 24 V (common practice, no source)."""
COARSE = 0.3
"""Of the supply: a step above leaves four counts or fewer between the levels."""
CLEAN_LOW = 0.12
"""Of the high level: a line that is merely scaled still goes down to ground."""


def sits_wrong(low: float, high: float, name: str, unit: str) -> Doubt | None:
    """A wire against ground, or a sensor's current, never goes below zero: recorded upside down, or without its steady part.

    Parameters
    ----------
    low, high : float
        State levels, in ``unit``.
    name : str
        Of the channel.
    unit : str
        ``"V"``, ``"A"`` or empty.
    """
    amplitude = high - low
    if amplitude <= 0 or low > -ACROSS * amplitude:
        return None
    levels = f"{name!r} goes from {in_words(low, unit)} to {in_words(high, unit)}"
    if unit == "A":
        if high < TURNED * amplitude:
            text = f"{levels}, below zero: the clamp seems to sit the wrong way round."
            return Doubt("upside down", text, "Turn the clamp, its arrow along the current, and repeat the capture.")
        text = f"{levels}, across zero: the clamp was zeroed while current flowed, or the input is AC coupled."
        return Doubt(
            "clamp", text, "Zero the clamp off the wire, set the input to DC coupling, and repeat the capture."
        )
    if high < TURNED * amplitude:
        text = f"{levels}, below 0 V: probe and ground lead swapped, or the input inverted or AC coupled."
        do = "Ground lead to battery negative, input on DC coupling and not inverted; then repeat the capture."
        return Doubt("upside down", text, do)
    text = f"{levels}, across 0 V: the input seems to be AC coupled, or the ground lead is not at ground."
    return Doubt(
        "AC coupling", text, "Set the input to DC coupling, the ground lead to ground, and repeat the capture."
    )


def ten_times_off(low: float, high: float, name: str, supplies: Sequence[float]) -> Doubt | None:
    """The high level fits no supply as it is, but would ten times larger or smaller, and the low level is at ground.

    Parameters
    ----------
    low, high : float
        State levels, volts.
    name : str
        Of the channel.
    supplies : sequence of float
        What is known to feed the line, volts; empty: one of the usual `RAILS`.
    """
    rails = [(0.85 * one, 1.1 * one) for one in supplies] or list(RAILS)
    if high <= 0 or abs(low) > CLEAN_LOW * high:
        return None
    if any(bottom <= high <= top for bottom, top in RAILS) or any(bottom <= high <= top for bottom, top in rails):
        return None
    for factor, setting in sanity.FACTORS:
        if any(bottom <= factor * high <= top for bottom, top in rails):
            return sanity.factor_off(name, f"comes up to {in_words(high, 'V')}", factor, "its supply", setting)
    return None


def too_coarse(channel: Channel, supply_v: float) -> Doubt | None:
    """The supply is but a few steps of the converter, as on a range that was chosen for a coil's peak."""
    step = undithered_step(channel)
    if step <= COARSE * supply_v:
        return None
    steps = f"one step of the converter is {in_words(step, 'V')}, the supply about {in_words(supply_v, 'V')}"
    text = f"The range is too coarse for levels: {steps}."
    return Doubt("coarse", text, "Choose the smallest range that holds the peak, or record levels and peak separately.")


def not_about_levels(doubts: Sequence[Doubt]) -> bool:
    """Whether levels may be judged."""
    return not any(one.about in ABOUT_LEVELS for one in doubts)
