"""Where a LIN line stands away from its known-good although no limit of the bus says so."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from loomlight.signal.band import Band, out_of_band, widened
from loomlight.signal.examination import Conditions
from loomlight.signal.finding import Finding
from loomlight.signal.lin_examination import LineReading, LinExamination
from loomlight.signal.lin_words import BYTE_BITS
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.spans import spans_of, touched

HALF_SHARE = 0.1
"""Of the node's supply, either way (common practice, no source)."""
SLACK_BITS = 0.3
"""Slopes and capacitances differ from node to node: an edge may come this much earlier or later."""
APART_BITS = float(BYTE_BITS)
"""Stretches no further apart than a byte are one."""


def half_width(reading: LineReading, conditions: Conditions) -> float | None:
    """What was given, else a tenth of the supply; None where that is not known."""
    if conditions.within_v is not None:
        return conditions.within_v
    return HALF_SHARE * reading.supply.volts if reading.supply is not None else None


def away_from_the_good(
    suspect: LinExamination,
    good: LinExamination,
    lineup: LineUp,
    conditions: Conditions,
    told: Sequence[Finding],
    progress: Progress = unwatched,
) -> list[Finding]:
    """Stretches out of the band that no finding tells already, each mild: no receiver reads them wrongly.

    Only where the two ought to look alike: recorded together, or laid frame by frame and saying the same. A known-good of
    another day is scaled by the two resting levels, since the supply was another.

    Parameters
    ----------
    suspect, good : LinExamination
        Of lines that talk.
    lineup : LineUp
        Accepted.
    conditions : Conditions
        Of the measurement.
    told : sequence of Finding
        All others.
    progress : Progress
        0 to 1.
    """
    half_v, bit_s = half_width(suspect.line, conditions), suspect.bus.bit_rate if suspect.bus else None
    if half_v is None or not bit_s or not (conditions.same_moment or lineup.laid is not None):
        return []
    bit_s = 1.0 / bit_s
    gain = 1.0 if conditions.same_moment else _scale(suspect.line, good.line)
    band = Band(widened(half_v, suspect.channel, good.channel), SLACK_BITS * bit_s, gain)
    found = out_of_band(suspect.channel, good.channel, lineup, band, join_s=APART_BITS * bit_s, progress=progress)
    own = spans_of([(one.start_s, one.stop_s) for one in told if one.channel == suspect.channel.name])
    is_told = touched(np.array([(one.start_s, one.stop_s) for one in found]).reshape(-1, 2), own)
    kept = [one for one, known in zip(found, is_told.tolist(), strict=True) if not known]
    day = "" if gain == 1.0 else f", taken times {gain:.3g} for the supply of the day"
    return [replace(one, rule=one.rule + day) for one in kept]


def _scale(own: LineReading, other: LineReading) -> float:
    if own.recessive_v is None or not other.recessive_v:
        return 1.0
    return own.recessive_v / other.recessive_v
