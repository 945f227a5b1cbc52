"""Bit rates of CAN on wires that are judged one by one: each identifier's own clock against the rate that is meant."""

from collections.abc import Iterator, Sequence

import numpy as np

from loomlight.signal.can_decode import CanTraffic
from loomlight.signal.capture import Channel
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.measure import Measure, at_most

NEAR_SHARE = 0.06
"""A usual rate that is further off is not the one that is meant (common practice, no source)."""
CLOCK_DOUBT = 0.002
"""How far a rate read from a few frames may be off."""
FAR_CLOCK = 0.015
"""A controller has to bear 1.5 % at the least favourable setting of its bit timing (common practice, no source)."""


def rates_by_identifier(traffic: CanTraffic) -> dict[int, tuple[float, int]]:
    """Bit rate of each identifier's frames and how many they are, from edge to dominant to edge to dominant.

    Between two such edges of one sender lie whole bits, whatever the slopes are; the acknowledging nodes are left out.
    """
    falls = traffic.line.falls_s
    found: dict[int, list[float]] = {}
    for frame, good in zip(traffic.frames, traffic.good.tolist(), strict=True):
        if not good or frame.identifier is None:
            continue
        # Acknowledge slot, its delimiter and the end of frame are the last nine bits and more.
        until_s = frame.stop_s - 9.5 * traffic.bit_s
        first, last = np.searchsorted(falls, [frame.start_s - 1e-9, until_s]).tolist()
        apart = falls[first + 1 : last] - falls[first]
        if apart.size < 4:
            continue
        # The clock is found step by step: over a whole frame it may run out by more than a bit.
        bit_s = traffic.bit_s
        for reach in (12.0, 40.0, np.inf):
            near = apart[apart < reach * bit_s]
            if near.size:
                bits = np.rint(near / bit_s)
                bit_s = float(near @ bits) / float(bits @ bits)
        found.setdefault(frame.identifier, []).append(1.0 / bit_s)
    return {identifier: (float(np.median(rates)), len(rates)) for identifier, rates in sorted(found.items())}


def nominal_rate(given: float | None, traffic: CanTraffic | None, usual: Sequence[float]) -> float | None:
    """The bit rate meant: given, else the usual one that is near; None where none is."""
    if given is not None or traffic is None:
        return given
    near = min(usual, key=lambda one: abs(one * traffic.bit_s - 1.0))
    return near if abs(near * traffic.bit_s - 1.0) < NEAR_SHARE else None


def rate_findings(
    channel: Channel, traffic: CanTraffic | None, nominal: float | None, allowed: float
) -> Iterator[Finding]:
    """Identifiers whose bit rate is off by more than ``allowed``, a share; one finding each, over their frames."""
    if traffic is None or nominal is None:
        return
    for identifier, (rate, _) in rates_by_identifier(traffic).items():
        off = rate / nominal - 1.0
        if abs(off) <= allowed + CLOCK_DOUBT:
            continue
        mine = [one for one in traffic.frames if one.identifier == identifier]
        rule = f"frame 0x{identifier:X}: {rate:.0f} bit/s, {off * 100:+.1f} % from {nominal:.0f}; {allowed * 100:g} % are allowed"
        severity: Severity = "severe" if abs(off) > FAR_CLOCK else "mild"
        yield Finding(
            "wrong bit rate",
            channel.name,
            mine[0].start_s,
            mine[-1].stop_s,
            abs(off) * nominal,
            "bit/s",
            rule,
            severity,
        )


def rate_measures(traffic: CanTraffic, nominal: float | None, allowed: float, source: str) -> Iterator[Measure]:
    """How far each identifier's bit rate is off; ``source`` is where ``allowed`` comes from."""
    shown = "not known: no usual rate is near" if nominal is None else f"{allowed * 100:g} % of {nominal:.0f} bit/s"
    for identifier, (rate, frames) in rates_by_identifier(traffic).items():
        off = abs(rate / nominal - 1.0) if nominal is not None else None
        note = f"{rate:.0f} bit/s over {frames} frames"
        yield at_most("bit rate", f"off nominal, 0x{identifier:X}", off, "", allowed, shown, source, note=note)
