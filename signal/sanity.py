"""Is the measurement itself sound? Each doubt says what was seen, what it may mean, and what to do."""

from collections.abc import Iterable

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Doubt
from loomlight.signal.levels import StateLevels

LEAST_SAMPLES_A_BIT = 8.0
GOOD_SAMPLES_A_BIT = 20.0
LOWEST_BUS_SUPPLY_V, HIGHEST_BUS_SUPPLY_V = 5.5, 40.0
"""Below or above, a 12 V or 24 V bus is not plausible (ISO 17987-4: 8 to 18 V, and 24 V systems to 36 V)."""
GAP_SHARE = 0.5
RAIL_SHARE = 0.02
FACTORS = (
    (10.0, "×10 on the probe but ×1 on the instrument"),
    (0.1, "×1 on the probe but ×10 on the instrument"),
)
"""How far what was recorded is off where the probe's factor was not set on the instrument, and how that comes about."""


def require_volts(channel: Channel) -> None:
    """Refuse a channel whose unit is known and is not volts.

    Raises
    ------
    CannotUse
        With what to do. An unknown unit passes: it becomes a doubt.
    """
    if channel.unit not in ("V", None):
        raise CannotUse(
            f"{channel.name!r} is in {channel.unit}, and this signal kind judges volts. Choose a voltage channel, or "
            "export the capture again in volts."
        )


def require_step(channel: Channel) -> None:
    """Refuse a channel without a time step of its own.

    Raises
    ------
    CannotUse
        With what to do.
    """
    if channel.step_s is None:
        raise CannotUse(f"{channel.name!r} has no even time step. Export every sample.")


def no_number(channel: Channel) -> CannotUse:
    """For a kind that can say nothing at all of a channel without a number."""
    return CannotUse(f"No sample of {channel.name!r} is a number. Repeat the capture.")


def no_samples(channel: Channel) -> Doubt:
    """Nothing was recorded at all."""
    return Doubt("no samples", f"No sample of {channel.name!r} is a number.", "Repeat the capture.")


def unit_unknown(channel: Channel) -> Doubt | None:
    """The file does not say that these are volts."""
    if channel.unit is not None:
        return None
    return Doubt(
        "unit unknown",
        f"The file gives no unit for {channel.name!r}; the figures are taken as volts.",
        "Check the unit on the instrument, or export with units.",
    )


def scale_mismatch(levels: StateLevels, name: str) -> Doubt | None:
    """The levels fit no 12 V or 24 V bus, but would if the probe factor were ten times off."""
    if LOWEST_BUS_SUPPLY_V <= levels.high <= HIGHEST_BUS_SUPPLY_V or levels.high <= 0:
        return None
    for factor, setting in FACTORS:
        if 8.0 <= levels.high * factor <= 32.0:
            return factor_off(name, f"rests at {levels.high:.3g} V", factor, "a bus", setting)
    return Doubt(
        "level implausible",
        f"{name!r} rests at {levels.high:.3g} V, which no 12 V or 24 V bus does.",
        "Check the probe, its factor and the pin.",
    )


def factor_off(name: str, as_it_is: str, factor: float, would_be: str, setting: str) -> Doubt:
    """One of the `FACTORS` would make it right: ``as_it_is`` is what is seen, ``would_be`` what it would be."""
    text = f"{name!r} {as_it_is}; {factor:g} times that would be {would_be}: {setting}?"
    return Doubt("x10 mismatch", text, "Set the same factor on probe and instrument and repeat the capture.")


def ac_coupling(levels: StateLevels, name: str) -> Doubt | None:
    """A bus never swings below ground: one across 0 V lost its steady part, one below it was recorded upside down."""
    if levels.amplitude <= 0 or levels.low > -0.1 * levels.amplitude:
        return None
    if levels.high < 0.1 * levels.amplitude:
        return Doubt(
            "upside down",
            f"{name!r} swings from {levels.low:.3g} V to {levels.high:.3g} V, below 0 V: probe and ground lead seem to be "
            "swapped, or the input inverted.",
            "Connect the ground lead to battery negative, set the input not to invert, and repeat the capture.",
        )
    return Doubt(
        "AC coupling",
        f"{name!r} swings from {levels.low:.3g} V to {levels.high:.3g} V, across 0 V: the input seems to be AC coupled.",
        "Set the input to DC coupling and repeat the capture.",
    )


def too_few_samples(samples_a_bit: float, name: str) -> Doubt | None:
    """Too few samples a bit to tell a dropout from a slow edge."""
    return fewer_samples(samples_a_bit, name, "a bit", least=LEAST_SAMPLES_A_BIT, good=GOOD_SAMPLES_A_BIT)


def fewer_samples(samples: float, name: str, within: str, *, least: float, good: float | None = None) -> Doubt | None:
    """Fewer samples than needed ``within`` what has to be seen: "a period", "within an on-time"."""
    if samples >= least:
        return None
    are_good = f" and {good:g} are good" if good is not None else ""
    return Doubt(
        "too few samples",
        f"{name!r} has {samples:.1f} samples {within}; {least:g} are needed{are_good}.",
        "Record with a faster sample rate (a shorter time base).",
    )


def clipped(channel: Channel, greatest: float) -> Doubt | None:
    """Samples that stand at the instrument's rail are at least that, not that."""
    count = sum(stop - start for start, stop in channel.clipped)
    if count <= RAIL_SHARE * channel.samples.size:
        return None
    return Doubt(
        "clipping",
        f"{count} of {channel.samples.size} samples of {channel.name!r} are beyond the instrument's range "
        f"(about {greatest:.3g} V).",
        "Choose a larger range and repeat the capture.",
    )


def mostly_gaps(channel: Channel) -> Doubt | None:
    """More than half of the channel was not acquired."""
    count = sum(stop - start for start, stop in channel.gaps)
    if count <= GAP_SHARE * channel.samples.size:
        return None
    return Doubt(
        "gaps",
        f"{count} of {channel.samples.size} samples of {channel.name!r} were not acquired.",
        "Let the instrument fill its memory before saving.",
    )


def of_recording(channel: Channel, greatest: float) -> list[Doubt | None]:
    """What is asked of every channel: its unit, gaps, and samples at the rail, where ``greatest`` is its greatest value."""
    return [unit_unknown(channel), mostly_gaps(channel), clipped(channel, greatest)]


def doubts_among(found: Iterable[Doubt | None]) -> tuple[Doubt, ...]:
    """Those questions that left a doubt."""
    return tuple(one for one in found if one is not None)
