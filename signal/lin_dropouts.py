"""Dropouts of a suspect beside a known-good: the one is dominant, the other has let go."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.lin_decode import LinTraffic
from loomlight.signal.lin_examination import DOMINANT_SHARE, RECESSIVE_SHARE, LineReading
from loomlight.signal.lin_findings import own_dropouts, without_weak_parts
from loomlight.signal.lineup import LineUp
from loomlight.signal.spans import Spans, common, covered, joined, shrunk, spans_of, touched

EPISODE_GAP_S = 5e-3
"""Dropouts closer than this belong to one episode (common practice, no source)."""
SHORTEST_BITS = 0.04
"""What is left of an edge that came late is shorter than this share of a bit (common practice, no source)."""
EDGE_BITS = 0.25
"""How far one channel's edge may come after the other's: what is higher only there is no dropout."""
ONSET_SHARE = 0.2
"""A dropout begins where the line leaves its driver's level by this share of the way to the receiver's limit."""
LOST_SHARE = 0.5
"""A half or more of a part's dominant time, edges aside, is all of it (common practice, no source)."""
STEADY_SHARE = 0.8
"""A talker that loses this share of its parts, or more, is lost steadily (common practice, no source)."""
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
    beside = common(shrunk(should_be, EDGE_BITS * bit_s, EDGE_BITS * bit_s), suspect.high)
    beside = without_weak_parts(beside[beside[:, 1] - beside[:, 0] > SHORTEST_BITS * bit_s], suspect)
    whole = common(should_be, suspect.high)
    beside = whole[touched(whole, beside)]
    if same_moment:
        beside = _without_lost_parts(beside, should_be, good, lineup)
        spans = _without_shared(spans, good, lineup)
    merged = np.concatenate([spans, beside]) if len(spans) else beside
    return _seen_for_a_sample(joined(spans_of(merged), 0.3 * bit_s), suspect)


def with_sharp_ends(
    spans: Spans,
    suspect: tuple[Channel, LineReading],
    driving: tuple[Channel, LineReading] | None,
    lineup: LineUp | None,
) -> Spans:
    """Each dropout from where the line begins to rise to where its driver lets go, rather than from limit to limit.

    An end that is cut off takes its own pull-up's time to get to a receiver's limit: as long as a bit, where much hangs on it.

    Parameters
    ----------
    spans : ndarray, shape (n, 2)
        On the suspect's axis, seconds.
    suspect : tuple of Channel and LineReading
        What lost the signal.
    driving : tuple of Channel and LineReading, or None
        What stayed dominant, where it was recorded together.
    lineup : LineUp or None
        From the suspect to it.
    """
    found, before = spans.copy(), -np.inf
    for number, (start_s, stop_s) in enumerate(spans.tolist()):
        found[number, 0] = _left_low_at(*suspect, start_s, before)
        if driving is not None and lineup is not None:
            released = lineup.on_suspect(_left_low_at(*driving, lineup.on_good(stop_s), lineup.on_good(start_s)))
            found[number, 1] = min(max(released, start_s), stop_s)
        before = stop_s
    return spans_of(found)


def _left_low_at(channel: Channel, reading: LineReading, at_s: float, after_s: float) -> float:
    """When a line that crosses the receiver's limit about ``at_s`` left its driver's level, at most a bit earlier.

    ``at_s`` itself where it came down from the resting level and did not get there since.
    """
    assert channel.step_s is not None
    if reading.supply is None or reading.levels is None or reading.seen is None:
        return at_s
    limit_v = DOMINANT_SHARE * reading.supply.volts
    part = reading.part_at(at_s)
    driven_v = part.dominant_v if part is not None else reading.levels.low
    last = min(channel.index_at(at_s) + 1, channel.samples.size)
    earliest = channel.index_at(after_s) + 1 if after_s > channel.start_s else 0
    first = max(last - max(round((reading.seen.bit_s or 0.0) / channel.step_s), 2), earliest, 0)
    if first >= last:
        return at_s
    values = channel.samples.block(first, last)
    low = np.flatnonzero(values <= driven_v + ONSET_SHARE * (limit_v - driven_v))
    if not low.size or np.any(values[low[-1] : -1] > RECESSIVE_SHARE * reading.supply.volts):
        return at_s
    return min(channel.start_s + (first + int(low[-1])) * channel.step_s, at_s)


def _without_shared(spans: Spans, good: LineReading, lineup: LineUp) -> Spans:
    """Leave out what the known-good shows at the same moment: interference or the bus itself, not the suspect wire."""
    high = lineup.on_suspect(0.0) + good.high / lineup.stretch
    own: Spans = spans[covered(spans, high) <= LOST_SHARE * (spans[:, 1] - spans[:, 0])]
    return own


def _seen_for_a_sample(spans: Spans, suspect: LineReading) -> Spans:
    """Leave out what is shorter than the sample step: no sample stands in it, only the line between two."""
    return spans[spans[:, 1] - spans[:, 0] >= suspect.step_s]


def _without_lost_parts(beside: Spans, should_be: Spans, good: LineReading, lineup: LineUp) -> Spans:
    """Leave out talkers that the suspect misses time and again: that is a steady fault between the probes, no dropout.

    A part that is lost while others of the same talker arrive was lost to a wire that let go for so long.
    """
    for talker in good.talkers:
        parts = spans_of([(one.start_s, one.stop_s) for one in good.parts if one.talker == talker])
        parts = lineup.spans_on_suspect(parts)
        wanted = covered(parts, should_be)
        parts, wanted = parts[wanted > 0], wanted[wanted > 0]
        lost = covered(parts, beside) > LOST_SHARE * wanted
        if lost.size and lost.mean() >= STEADY_SHARE:
            beside = beside[~touched(beside, parts[lost])]
    return beside


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
