"""LIN frames read from the edges of the line."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.errors import CannotUse
from loomlight.signal.lin_reader import (
    MOST_BYTES,
    MOST_PAUSE_BITS,
    ChecksumForm,
    FrameState,
    LineEdges,
    Times,
    own_fields,
    read_fields,
)
from loomlight.signal.lin_words import BYTE_BITS, HEADER_BITS, SLACK
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.spans import Spans

MOST_FRAME_BITS = SLACK * (HEADER_BITS + BYTE_BITS * MOST_BYTES)
TOLD_EVERY = 64
"""Frames between two tellings of how far the work is."""
LIKE_THE_OTHERS = 0.03
"""A sync field without a break counts where its bit time is this near to the bus's."""


@dataclass(frozen=True)
class LinFrame:
    """One frame as it was read.

    Attributes
    ----------
    start_s, header_stop_s, stop_s : float
        Begin of the break, end of the identifier's stop bit, end of the last byte's stop bit; seconds.
    response_start_s : float or None
        First start bit after the header.
    identifier : int or None
        0 to 0x3F; None where its field could not be read.
    data : bytes
        Without the checksum.
    checksum : int or None
        As received.
    checksum_form : str or None
        Which checksum it is; None without a response.
    state : str
        One of `FrameState`; "past the end" where the capture stops inside the frame, or has a hole there.
    problem : str
        What was wrong and where; empty where good.
    bit_s : float
        Bit time from the frame's own sync field.
    byte_starts_s : tuple of float
        Start bits: sync, identifier, response bytes.
    """

    start_s: float
    header_stop_s: float
    stop_s: float
    response_start_s: float | None
    identifier: int | None
    data: bytes
    checksum: int | None
    checksum_form: ChecksumForm | None
    state: FrameState
    problem: str
    bit_s: float
    byte_starts_s: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class LinTraffic:
    """All frames of a channel, with the edges they were read from.

    Attributes
    ----------
    bit_s : float or None
        Median bit time over all sync fields; None where there was none.
    frames : tuple of LinFrame
        In order.
    dominant : ndarray, shape (n, 2)
        Dominant stretches, seconds.
    edges_s : ndarray, shape (m,)
        All edges, seconds.
    starts_recessive : bool
        State before the first edge.
    broken_breaks : tuple of float
        Starts of headers whose break or sync field could not be read.
    """

    bit_s: float | None
    frames: tuple[LinFrame, ...]
    dominant: Spans = field(repr=False)
    edges_s: Times = field(repr=False)
    starts_recessive: bool
    broken_breaks: tuple[float, ...] = ()


def decode(
    channel: Channel, *, dominant_below: float, recessive_above: float, progress: Progress = unwatched
) -> LinTraffic:
    """Read all frames; each break starts afresh, so a damaged frame costs only itself.

    Parameters
    ----------
    channel : Channel
        Form ``even``, volts.
    dominant_below, recessive_above : float
        The receiver's thresholds, volts; between them it holds its state.
    progress : Progress
        0 to 1.

    Raises
    ------
    CannotUse
        If the samples are not evenly spaced.

    References
    ----------
    .. [1] LIN Specification Package 2.2A, section 2.3 (frame structure) and 2.8 (checksum).
    """
    if channel.form != "even" or channel.step_s is None:
        raise CannotUse(
            f"{channel.name!r} has {channel.form} samples; LIN frames are read from evenly spaced ones. "
            "Export the capture again with every sample."
        )
    edges = find_edges(channel.samples, low=dominant_below, high=recessive_above, progress=part(progress, 0.0, 0.6))
    times = channel.start_s + edges.at * channel.step_s
    starts_recessive = edges.starts_high if edges.starts_high is not None else True
    line = LineEdges(times, starts_recessive=starts_recessive, stop_s=channel.stop_s)
    headers = line.headers()
    bit_s = float(np.median(headers[:, 1])) if len(headers) else None
    broken = _acquired(channel, line.broken_breaks(headers, bit_s), bit_s) if bit_s is not None else np.empty(0)
    frames = tuple(_frames(channel, line, headers, broken, part(progress, 0.6, 1.0)))
    if bit_s is not None:
        torn = _without_break(line, frames, broken, bit_s=bit_s, from_s=channel.start_s)
        broken = np.sort(np.append(broken, _acquired(channel, torn, bit_s)))
    return LinTraffic(
        bit_s=bit_s,
        frames=frames,
        dominant=line.dominant,
        edges_s=times,
        starts_recessive=starts_recessive,
        broken_breaks=tuple(broken.tolist()),
    )


def _frames(channel: Channel, line: LineEdges, headers: Times, broken: Times, progress: Progress) -> Iterator[LinFrame]:
    """One frame a header; each ends before the next break, readable or not."""
    breaks = np.append(np.sort(np.concatenate([headers[:, 0], broken])), np.inf)
    after = breaks[np.searchsorted(breaks, headers[:, 0], side="right")]
    for number, ((start_s, bit_s, sync_s), next_s) in enumerate(zip(headers.tolist(), after.tolist(), strict=True)):
        if number % TOLD_EVERY == 0:
            progress(number / len(headers))
        latest_s = min(next_s - 0.5 * bit_s, start_s + MOST_FRAME_BITS * bit_s)
        fields = own_fields(line.byte_fields(sync_s + 9.5 * bit_s, latest_s, bit_s), bit_s)
        last_s = (fields[-1].start_s if fields else sync_s) + BYTE_BITS * bit_s
        known_s = min(latest_s, last_s + MOST_PAUSE_BITS * bit_s)  # until then more may follow
        reading = read_fields(fields, is_cut=channel.stop_s < known_s)
        if reading.state != "good" and _has_hole(channel, start_s, known_s):
            reading = replace(reading, state="past the end", problem="part of this frame was not acquired")
        starts = (sync_s, *(one.start_s for one in fields))
        yield LinFrame(
            start_s=start_s,
            header_stop_s=starts[min(1, len(starts) - 1)] + BYTE_BITS * bit_s,
            stop_s=last_s,
            response_start_s=starts[2] if len(starts) > 2 else None,
            identifier=reading.identifier,
            data=reading.data,
            checksum=reading.checksum,
            checksum_form=reading.checksum_form,
            state=reading.state,
            problem=reading.problem,
            bit_s=bit_s,
            byte_starts_s=starts,
        )


def _without_break(
    line: LineEdges, frames: tuple[LinFrame, ...], broken: Times, *, bit_s: float, from_s: float
) -> Times:
    """Starts of headers whose break was torn: sync fields that stand in no frame and have only scraps before them."""
    syncs = line.sync_fields()
    starts = np.array([frame.start_s for frame in frames])
    # A frame that could not be read whole, or was under way at the start, may hold this as a data byte 0x55.
    whole = np.array([frame.state in ("good", "no response") for frame in frames], dtype=bool)
    ends = np.where(whole, [frame.stop_s for frame in frames], starts + MOST_FRAME_BITS * bit_s)
    free = np.append(ends, from_s + MOST_FRAME_BITS * bit_s)[np.searchsorted(starts, syncs[:, 0]) - 1]
    fits = (syncs[:, 0] >= free) & (np.abs(syncs[:, 1] - bit_s) <= LIKE_THE_OTHERS * bit_s)
    found: list[float] = []
    for sync_s, free_s in zip(syncs[fits, 0].tolist(), free[fits].tolist(), strict=True):
        taken = np.append(broken, found)
        if np.any((taken < sync_s) & (taken > sync_s - MOST_FRAME_BITS * bit_s)):
            continue
        scraps = line.falls[(line.falls > max(free_s, sync_s - SLACK * 2 * BYTE_BITS * bit_s)) & (line.falls < sync_s)]
        found.append(float(scraps[0]) if scraps.size else sync_s)
    return np.array(found)


def _acquired(channel: Channel, starts: Times, bit_s: float) -> Times:
    """Those whose header has no hole: a gap keeps the line's state and may look like a break."""
    whole = [not _has_hole(channel, start_s, start_s + HEADER_BITS * bit_s) for start_s in starts.tolist()]
    kept: Times = starts[np.array(whole, dtype=bool)]
    return kept


def _has_hole(channel: Channel, start_s: float, stop_s: float) -> bool:
    """Whether a sample between the two times was not acquired."""
    first, last = channel.index_at(start_s), channel.index_at(stop_s) + 1
    return bool(np.isnan(channel.samples.block(first, last)).any())
