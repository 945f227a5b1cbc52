"""A LIN line that is held dominant for longer than any driver may hold it."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.finding import Finding, Severity
from loomlight.signal.lin_decode import LinTraffic
from loomlight.signal.quantity import in_words
from loomlight.signal.spans import Spans, spans_of

TIME_OUT_S = 6e-3
"""Transceivers let go of a line held dominant after 6 ms at the earliest (transceivers' data sheets: 6, 12 and 20 ms;
others up to some 80 ms, from memory). LIN itself states none."""
SURELY_S = 20e-3
"""The most that those data sheets print: what holds the line longer is no driver that works (others to 80 ms, from memory)."""


def held_dominant(channel: Channel, traffic: LinTraffic) -> Spans:
    """Stretches held dominant beyond `TIME_OUT_S`, those included that begin before or end after the capture.

    Parameters
    ----------
    channel : Channel
        Says where the capture begins and ends.
    traffic : LinTraffic
        As a receiver takes it.

    Returns
    -------
    ndarray, shape (n, 2)
        Seconds on the channel's axis.
    """
    edges = traffic.edges_s
    falls, rises = (edges[0::2], edges[1::2]) if traffic.starts_recessive else (edges[1::2], edges[0::2])
    if not traffic.starts_recessive:
        falls = np.concatenate([[channel.start_s], falls])
    if falls.size > rises.size:
        rises = np.concatenate([rises, [channel.stop_s]])
    spans = spans_of(np.column_stack([falls, rises]))
    return spans[spans[:, 1] - spans[:, 0] >= TIME_OUT_S]


def held_findings(channel: Channel, traffic: LinTraffic) -> list[Finding]:
    """Each such stretch as a finding; its size is how long it lasts."""
    found = []
    for start_s, stop_s in held_dominant(channel, traffic).tolist():
        length = stop_s - start_s
        severity: Severity = "severe" if length >= SURELY_S else "mild"
        cut = start_s <= channel.start_s or stop_s >= channel.stop_s
        rule = (
            f"held dominant for {'at least ' if cut else ''}{in_words(length, 's')}; a transceiver lets go after "
            f"{in_words(TIME_OUT_S, 's')} to {in_words(SURELY_S, 's')} (data sheets)"
        )
        found.append(Finding("held dominant", channel.name, start_s, stop_s, length, "s", rule, severity))
    return found
