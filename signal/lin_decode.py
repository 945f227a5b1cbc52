"""LIN frames read from the edges of the line."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.errors import CannotUse
from loomlight.signal.lin_words import BYTE_BITS, CLASSIC_ONLY, HEADER_BITS, SLACK, checksum, identifier_of
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.spans import Spans

Times = npt.NDArray[np.float64]
FrameState = Literal[
    "good", "no response", "cut short", "header error", "framing error", "checksum error", "past the end"
]
ChecksumForm = Literal["classic", "enhanced", "both", "neither"]

LEAST_BREAK_BITS = 10.5
"""A break has at least 13 bits, seen by a clock up to 14 % off; a zero byte has 9 (LIN 2.2A, section 2.3.1.1)."""
SLOWEST_BIT_S, FASTEST_BIT_S = 1.2e-3, 42e-6
"""1 to 20 kbit/s (ISO 17987-4), with room for clocks that are off."""
SYNC_SPREAD = 0.12
"""How unequal the four double bits of a sync field may be, largest to smallest."""
MOST_BYTES = 9


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
        One of `FrameState`; "past the end" where the capture stops inside the frame.
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
        Starts of breaks that no readable sync field followed.
    """

    bit_s: float | None
    frames: tuple[LinFrame, ...]
    dominant: Spans = field(repr=False)
    edges_s: Times = field(repr=False)
    starts_recessive: bool
    broken_breaks: tuple[float, ...] = ()

    def recessive_at(self, times_s: Times) -> npt.NDArray[np.bool_]:
        """State of the line at each time, shape as ``times_s``."""
        odd = np.searchsorted(self.edges_s, times_s, side="right") % 2 == 1
        recessive: npt.NDArray[np.bool_] = odd ^ self.starts_recessive
        return recessive


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
    edges = find_edges(channel.samples, low=dominant_below, high=recessive_above, progress=progress)
    times = channel.start_s + edges.at * channel.step_s
    starts_recessive = edges.starts_high if edges.starts_high is not None else True
    falls, rises = times[~edges.rising], times[edges.rising]
    if not starts_recessive:
        rises = rises[1:]  # the stretch that was under way has no known start
    length = min(falls.size, rises.size)
    reader = _Reader(times, starts_recessive, falls, rises, channel.stop_s)
    headers = reader.headers()
    bit_s = float(np.median(headers[:, 1])) if len(headers) else None
    frames = tuple(reader.frame(headers, place) for place in range(len(headers)))
    return LinTraffic(
        bit_s=bit_s,
        frames=frames,
        dominant=np.column_stack([falls[:length], rises[:length]]),
        edges_s=times,
        starts_recessive=starts_recessive,
        broken_breaks=reader.broken_breaks(headers, bit_s),
    )


class _Reader:
    """Edges of one channel, with the questions that reading a frame asks of them."""

    def __init__(self, times: Times, starts_recessive: bool, falls: Times, rises: Times, stop_s: float) -> None:
        self._times, self._starts_recessive = times, starts_recessive
        self._falls, self._rises, self._stop_s = falls, rises, stop_s

    def headers(self) -> Times:
        """Breaks with a sync field: shape (n, 3): start of the break, bit time, start of the sync field."""
        falls, rises = self._falls, self._rises
        if falls.size < 6:
            return np.empty((0, 3))
        count = falls.size - 5
        doubles = np.diff(falls)
        four = np.stack([doubles[1 + place : 1 + place + count] for place in range(4)])
        bit = four.sum(axis=0) / 8.0
        break_s = rises[:count] - falls[:count]
        delimiter = falls[1 : count + 1] - rises[:count]
        fits = (
            (four.max(axis=0) <= (1.0 + SYNC_SPREAD) * four.min(axis=0))
            & (bit >= FASTEST_BIT_S)
            & (bit <= SLOWEST_BIT_S)
            & (break_s >= LEAST_BREAK_BITS * bit)
            & (delimiter >= 0.5 * bit)
        )
        place = np.flatnonzero(fits)
        return np.column_stack([falls[place], bit[place], falls[place + 1]])

    def broken_breaks(self, headers: Times, bit_s: float | None) -> tuple[float, ...]:
        """Dominant stretches as long as a break that start no readable header."""
        length = min(self._falls.size, self._rises.size)
        if bit_s is None or not length:
            return ()
        starts, lengths = self._falls[:length], self._rises[:length] - self._falls[:length]
        long = starts[lengths >= LEAST_BREAK_BITS * bit_s]
        return tuple(float(start) for start in long[~np.isin(long, headers[:, 0])])

    def frame(self, headers: Times, place: int) -> LinFrame:
        start_s, bit_s, sync_s = (float(value) for value in headers[place])
        next_s = float(headers[place + 1, 0]) if place + 1 < len(headers) else np.inf
        latest_s = start_s + SLACK * (HEADER_BITS + BYTE_BITS * MOST_BYTES) * bit_s
        values, starts, broken = self._bytes(sync_s + 9.5 * bit_s, min(next_s - 0.5 * bit_s, latest_s), bit_s)
        is_cut = self._stop_s < min(next_s, latest_s)
        starts_all = (sync_s, *starts)
        header_stop_s = (starts[0] if starts else sync_s) + BYTE_BITS * bit_s
        identifier, data, received, form, state, problem = _judged(values, broken, is_cut=is_cut)
        return LinFrame(
            start_s=start_s,
            header_stop_s=header_stop_s,
            stop_s=starts_all[-1] + BYTE_BITS * bit_s,
            response_start_s=starts[1] if len(starts) > 1 else None,
            identifier=identifier,
            data=data,
            checksum=received,
            checksum_form=form,
            state=state,
            problem=problem,
            bit_s=bit_s,
            byte_starts_s=starts_all,
        )

    def _bytes(self, from_s: float, until_s: float, bit_s: float) -> tuple[list[int], list[float], list[str]]:
        """Byte fields from the first falling edge after ``from_s`` on: values, start bits, what was wrong."""
        values: list[int] = []
        starts: list[float] = []
        broken: list[str] = []
        middles: Times = (np.arange(BYTE_BITS, dtype=np.float64) + 0.5) * bit_s
        while len(values) <= MOST_BYTES:
            place = int(np.searchsorted(self._falls, from_s))
            if place >= self._falls.size or self._falls[place] >= until_s:
                break
            start_s = float(self._falls[place])
            recessive = self._recessive_at(start_s + middles)
            from_s = start_s + 9.5 * bit_s
            if recessive[0]:
                broken.append(f"a dip shorter than a bit at byte {len(values) + 1}")
                from_s = start_s + 0.5 * bit_s
                if len(broken) > MOST_BYTES:
                    break
                continue
            if not recessive[9]:
                broken.append(f"no stop bit at byte {len(values) + 1}")
            values.append(int(np.packbits(recessive[1:9], bitorder="little")[0]))
            starts.append(start_s)
        return values, starts, broken

    def _recessive_at(self, times_s: Times) -> npt.NDArray[np.bool_]:
        odd = np.searchsorted(self._times, times_s, side="right") % 2 == 1
        recessive: npt.NDArray[np.bool_] = odd ^ self._starts_recessive
        return recessive


_Read = tuple[int | None, bytes, int | None, ChecksumForm | None, FrameState, str]


def _judged(values: list[int], broken: list[str], *, is_cut: bool) -> _Read:
    """Identifier, data, checksum, its form, state and problem of the bytes after a sync field."""
    if not values:
        state: FrameState = "past the end" if is_cut else "header error"
        return None, b"", None, None, state, "no identifier after the sync field"
    identifier, parity_ok = identifier_of(values[0])
    response = values[1:]
    data, received = bytes(response[:-1]), response[-1] if response else None
    if not parity_ok:
        return identifier, data, received, None, "header error", f"identifier {values[0]:#04x} has wrong parity"
    form = _form(values[0], data, received) if len(response) > 1 and received is not None else None
    if form not in (None, "neither") and not broken:
        return identifier, data, received, form, "good", ""
    if is_cut:
        return identifier, data, received, form, "past the end", "the capture ends inside this frame"
    if broken:
        return identifier, data, received, form, "framing error", "; ".join(broken[:3])
    if not response:
        return identifier, b"", None, None, "no response", "no byte followed the header"
    if len(response) == 1:
        return identifier, bytes(response), None, None, "cut short", "one byte followed the header, then nothing"
    return identifier, data, received, "neither", "checksum error", f"checksum {received:#04x} fits neither form"


def _form(protected: int, data: bytes, received: int) -> ChecksumForm:
    classic = checksum(data) == received
    enhanced = checksum(data, protected=protected) == received and protected & 0x3F not in CLASSIC_ONLY
    if classic and enhanced:
        return "both"
    return "classic" if classic else "enhanced" if enhanced else "neither"
