"""Dropouts of a suspect beside a known-good: the one is dominant, the other has let go."""

import numpy as np

from loomlight.signal.lin_decode import LinTraffic
from loomlight.signal.lin_examination import LineReading
from loomlight.signal.lin_findings import own_dropouts, without_weak_parts
from loomlight.signal.lineup import LineUp
from loomlight.signal.spans import Spans, common, covered, joined, shrunk, spans_of, touched

EPISODE_GAP_S = 5e-3
"""Dropouts closer than this belong to one episode (common practice, no source)."""
SHORTEST_BITS = 0.04
"""What is left of an edge that came late is shorter than this share of a bit (common practice, no source)."""
LOST_SHARE = 0.5
"""A half or more of a part's dominant time, edges aside, is all of it (common practice, no source)."""
ANCHOR_BITS = 6.0
"""How far a frame of another day may stand from its place, in bits, and still be laid start on start."""


def dropouts(suspect: LineReading, good: LineReading | None, lineup: LineUp | None, *, same_moment: bool) -> Spans:
    """All dropouts of the suspect, in order, on its own axis.

    Without a known-good that lines up, only those too short for any bit can be told. With one, also longer ones, where the
    comparison is fair: everything that was recorded at the same moment, but only headers of another day, since data differ.

    Returns
    -------
    ndarray, shape (n, 2)
        Start and stop, seconds.
    """
    spans = _seen_for_a_sample(own_dropouts(suspect), suspect)
    bit_s = suspect.seen.bit_s if suspect.seen is not None else None
    if good is None or lineup is None or not lineup.accepted or good.received is None:
        return spans
    good_bit_s = good.received.bit_s
    bit_s = bit_s or good_bit_s
    if bit_s is None:
        return spans
    should_be = _same_moment(good.received, lineup) if same_moment else _headers(good.received, suspect, lineup)
    # Edges of the two need not fall together: slopes differ, and so do capacitances.
    beside = common(shrunk(should_be, 0.25 * bit_s, 0.25 * bit_s), suspect.high)
    beside = without_weak_parts(beside[beside[:, 1] - beside[:, 0] > SHORTEST_BITS * bit_s], suspect)
    if same_moment:
        beside = _without_lost_parts(beside, should_be, good, lineup)
        spans = _without_shared(spans, good, lineup)
    merged = np.concatenate([spans, beside]) if len(spans) else beside
    return _seen_for_a_sample(joined(spans_of(merged), 0.3 * bit_s), suspect)


def _without_shared(spans: Spans, good: LineReading, lineup: LineUp) -> Spans:
    """Leave out what the known-good shows at the same moment: interference or the bus itself, not the suspect wire."""
    high = lineup.on_suspect(0.0) + good.high / lineup.stretch
    own: Spans = spans[covered(spans, high) <= LOST_SHARE * (spans[:, 1] - spans[:, 0])]
    return own


def _seen_for_a_sample(spans: Spans, suspect: LineReading) -> Spans:
    """Leave out what is shorter than the sample step: no sample stands in it, only the line between two."""
    return spans[spans[:, 1] - spans[:, 0] >= suspect.step_s]


def _without_lost_parts(beside: Spans, should_be: Spans, good: LineReading, lineup: LineUp) -> Spans:
    """Leave out parts that the suspect misses altogether: that is a steady fault between the probes, not a dropout."""
    parts = spans_of([(lineup.on_suspect(one.start_s), lineup.on_suspect(one.stop_s)) for one in good.parts])
    wanted = covered(parts, should_be)
    lost = parts[(wanted > 0) & (covered(parts, beside) > LOST_SHARE * wanted)]
    kept: Spans = beside[~touched(beside, lost)]
    return kept


def _same_moment(good: LinTraffic, lineup: LineUp) -> Spans:
    return lineup.on_suspect(0.0) + good.dominant / lineup.stretch


def _headers(good: LinTraffic, suspect: LineReading, lineup: LineUp) -> Spans:
    """Dominant stretches of the known-good's headers, each laid start on start over the suspect's own."""
    if suspect.received is None:
        return np.empty((0, 2))
    starts = suspect.received.dominant[:, 0]
    own = {frame.start_s: frame.identifier for frame in suspect.received.frames}
    laid = []
    for frame in good.frames:
        if frame.identifier is None or frame.state == "header error":
            continue
        first = np.searchsorted(good.dominant[:, 0], frame.start_s - 1e-9)
        inside = slice(first, np.searchsorted(good.dominant[:, 1], frame.header_stop_s, side="right"))
        for there_s in _places(lineup, frame.start_s):
            near = starts[np.abs(starts - there_s) <= ANCHOR_BITS * frame.bit_s]
            if near.size:
                anchor_s = float(near[np.argmin(np.abs(near - there_s))])
                if own.get(anchor_s, frame.identifier) not in (frame.identifier, None):
                    continue  # another frame stands there: its identifier's bits differ by right
                laid.append(anchor_s + (good.dominant[inside] - frame.start_s) / lineup.stretch)
    return spans_of(np.concatenate(laid)) if laid else np.empty((0, 2))


def _places(lineup: LineUp, good_s: float) -> list[float]:
    """Where a frame of the known-good belongs on the suspect's axis: one place in a schedule, else its partners'."""
    if lineup.laid is None or lineup.laid.in_time:
        return [lineup.on_suspect(good_s)]
    pairs = lineup.laid.pairs_s
    partners: list[float] = pairs[np.abs(pairs[:, 1] - good_s) < 1e-9, 0].tolist()
    return partners


def episodes(spans: Spans) -> Spans:
    """Dropouts that belong together, as stretches from the first to the last of each episode."""
    return joined(spans, EPISODE_GAP_S)
