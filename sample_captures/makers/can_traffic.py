"""Who pulls a CAN bus dominant when: nodes that send, hear each other as the circuit lets them, acknowledge, and complain."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.sample_captures.makers.can_bus import Bus, Drive
from loomlight.sample_captures.makers.can_frames import ACK, ARBITRATION, DELIMITER, Frame, SentBits, sent_bits

FLAG_BITS, REST_BITS = 6, 11
"""An error or overload flag; its delimiter with the intermission."""
HEARD_V = 0.75


@dataclass(frozen=True)
class Sent:
    """One frame that began, and what became of it.

    Attributes
    ----------
    start_s, stop_s : float
        Start of frame to the end of its end of frame, or of what destroyed it; seconds.
    frame : Frame
        What was to be said.
    node : int
        Who sent it.
    end : str
        ``"good"``, ``"no acknowledge"``, ``"destroyed"``, ``"spoilt check"``.
    overloads : int
        Overload flags after it.
    """

    start_s: float
    stop_s: float
    frame: Frame
    node: int
    end: str
    overloads: int = 0


@dataclass(frozen=True)
class Plan:
    """How the nodes behave.

    Attributes
    ----------
    bit_s, fast_bit_s : float
        Bit times of arbitration and of an FD frame's data phase.
    says : sequence of sequence of Frame
        What each node sends, in turn; none: it only listens.
    gap_bits : float
        Mean pause between frames beyond the intermission.
    sample_point, fast_sample_point : float
        Where the senders change the rate inside BRS and the CRC delimiter.
    clock_share : float
        Standard deviation of the nodes' clocks.
    jitter_s : float
        Of each edge.
    destroyed, overloads, rivals : float
        Share of frames that a node destroys by an error flag, that are followed by an overload flag, that several nodes begin.
    is_passive : bool
        Whether a node that goes unheard is error passive already: its flags are recessive.
    """

    bit_s: float
    fast_bit_s: float
    says: Sequence[Sequence[Frame]]
    gap_bits: float = 20.0
    sample_point: float = 0.8
    fast_sample_point: float = 0.7
    clock_share: float = 1e-3
    jitter_s: float = 4e-9
    destroyed: float = 0.0
    overloads: float = 0.0
    rivals: float = 0.2
    is_passive: bool = True
    taken: dict[Frame, SentBits] = field(default_factory=dict, compare=False)

    def bits_of(self, frame: Frame) -> SentBits:
        """The frame's bits; worked out once."""
        if frame not in self.taken:
            self.taken[frame] = sent_bits(frame)
        return self.taken[frame]


def traffic(
    bus: Bus, plan: Plan, rng: np.random.Generator, *, start_s: float, stop_s: float
) -> tuple[list[Drive], list[Sent]]:
    """Let the nodes talk from ``start_s`` to ``stop_s``.

    Nodes that hear one another in neither direction run apart: each group has its own traffic.
    """
    drive: list[Drive] = []
    sent: list[Sent] = []
    for group in sorted(_groups(bus), key=len, reverse=True):
        if any(plan.says[node] for node in group):
            begin_s = start_s + rng.uniform(0.0, 150.0) * plan.bit_s
            _Group(bus, plan, rng, group, tuple(drive)).run(begin_s, stop_s, drive, sent)
    return drive, sorted(sent, key=lambda one: one.start_s)


def _groups(bus: Bus) -> list[list[int]]:
    linked = bus.hears | bus.hears.T
    left, found = set(range(len(bus.nodes))), []
    while left:
        group = {min(left)}
        while more := {other for one in group for other in left - group if linked[one, other]}:
            group |= more
        found.append(sorted(group))
        left -= group
    return found


class _Group:
    """Nodes on one clock of events."""

    def __init__(
        self, bus: Bus, plan: Plan, rng: np.random.Generator, group: list[int], others: tuple[Drive, ...]
    ) -> None:
        self._bus, self._plan, self._rng, self._group = bus, plan, rng, group
        self._others = sorted(others, key=lambda one: one[1])
        self._other_starts = np.array([one[1] for one in self._others])
        self._clock = 1.0 + plan.clock_share * rng.normal(size=len(bus.nodes))

    def run(self, at_s: float, stop_s: float, drive: list[Drive], sent: list[Sent]) -> None:
        plan, rng = self._plan, self._rng
        senders = [node for node in self._group if plan.says[node]]
        turns = dict.fromkeys(senders, 0)
        while at_s < stop_s:
            node = senders[int(rng.integers(len(senders)))]
            frame = plan.says[node][turns[node] % len(plan.says[node])]
            turns[node] += 1
            rest_bits = self._frame(node, frame, at_s, drive, sent)
            pause = rng.exponential(plan.gap_bits) if rng.random() > 0.25 else 0.0
            at_s = sent[-1].stop_s + (rest_bits + pause) * plan.bit_s

    def _frame(self, node: int, frame: Frame, at_s: float, drive: list[Drive], sent: list[Sent]) -> float:
        """Put one frame on the bus; how many bits of rest follow at least."""
        plan, rng, bits = self._plan, self._rng, self._plan.bits_of(frame)
        edges = at_s + _bit_edges(bits, plan) * self._clock[node]
        if not self._bus.hears[node, node]:
            return self._unheard_by_itself(node, frame, edges, drive, sent)
        spoilt = self._spoilt_at(node, bits, edges)
        if spoilt is None and rng.random() < plan.destroyed:
            spoilt = int(rng.integers(14, len(bits.bits) - 8))
        if spoilt is not None:
            self._pull(node, bits.bits[: spoilt + 1], edges, drive)
            stop_s = self._flags(float(edges[spoilt + 1]), node, drive)
            sent.append(Sent(at_s, stop_s, frame, node, "destroyed"))
            return REST_BITS
        self._pull(node, bits.bits, edges, drive)
        self._rival(node, bits, edges, drive)
        heard = [one for one in self._group if one != node and self._bus.hears[node, one]]
        ack = bits.areas.index(ACK)
        answered = False
        for one in heard:
            late_s = self._bus.nodes[one].delay_s
            drive.append((one, float(edges[ack]) + late_s, float(edges[ack + 1]) + late_s))
            answered |= self._bus.seen_by(node, 1 << one) > HEARD_V
        if not answered:
            stop_s = float(edges[ack + 1]) + plan.bit_s
            if not plan.is_passive:
                drive.append((node, stop_s, stop_s + FLAG_BITS * plan.bit_s))
            sent.append(Sent(at_s, stop_s + FLAG_BITS * plan.bit_s, frame, node, "no acknowledge"))
            return REST_BITS + 8.0
        stop_s, extra = float(edges[-1]), 0
        if rng.random() < plan.overloads:
            one = heard[int(rng.integers(len(heard)))]
            drive.append((one, stop_s, stop_s + FLAG_BITS * plan.bit_s))
            others = [other for other in self._group if other != one and self._bus.hears[one, other]]
            begin_s = stop_s + plan.bit_s  # they follow the bit after
            drive.extend((other, begin_s, begin_s + FLAG_BITS * plan.bit_s) for other in others[:2])
            stop_s, extra = stop_s + (FLAG_BITS + bool(others)) * plan.bit_s + 8 * plan.bit_s, 1
        sent.append(Sent(at_s, stop_s, frame, node, "good", extra))
        return 3.0

    def _pull(self, node: int, bits: Sequence[int], edges: npt.NDArray[np.float64], drive: list[Drive]) -> None:
        values = np.array([1, *bits, 1])
        falls, rises = np.flatnonzero(np.diff(values) < 0), np.flatnonzero(np.diff(values) > 0)
        jitter = self._rng.normal(0.0, self._plan.jitter_s, (falls.size, 2))
        starts, stops = edges[falls] + jitter[:, 0], edges[rises] + jitter[:, 1]
        drive.extend((node, start, stop) for start, stop in zip(starts.tolist(), stops.tolist(), strict=True))

    def _rival(self, node: int, bits: SentBits, edges: npt.NDArray[np.float64], drive: list[Drive]) -> None:
        """Another node begins at the same time and gives way at one of the winner's dominant bits."""
        others = [one for one in self._group if one != node and self._bus.hears[node, one]]
        if not others or self._rng.random() >= self._plan.rivals:
            return
        lost = [place for place in range(2, 12) if not bits.bits[place] and bits.areas[place] == ARBITRATION]
        if lost:
            rival = others[int(self._rng.integers(len(others)))]
            until = lost[int(self._rng.integers(len(lost)))]
            late_s = self._bus.nodes[rival].delay_s
            self._pull(rival, bits.bits[:until], edges + late_s, drive)

    def _flags(self, at_s: float, first: int, drive: list[Drive]) -> float:
        """Error flags: one node begins, the others follow within six bits; where they end."""
        bit_s, stop_s = self._plan.bit_s, at_s
        for one in self._group:
            late = 0.0 if one == first else float(self._rng.integers(0, 7)) * bit_s
            drive.append((one, at_s + late, at_s + late + FLAG_BITS * bit_s))
            stop_s = max(stop_s, at_s + late + FLAG_BITS * bit_s)
        return stop_s + 8 * bit_s

    def _unheard_by_itself(
        self, node: int, frame: Frame, edges: npt.NDArray[np.float64], drive: list[Drive], sent: list[Sent]
    ) -> float:
        """Its first dominant bit reads recessive: an error flag that nobody sees, and another try."""
        bit_s, at_s = self._plan.bit_s, float(edges[0])
        drive.append((node, at_s, at_s + bit_s))
        drive.append((node, at_s + bit_s, at_s + (1 + FLAG_BITS) * bit_s))
        sent.append(Sent(at_s, at_s + (1 + FLAG_BITS + 8) * bit_s, frame, node, "destroyed"))
        return REST_BITS + float(self._rng.exponential(300.0))

    def _spoilt_at(self, node: int, bits: SentBits, edges: npt.NDArray[np.float64]) -> int | None:
        """The first bit that reads back otherwise because another group drives the wires too."""
        first = int(np.searchsorted(self._other_starts, edges[0] - 20 * self._plan.bit_s))
        last = int(np.searchsorted(self._other_starts, edges[-1]))
        if first >= last:
            return None
        near = self._others[first:last]
        for place, bit in enumerate(bits.bits[: len(bits.bits) - 9]):
            middle_s = 0.5 * (edges[place] + edges[place + 1])
            mask = sum({1 << one for one, start, stop in near if start <= middle_s < stop})
            if mask:
                reads = self._bus.seen_by(node, mask | (0 if bit else 1 << node)) <= HEARD_V
                if reads != bool(bit):
                    return place
        return None


def _bit_edges(bits: SentBits, plan: Plan) -> npt.NDArray[np.float64]:
    """Start of each bit and end of the last, seconds from the start of frame."""
    lengths = np.full(len(bits.bits), plan.bit_s)
    if bits.first_fast is not None and bits.last_fast is not None:
        lengths[bits.first_fast + 1 : bits.last_fast] = plan.fast_bit_s
        slow, fast = plan.sample_point, plan.fast_sample_point
        lengths[bits.first_fast] = slow * plan.bit_s + (1 - fast) * plan.fast_bit_s
        lengths[bits.last_fast] = fast * plan.fast_bit_s + (1 - slow) * plan.bit_s
    assert bits.areas[-10] == DELIMITER
    return np.concatenate([[0.0], np.cumsum(lengths)])
