"""Times of a LIN bus: bit rate, break, pauses, frames, wake-up and sleep, each against its limit."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.lin_decode import LinFrame, LinTraffic
from loomlight.signal.lin_held import TIME_OUT_S
from loomlight.signal.lin_reader import LONGEST_WAKE_S, QUIET_S, SHORTEST_WAKE_S
from loomlight.signal.lin_words import BYTE_BITS, HEADER_BITS, SLACK
from loomlight.signal.measure import Measure, at_least, at_most

USUAL_RATES = (2400.0, 9600.0, 10417.0, 19200.0, 20000.0)
"""Rates in use (common practice, no source; 10.417 kbit/s from SAE J2602)."""
COMMANDER_CLOCK = 0.005
"""A commander's clock is this near to its nominal rate (LIN 2.x, parameter 1; from memory)."""
SLEEP_S = 4.0
"""Quiet after which nodes may go to sleep by themselves (LIN 2.2A, section 2.6: 4 to 10 s)."""
GO_TO_SLEEP = b"\x00" + b"\xff" * 7
LIN_FRAMES = "LIN Specification Package 2.2A, section 2.3"
GROUP = "timing"
EDGE_BITS = 0.15
EDGE_NOTE = "0.15 bit are left to the edges' shape"
"""A slow edge crosses the receiver's level later than a fast one: D1 and D2 allow some 0.15 bit either way."""

Values = npt.NDArray[np.float64]


def timing(traffic: LinTraffic, start_s: float, stop_s: float) -> tuple[Measure, ...]:
    """All times that the frames of one channel show.

    Parameters
    ----------
    traffic : LinTraffic
        As a receiver takes it.
    start_s, stop_s : float
        Of the capture, seconds.
    """
    frames = [frame for frame in traffic.frames if frame.state != "past the end"]
    if not frames or traffic.bit_s is None:
        return _quiet(traffic, start_s, stop_s)
    return (
        *_rate(frames, traffic),
        *_header(frames, traffic),
        *_response(frames),
        *_quiet(traffic, start_s, stop_s),
    )


def _rate(frames: list[LinFrame], traffic: LinTraffic) -> list[Measure]:
    bits = np.array([frame.bit_s for frame in frames])
    rate = float(1.0 / np.median(bits))
    usual = min(USUAL_RATES, key=lambda one: abs(rate / one - 1.0))
    off = rate / usual - 1.0
    spread = float(np.ptp(bits) / np.median(bits))
    found = [
        Measure(GROUP, "bit rate", rate, "bit/s", "1 to 20 kbit/s", "ISO 17987-4, scope", 1000.0 <= rate <= 20_200.0),
        Measure(
            GROUP,
            "bit rate, away from the nearest usual one",
            100.0 * off,
            "%",
            "within ±0.5 % of the bus's own rate",
            "LIN 2.x, parameter 1 (from memory)",
            True if abs(off) <= COMMANDER_CLOCK else None,
            f"nearest usual rate {usual:.0f} bit/s; the bus's own nominal rate stands in its description",
        ),
        Measure(GROUP, "bit rate, spread from frame to frame", 100.0 * spread, "%"),
    ]
    jitter = _jitter(frames, traffic)
    if jitter.size:
        found.append(
            Measure(
                GROUP,
                "falling edges, standard deviation from the bit grid",
                float(jitter.std()),
                "s",
                note=f"{jitter.size} edges; largest {np.abs(jitter).max() * 1e6:.2f} µs",
            )
        )
    return found


def _jitter(frames: list[LinFrame], traffic: LinTraffic) -> Values:
    """How far falling edges inside bytes stand from the byte's own grid, seconds."""
    falls = traffic.dominant[:, 0]
    starts = np.array([byte_s for frame in frames for byte_s in frame.byte_starts_s])
    bits = np.array([frame.bit_s for frame in frames for _ in frame.byte_starts_s])
    if not starts.size:
        return np.empty(0)
    byte = np.maximum(np.searchsorted(starts, falls - 0.5 * float(bits.min())) - 1, 0)
    away = (falls - starts[byte]) / bits[byte]
    inside = (away > 0.5) & (away < 9.2)
    jitter: Values = ((away - np.round(away)) * bits[byte])[inside]
    return jitter


def _header(frames: list[LinFrame], traffic: LinTraffic) -> list[Measure]:
    falls, rises = traffic.dominant[:, 0], traffic.dominant[:, 1]
    begun = np.array([(frame.start_s, frame.byte_starts_s[0], frame.bit_s) for frame in frames if frame.byte_starts_s])
    if not len(begun):
        return []
    place = np.clip(np.searchsorted(falls, begun[:, 0] - 1e-9), 0, max(falls.size - 1, 0))
    whole = np.abs(falls[place] - begun[:, 0]) < 0.25 * begun[:, 2]
    breaks = (rises[place] - falls[place])[whole] / begun[whole, 2]
    delimiters = (begun[:, 1] - rises[place])[whole] / begun[whole, 2]
    headers = np.array(
        [
            (frame.header_stop_s - frame.start_s) / (HEADER_BITS * frame.bit_s)
            for frame in frames
            if frame.identifier is not None
        ]
    )
    found = []
    if breaks.size:
        found += [
            at_least(
                GROUP,
                "break, shortest",
                float(breaks.min()),
                "bits",
                13 - EDGE_BITS,
                "13 bits",
                LIN_FRAMES,
                note=EDGE_NOTE,
            ),
            at_least(
                GROUP,
                "break delimiter, shortest",
                float(delimiters.min()),
                "bits",
                1 - EDGE_BITS,
                "1 bit",
                LIN_FRAMES,
                note=EDGE_NOTE,
            ),
        ]
    if headers.size:
        found.append(
            at_most(GROUP, "header, longest", float(headers.max()), "× nominal", SLACK, "1.4 × 34 bits", LIN_FRAMES)
        )
    return found


def _response(frames: list[LinFrame]) -> list[Measure]:
    spaces, pauses, lengths, wholes = [], [], [], []
    for frame in frames:
        if frame.response_start_s is None or frame.state != "good":
            continue
        bit_s, count = frame.bit_s, len(frame.data) + 1
        spaces.append((frame.response_start_s - frame.header_stop_s) / bit_s)
        starts = np.array(frame.byte_starts_s[2:])
        pauses += (np.diff(starts) / bit_s - BYTE_BITS).tolist()
        lengths.append((frame.stop_s - frame.response_start_s) / (count * BYTE_BITS * bit_s))
        wholes.append((frame.stop_s - frame.start_s) / ((HEADER_BITS + count * BYTE_BITS) * bit_s))
    if not lengths:
        return []
    found = [
        Measure(GROUP, "response space, longest", max(spaces), "bits", note="only the frame's whole time bounds it"),
        at_most(GROUP, "response, longest", max(lengths), "× nominal", SLACK, "1.4 × 10 bits a byte", LIN_FRAMES),
        at_most(GROUP, "frame, longest", max(wholes), "× nominal", SLACK, "1.4 × nominal", LIN_FRAMES),
    ]
    if pauses:
        found.insert(1, Measure(GROUP, "space between bytes, longest", max(*pauses, 0.0), "bits"))
    return found


def _quiet(traffic: LinTraffic, start_s: float, stop_s: float) -> tuple[Measure, ...]:
    falls, rises = traffic.dominant[:, 0], traffic.dominant[:, 1]
    lengths = rises - falls
    quiet = np.diff(np.concatenate([[start_s], falls, [stop_s]]))
    longest = float(lengths.max()) if lengths.size else 0.0
    wakes = _wake_ups(traffic, start_s)
    sleeps = sum(frame.identifier == 0x3C and frame.data == GO_TO_SLEEP for frame in traffic.frames)
    return (
        Measure(GROUP, "wake-up pulses", float(wakes), "", "0.25 to 5 ms dominant", "LIN 2.2A, section 2.6.2"),
        Measure(GROUP, "go-to-sleep commands", float(sleeps), "", "identifier 0x3C, 00 FF FF …", "LIN 2.2A, table 2.1"),
        Measure(
            GROUP,
            "longest quiet stretch",
            float(quiet.max()),
            "s",
            "nodes may fall asleep after 4 s",
            "LIN 2.2A, section 2.6",
            None,
            "the bus may be asleep" if quiet.max() >= SLEEP_S else "",
        ),
        Measure(
            GROUP,
            "longest dominant stretch",
            longest,
            "s",
            "under 6 ms",
            "transceiver data sheets: their time-out is 6 to some 80 ms",
            longest < TIME_OUT_S,
        ),
    )


def _wake_ups(traffic: LinTraffic, start_s: float) -> int:
    """Dominant pulses of the right length after a quiet stretch, that begin no frame."""
    falls, rises = traffic.dominant[:, 0], traffic.dominant[:, 1]
    if not falls.size:
        return 0
    before = falls - np.concatenate([[start_s], rises[:-1]])
    lengths = rises - falls
    headers = np.array([frame.start_s for frame in traffic.frames])
    begins_frame = np.isin(np.round(falls, 9), np.round(headers, 9))
    fits = (lengths >= SHORTEST_WAKE_S) & (lengths <= LONGEST_WAKE_S) & (before >= QUIET_S) & ~begins_frame
    return int(fits.sum())
