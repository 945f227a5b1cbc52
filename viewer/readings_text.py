"""Readings of the two cursors in words."""

from collections.abc import Sequence

from loomlight.signal.quantity import in_words
from loomlight.signal.readings import Readings
from loomlight.viewer.lanes.specs import Trace
from loomlight.viewer.roles import ROLES


def readings_text(first_s: float, second_s: float, rows: Sequence[tuple[Trace, Readings]]) -> str:
    """Times and their difference, then a line for each trace."""
    apart_s = second_s - first_s
    rate = f"   1/Δt {in_words(1 / abs(apart_s), 'Hz', digits=4)}" if apart_s else ""
    lines = [
        f"A {in_words(first_s, 's', digits=6)}   B {in_words(second_s, 's', digits=6)}   "
        f"Δt {in_words(apart_s, 's', digits=4)}{rate}"
    ]
    lines += [_row(trace, found) for trace, found in rows]
    return "\n".join(lines)


def _row(trace: Trace, found: Readings) -> str:
    unit = trace.channel.unit or ""
    sign = -1.0 if trace.upside_down else 1.0

    def shown(value: float | None) -> str:
        return "–" if value is None else in_words(sign * value, unit)

    marker = ROLES[trace.role].marker
    return (
        f"{marker} {trace.label}:  A {shown(found.first_value)}   B {shown(found.second_value)}   "
        f"difference {shown(found.step_value)}   mean {shown(found.mean)}   "
        f"peak to peak {'–' if found.peak_to_peak is None else in_words(found.peak_to_peak, unit)}"
    ).strip()
