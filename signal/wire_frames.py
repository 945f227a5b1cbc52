"""Frames in a wire's edges, whatever levels they stand at: what no other kind makes by chance."""

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal import can_decode, kline_decode, lin_decode, sent_decode
from loomlight.signal.can_line import CanLine
from loomlight.signal.line_states import settled_levels
from loomlight.signal.wire_looks import Look, Looks, cleaned, part_of
from loomlight.signal.wire_sight import Sight

Row = npt.NDArray[np.float64]
Protocol = Literal["can", "k-line", "lin", "sent"]

ENOUGH_FRAMES, ENOUGH_SHARE = 3, 0.7
"""From here on no further look is taken."""
ENOUGH_CAN = 5
"""A check of fifteen bits does not fit by chance five times."""
MOST_SPENT = 20_000
"""Edges that are tried, all looks and protocols together: a wire that is none of these is given up soon."""
SHORTEST_CAN_S, LONGEST_CAN_S = 0.5e-6, 150e-6
SHORTEST_UART_S, LONGEST_UART_S = 25e-6, 2e-3
SHORTEST_SENT_S, LONGEST_SENT_S = 8e-6, 2.5e-3
"""What the fortieth shortest of a hundred stretches may last."""
MOST_UART_EDGES = 1600
USUAL_UART_BITS_S = (1 / 10_400, 1 / 9600, 1 / 19_200)
UART_GLITCH_S, SENT_GLITCHES_S = 13e-6, (4e-6, 10e-6, 25e-6)
"""A quarter of the shortest LIN bit; less than a SENT pulse of four ticks is low, by the length of a tick. What is shorter is a
spike."""
FEWEST_SENT, SENT_SHARE = 4, 0.35
"""By chance one frame in sixteen has a right check nibble."""


@dataclass(frozen=True, eq=False)
class Frames:
    """What one protocol reads in one look.

    Attributes
    ----------
    protocol : str
        Whose frames.
    good : int
        Frames with a right check.
    share : float
        0 to 1: of the edges, those that lie in good frames.
    bit_s : float
        Bit time or tick, seconds.
    rest, active : float
        Levels at rest and while a frame pulls the wire, in the channel's unit; the strongest talker's.
    weakest : float
        Level of the weakest tenth of the pulled stretches.
    """

    protocol: Protocol
    good: int
    share: float
    bit_s: float
    rest: float
    active: float
    weakest: float
    look: Look = field(repr=False)


def read_frames(looks: Looks) -> tuple[Frames, ...]:
    """The best reading of each protocol that reads anything at all; no look is taken once one explains most."""
    best: dict[str, Frames] = {}
    sight, spent = looks.sight, 0
    for look in looks:
        if spent > MOST_SPENT:
            break
        tried: list[Frames | None] = []
        if SHORTEST_CAN_S < _usual_s(look) < LONGEST_CAN_S:
            tried += [_can(sight, look, dominant_high=up) for up in (True, False)]
            spent += 2 * look.at_s.size
        calm = cleaned(look.begin(MOST_UART_EDGES), UART_GLITCH_S)
        if calm is not None and _like_bytes(calm):
            tried += [_k_line(sight, calm), _lin(sight, calm)]
            spent += 6 * calm.at_s.size
        for shortest_s in SENT_GLITCHES_S:
            calm = cleaned(look, shortest_s)
            if calm is None or not SHORTEST_SENT_S < _usual_s(calm) < LONGEST_SENT_S:
                continue
            tried.append(_sent(sight, calm))
            if calm is look or tried[-1] is not None:
                break
        for one in tried:
            if one is not None and (
                one.protocol not in best or one.good * one.share > best[one.protocol].good * best[one.protocol].share
            ):
                best[one.protocol] = one
        if any(_is_enough(one) for one in best.values()):
            break
    return tuple(best.values())


def _is_enough(found: Frames) -> bool:
    if found.protocol == "can" and found.good >= ENOUGH_CAN:
        return True
    return found.good >= ENOUGH_FRAMES and found.share >= ENOUGH_SHARE


def _like_bytes(look: Look) -> bool:
    """Whether falling edges lie whole bits apart, and not all equally far: else bytes need not be looked for."""
    apart = np.diff(look.at_s[~look.rising])
    if apart.size < 8 or not SHORTEST_UART_S < _usual_s(look) < LONGEST_UART_S:
        return False
    for bit_s in (*USUAL_UART_BITS_S, 0.5 * float(np.percentile(apart, 8))):
        bits = apart[apart < 12.0 * bit_s] / bit_s
        whole = np.abs(bits - np.round(bits)) < 0.2
        kinds = np.unique(np.round(bits[whole]), return_counts=True)[1]
        if whole.sum() >= 0.5 * apart.size and whole.mean() > 0.65 and np.count_nonzero(kinds > 0.04 * apart.size) >= 3:
            return True
    return False


def _usual_s(look: Look) -> float:
    """A low estimate of the usual stretch, seconds."""
    return float(np.percentile(look.runs_s, 40))


def _share(look: Look, spans: Row) -> float:
    """Of the look's edges, those inside the spans, shape (n, 2)."""
    slack = 1e-9
    first = np.searchsorted(look.at_s, spans[:, 0] - slack, "left")
    last = np.searchsorted(look.at_s, spans[:, 1] + slack, "right")
    return min(float(np.sum(last - first)) / look.at_s.size, 1.0)


def _can(sight: Sight, look: Look, *, dominant_high: bool) -> Frames | None:
    assert sight.channel.step_s is not None
    starts_recessive = bool(look.rising[0]) == dominant_high
    line = CanLine(look.at_s, starts_recessive, sight.channel.start_s, look.stop_s)
    traffic = can_decode.decode(line, can_decode.Axis(sight.channel.start_s, sight.channel.step_s))
    if traffic is None or not traffic.good.any():
        return None
    spans = np.column_stack([traffic.read.start_s, traffic.read.stop_s])[traffic.good]
    good = int(np.count_nonzero(traffic.good))
    return _with_levels(
        sight, Frames("can", good, _share(look, spans), traffic.bit_s, 0, 0, 0, look), spans, active_high=dominant_high
    )


def _k_line(sight: Sight, look: Look) -> Frames | None:
    start_s = sight.channel.start_s
    traffic = kline_decode.decode(look.states(start_s), start_s=start_s, stop_s=look.stop_s)
    good = [one for one in traffic.messages if one.state == "good" and one.header is not None]
    if not good or traffic.bit_s is None:
        return None
    spans = np.array([(one.start_s, one.stop_s) for one in good])
    found = Frames("k-line", len(good), _share(look, spans), traffic.bit_s, 0, 0, 0, look)
    return _with_levels(sight, found, spans, active_high=False)


def _lin(sight: Sight, look: Look) -> Frames | None:
    swing = 0.1 * (look.high - look.low)
    middle = 0.5 * (look.high + look.low)
    part = replace(sight.channel, samples=part_of(sight, look.stop_s), gaps=(), clipped=())
    traffic = lin_decode.decode(part, dominant_below=middle - swing, recessive_above=middle + swing)
    good = [one for one in traffic.frames if one.state == "good"]
    if not good or traffic.bit_s is None:
        return None
    spans = np.array([(one.start_s, one.stop_s) for one in good])
    found = Frames("lin", len(good), _share(look, spans), traffic.bit_s, 0, 0, 0, look)
    return _with_levels(sight, found, spans, active_high=False)


def _sent(sight: Sight, look: Look) -> Frames | None:
    traffic = sent_decode.decode(look.at_s[~look.rising])
    good = [one for one in traffic.frames if one.state == "good"]
    if len(good) < max(FEWEST_SENT, SENT_SHARE * len(traffic.frames)) or traffic.tick_s is None:
        return None
    spans = np.array([(one.start_s, one.stop_s + (one.pause_s or 0.0)) for one in good])
    found = Frames("sent", len(good), _share(look, spans), traffic.tick_s, 0, 0, 0, look)
    return _with_levels(sight, found, spans, active_high=False)


def _with_levels(sight: Sight, found: Frames, spans: Row, *, active_high: bool) -> Frames:
    """With the levels at which its frames stand."""
    look = found.look
    start_s, stop_s, high = look.at_s[:-1], look.at_s[1:], look.rising[:-1]
    place = np.searchsorted(spans[:, 0], start_s + 1e-9, "right") - 1
    inside = (place >= 0) & (stop_s <= spans[np.maximum(place, 0), 1] + 1e-9)
    levels = settled_levels(sight.channel, start_s, stop_s)
    known = inside & np.isfinite(levels)
    active, resting = levels[known & (high == active_high)], levels[known & (high != active_high)]
    if not active.size or not resting.size:
        ends = (look.low, look.high) if active_high else (look.high, look.low)
        return replace(found, rest=ends[0], active=ends[1], weakest=ends[1])
    strongest, weakest = (70.0, 10.0) if active_high else (30.0, 90.0)
    return replace(
        found,
        rest=float(np.median(resting)),
        active=float(np.percentile(active, strongest)),
        weakest=float(np.percentile(active, weakest)),
    )
