"""Readings of the cursors in words."""

from collections.abc import Mapping, Sequence

from loomlight.signal.pulses import Pulses
from loomlight.signal.readings import Readings
from loomlight.viewer.lanes.cursors import LEVEL_NAMES, Pair
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.units import on_screen

PER = ((1e5, 1e6, "µs"), (1e2, 1e3, "ms"), (0.0, 1.0, "s"))
"""From which slew on, a second, it is told by which part of one."""


def times_text(first_s: float, second_s: float) -> str:
    """Where A and B stand, and how far apart."""
    apart_s = second_s - first_s
    rate = f"   1/Δt {on_screen(1 / abs(apart_s), 'Hz', digits=4)}" if apart_s else ""
    return (
        f"A {on_screen(first_s, 's', digits=6)}   B {on_screen(second_s, 's', digits=6)}   "
        f"Δt {on_screen(apart_s, 's', digits=4)}{rate}"
    )


def levels_text(lane: Lane, pair: Pair) -> str:
    """Where C and D of a lane stand, and how far apart."""
    words = [
        f"{name} {on_screen(value, lane.unit, digits=4)}"
        for name, value in zip(LEVEL_NAMES, pair, strict=True)
        if value is not None
    ]
    first, second = pair
    if first is not None and second is not None:
        words.append(f"{'ΔV' if lane.unit == 'V' else 'difference'} {on_screen(second - first, lane.unit, digits=4)}")
    return f"{lane.key}:  {'   '.join(words)}"


def readings_text(trace: Trace, found: Readings, between: Pulses | None) -> str:
    """One trace at the cursors and between them; its pulses in a second line, once they are known."""
    unit = trace.channel.unit or ""
    sign = -1.0 if trace.upside_down else 1.0

    def shown(value: float | None) -> str:
        return "–" if value is None else on_screen(sign * value, unit)

    values = (
        f"{trace.marker} {trace.label}:  A {shown(found.first_value)}   B {shown(found.second_value)}   "
        f"difference {shown(found.step_value)}   mean {shown(found.mean)}   "
        f"RMS {'–' if found.rms is None else on_screen(found.rms, unit)}   "
        f"peak to peak {'–' if found.peak_to_peak is None else on_screen(found.peak_to_peak, unit)}"
    ).strip()
    if found.missing:
        values += f"   {100 * found.missing:.2g} % not acquired"
    if found.is_clipped:
        values += "   clipped at the instrument's rail: the signal went further"
    return values if between is None else f"{values}\n      {pulses_text(between, unit, is_turned=trace.upside_down)}"


def pulses_text(found: Pulses, unit: str, *, is_turned: bool = False) -> str:
    """Edges, duty, rate and slopes; and why what is missing cannot be told."""
    words = []
    if found.low is not None and found.high is not None:
        states = (-found.high, -found.low) if is_turned else (found.low, found.high)
        words.append(f"states {on_screen(states[0], unit)}, {on_screen(states[1], unit)}")
    if found.edges is not None:
        words.append(f"edges {'at least ' if found.is_least else ''}{found.edges}")
    if found.duty is not None:
        words.append(f"duty {100 * (1 - found.duty if is_turned else found.duty):.3g} %")
    if found.rate_hz is not None:
        words.append(f"rate {on_screen(found.rate_hz, 'Hz', digits=4)}")
    slopes = [("rise", found.rise_s, found.rise_slew), ("fall", found.fall_s, found.fall_slew)]
    for name, length_s, slew in slopes if not is_turned else _turned(slopes):
        if length_s is not None and slew is not None:
            words.append(f"{name} {on_screen(length_s, 's')} (slew {slew_words(slew, unit)})")
    if found.why:
        words.append(
            f"cannot tell the rest: {'; '.join(found.why)}" if words else f"cannot tell: {'; '.join(found.why)}"
        )
    return "   ".join(words)


def _turned(
    slopes: Sequence[tuple[str, float | None, float | None]],
) -> list[tuple[str, float | None, float | None]]:
    """What rises falls where the trace is drawn with its sign changed."""
    (rise, *rising), (fall, *falling) = slopes
    return [
        (name, length_s, -slew if slew is not None else None)
        for name, (length_s, slew) in ((rise, falling), (fall, rising))
    ]


def slew_words(slew: float, unit: str) -> str:
    """A slew a second, told by the part of one that fits."""
    share, part = next((share, part) for least, share, part in PER if abs(slew) >= least)
    return f"{on_screen(slew / share, unit)}/{part}"


def all_text(
    times_s: Pair,
    levels: Sequence[tuple[Lane, Pair]],
    rows: Sequence[tuple[Trace, Readings]],
    between: Mapping[int, Pulses],
) -> str:
    """Everything the cursors tell; pulses of a row by its number, as far as they are known."""
    lines = [levels_text(lane, pair) for lane, pair in levels]
    if times_s[0] is not None and times_s[1] is not None:
        lines.insert(0, times_text(times_s[0], times_s[1]))
    lines += [readings_text(trace, found, between.get(number)) for number, (trace, found) in enumerate(rows)]
    return "\n".join(lines)
