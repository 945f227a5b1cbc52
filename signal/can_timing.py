"""Times of a CAN bus: bit rates and their errors, jitter of edges, bits made longer by slow release, the senders' "
"sample point."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal.can_decode import CanTraffic
from loomlight.signal.can_examination import PairReading
from loomlight.signal.can_received import Bits, Flags
from loomlight.signal.can_receiver import FAST_SAMPLE_POINT
from loomlight.signal.can_words import CHECK, ERROR_STATE, FORMAT, USUAL_RATES
from loomlight.signal.measure import Measure

NEAR_USUAL = 0.03
MOST_ERROR = 0.005
"""Clocks of usual nodes, between them (from memory; ISO 11898-1 bounds it by the bit timing, at most 1.58 %)."""
CLOCK_SOURCE = "from memory: quartz clocks; ISO 11898-1 allows up to 1.58 % with suitable bit timing"


@dataclass(frozen=True)
class Jitter:
    """Edges against the clock of their own frame, seconds."""

    to_dominant_s: float
    release_late_s: float
    release_s: float
    edges: int


def timing(pair: PairReading) -> list[Measure]:
    """The table's lines about time."""
    traffic = pair.traffic
    if traffic is None or not traffic.rates.is_sure:
        return []
    step_s = pair.axis.step_s
    found = [Measure("timing", "bit rate", 1.0 / traffic.bit_s, "bit/s", note="median over whole frames")]
    usual = min(USUAL_RATES, key=lambda rate: abs(rate * traffic.bit_s - 1.0))
    if abs(usual * traffic.bit_s - 1.0) < NEAR_USUAL:
        worst = max(abs(usual * one - 1.0) for one in (traffic.bit_low_s, traffic.bit_high_s))
        found.append(
            Measure(
                "timing",
                f"error from {usual:g} bit/s, worst frame",
                worst,
                "",
                f"at most {MOST_ERROR:.1%}",
                CLOCK_SOURCE,
                worst <= MOST_ERROR + step_s / (60 * traffic.bit_s),
                "the instrument's own clock included",
            )
        )
    fast_s = traffic.rates.clock.fast_bit_s
    if fast_s is not None:
        measured = _fast_bit(traffic)
        found.append(Measure("timing", "bit rate of the data phase", 1.0 / (measured or fast_s), "bit/s"))
        point = _sample_point(traffic, fast_s)
        if point is not None:
            note = f"from the length of BRS; {FAST_SAMPLE_POINT:.0%} assumed in the data phase"
            found.append(Measure("timing", "senders' sample point", point, "", note=note))
    found.append(Measure("timing", "samples a bit", (fast_s or traffic.bit_s) / step_s, ""))
    jitter = _jitter(traffic)
    if jitter is not None:
        note = f"{jitter.edges} edges against their own frame's clock; a sample step is {step_s * 1e9:.0f} ns"
        found += [
            Measure("timing", "jitter of edges to dominant", jitter.to_dominant_s, "s", note=note),
            Measure("timing", "jitter of edges to recessive", jitter.release_s, "s", note=note),
            Measure(
                "timing",
                "dominant bits longer by",
                jitter.release_late_s,
                "s",
                note="late release, at the receiver's threshold",
            ),
        ]
    return found


def _body(bits: Bits, traffic: CanTraffic) -> Flags:
    body = (bits.part >= FORMAT) & (bits.part <= CHECK) & traffic.good[bits.frame]
    slow: Flags = body & (bits.length_s == traffic.rates.clock.bit_s) & ~traffic.read.fd[bits.frame]
    return slow


def _jitter(traffic: CanTraffic) -> Jitter | None:
    """Classical frames' bodies: where one talker drives all edges."""
    bits = traffic.read.bits
    body = _body(bits, traffic)
    same = np.zeros(body.size, dtype=bool)
    same[1:] = body[1:] & body[:-1] & (bits.frame[1:] == bits.frame[:-1])
    turn = np.zeros(body.size, dtype=bool)
    turn[1:] = bits.recessive[1:] != bits.recessive[:-1]
    falls = np.flatnonzero(same & turn & ~bits.recessive)
    if falls.size < 10:
        return None
    place = np.arange(bits.frame.size)
    frames, sizes = np.unique(bits.frame[falls], return_counts=True)
    use = np.isin(bits.frame[falls], frames[sizes >= 4])
    falls = falls[use]
    if falls.size < 10:
        return None
    own = bits.frame[falls]
    count = np.bincount(own)
    x, y = place[falls].astype(np.float64), bits.start_s[falls]
    mean_x, mean_y = (np.bincount(own, weights=one) / np.maximum(count, 1) for one in (x, y))
    dx, dy = x - mean_x[own], y - mean_y[own]
    slope = np.bincount(own, weights=dx * dy) / np.maximum(np.bincount(own, weights=dx * dx), 1e-30)
    off = dy - slope[own] * dx
    edges = traffic.line.rises_s
    rises = np.flatnonzero(same & turn & bits.recessive & np.isin(bits.frame, frames[sizes >= 4]))
    wanted = mean_y[bits.frame[rises]] + slope[bits.frame[rises]] * (rises - mean_x[bits.frame[rises]])
    near = np.clip(np.searchsorted(edges, wanted - 0.4 * traffic.bit_s), 0, max(edges.size - 1, 0))
    late = edges[near] - wanted if edges.size else np.empty(0)
    late = late[np.abs(late) < 0.5 * traffic.bit_s]
    if not late.size:
        return None
    return Jitter(
        float(off.std()),
        float(np.median(late)),
        float(1.4826 * np.median(np.abs(late - np.median(late)))),
        int(falls.size),
    )


def _fast_bit(traffic: CanTraffic) -> float | None:
    """Over the data of each switched frame, from its first edge to dominant to its last."""
    bits = traffic.read.bits
    fast = (bits.length_s != traffic.rates.clock.bit_s) & (bits.part >= ERROR_STATE) & (bits.part <= CHECK)
    begins = ~bits.recessive & fast & traffic.good[bits.frame]
    begins[1:] &= bits.recessive[:-1]
    at = np.flatnonzero(begins)
    if at.size < 2:
        return None
    own = bits.frame[at]
    first = np.concatenate([[True], np.diff(own) > 0])
    last = np.concatenate([np.diff(own) > 0, [True]])
    one, other = at[first], at[last]
    long = other - one >= 16
    if not long.any():
        return None
    return float(np.median((bits.start_s[other[long]] - bits.start_s[one[long]]) / (other[long] - one[long])))


def _sample_point(traffic: CanTraffic, fast_s: float) -> float | None:
    """BRS begins slow and ends fast: its length tells where its sender reads a bit."""
    bits = traffic.read.bits
    after = np.flatnonzero(
        (bits.part == ERROR_STATE)
        & ~bits.recessive
        & traffic.good[bits.frame]
        & (bits.length_s != traffic.rates.clock.bit_s)
    )
    if not after.size:
        return None
    lengths = bits.start_s[after] - bits.start_s[after - 1]
    points = (lengths - (1.0 - FAST_SAMPLE_POINT) * fast_s) / traffic.bit_s
    return float(np.median(points))
