"""SENT frames in the falling edges of a line: tick, nibbles, check, pause, and the slow channel's messages."""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.sent_words import FORMS, Form, Nibbles, check_of, checks, enhanced_check

Floats = npt.NDArray[np.float64]
State = Literal["good", "checksum error", "pulse missing", "nibble unclear", "past the end"]

SYNC_TICKS, LEAST_TICKS, MOST_TICKS = 56.0, 12.0, 27.0
"""Sync pulse, and nibbles of 0 to 15, falling edge to falling edge (SAE J2716)."""
HALF = 0.5
SYNC_SLACK = 0.12
"""How far a sync pulse may be from the usual one of the capture and still be taken for one (common practice, no source)."""
GROUP = 0.2
"""How far the lengths of one group of possible sync pulses may lie apart."""
UNCLEAR = 0.38
"""A nibble that many ticks from a whole number could be its neighbour."""
FEWEST_SYNCS = 2
FORM_SHARE = 0.3
"""By chance a form fits one frame in sixteen."""
MOST_NIBBLES = 8
"""Status, one to six data nibbles, check (SAE J2716)."""


@dataclass(frozen=True)
class SentFrame:
    """One frame.

    Attributes
    ----------
    start_s, stop_s : float
        From the sync pulse's fall to the fall that ends the check nibble, seconds.
    tick_s : float
        From its own sync pulse, seconds.
    edges_s : tuple of float
        Its falling edges, the first and the last included, seconds.
    nibbles : tuple of int
        Status, data, check as far as they were read.
    state : str
        ``"good"``…
    problem : str
        What was wrong; empty if nothing.
    pause_s : float or None
        Pause after it, seconds.
    """

    start_s: float
    stop_s: float
    tick_s: float
    edges_s: tuple[float, ...]
    nibbles: tuple[int, ...]
    state: State
    problem: str = ""
    pause_s: float | None = None

    @property
    def data(self) -> tuple[int, ...]:
        """Data nibbles."""
        return self.nibbles[1:-1]


@dataclass(frozen=True)
class SlowMessage:
    """One message of the slow channel.

    Attributes
    ----------
    start_s, stop_s : float
        First frame's start, last one's stop, seconds.
    form : {"short", "enhanced"}
        Over 16 or 18 frames.
    identifier, value : int
        What it says.
    is_right : bool
        Whether its own check fits.
    """

    start_s: float
    stop_s: float
    form: Literal["short", "enhanced"]
    identifier: int
    value: int
    is_right: bool


@dataclass(frozen=True, eq=False)
class SentTraffic:
    """What a SENT line carried.

    Attributes
    ----------
    tick_s : float or None
        Median; None where none could be found.
    frames : tuple of SentFrame
        In order.
    data_nibbles : int
        Of each frame; 0 where not known.
    has_pause : bool
        Whether a pause pulse follows each frame.
    form : str or None
        The check's form that fits most frames; None where none fits even half of them.
    forms : tuple of (str, int)
        How many frames each form fits.
    slow : tuple of SlowMessage
        In order.
    """

    tick_s: float | None
    frames: tuple[SentFrame, ...] = field(repr=False, default=())
    data_nibbles: int = 0
    has_pause: bool = False
    form: Form | None = None
    forms: tuple[tuple[Form, int], ...] = ()
    slow: tuple[SlowMessage, ...] = ()


def decode(falls_s: Floats) -> SentTraffic:
    """Read frames off falling edges.

    Parameters
    ----------
    falls_s : ndarray of float64, shape (n,)
        Falling edges in order, seconds.
    """
    apart = np.diff(falls_s)
    tick_s = _tick(apart)
    if tick_s is None:
        return SentTraffic(None)
    syncs = _syncs(apart, tick_s)
    if syncs.size < FEWEST_SYNCS:
        return SentTraffic(None)
    tick_s = float(np.median(apart[syncs])) / SYNC_TICKS
    usual = int(np.bincount(np.diff(syncs) - 1).argmax())
    syncs = _without_lookalikes(syncs, usual)
    if syncs.size < FEWEST_SYNCS:
        return SentTraffic(None)
    layout = _layout(apart, syncs, usual)
    frames = _frames(falls_s, apart, syncs, usual, layout)
    return SentTraffic(tick_s, frames, layout.data, layout.has_pause, layout.form, layout.forms, slow_messages(frames))


def _tick(apart: Floats) -> float | None:
    """Tick by the pulses that can be sync pulses: three more follow that are nibbles on their scale, in whole ticks."""
    count = apart.size - 3
    if count < 1:
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        ticks = np.stack([apart[place : place + count] * SYNC_TICKS / apart[:count] for place in (1, 2, 3)])
    fits = np.all((ticks >= LEAST_TICKS - HALF) & (ticks <= MOST_TICKS + HALF), axis=0)
    lengths, off = apart[:count][fits], np.abs(ticks - np.rint(ticks))[:, fits].mean(axis=0)
    if not lengths.size:
        return None
    order = np.argsort(lengths)
    lengths, off = lengths[order], off[order]
    running = np.concatenate([[0.0], np.cumsum(HALF * HALF - off)])
    # The group of lengths within some percent of each other that together look most like whole ticks.
    stops = np.searchsorted(lengths, lengths * (1.0 + GROUP), side="right")
    worth = running[stops] - running[: lengths.size]
    best = int(np.argmax(worth))
    if worth[best] <= 0.0:
        return None
    return float(np.median(lengths[best : stops[best]])) / SYNC_TICKS


def _syncs(apart: Floats, tick_s: float) -> npt.NDArray[np.int64]:
    """Places of the sync pulses."""
    near = np.abs(apart / (SYNC_TICKS * tick_s) - 1.0) <= SYNC_SLACK
    # A pause may be as long; but then a sync pulse follows it, which is no nibble.
    following = np.append(apart[1:], np.nan) * SYNC_TICKS / apart
    with np.errstate(invalid="ignore"):
        nibble = (following >= LEAST_TICKS - HALF) & (following <= MOST_TICKS + HALF)
    return np.flatnonzero(near & nibble)


def _without_lookalikes(syncs: npt.NDArray[np.int64], usual: int) -> npt.NDArray[np.int64]:
    """Leave out what stands inside a frame: where an edge is missing two nibbles may together last as long as a sync pulse."""
    kept: list[int] = []
    for number, place in enumerate(syncs.tolist()):
        following = int(syncs[number + 1]) if number + 1 < syncs.size else None
        if kept and following is not None and following - kept[-1] <= usual + 1:
            continue
        kept.append(place)
    return np.array(kept, dtype=np.int64)


@dataclass(frozen=True)
class _Layout:
    data: int
    has_pause: bool
    form: Form | None
    forms: tuple[tuple[Form, int], ...]


def _layout(apart: Floats, syncs: npt.NDArray[np.int64], usual: int) -> _Layout:
    """Data nibbles, pause and check form that fit most whole frames."""
    whole = syncs[:-1][np.diff(syncs) - 1 == usual]
    rows = apart[whole[:, None] + np.arange(1, usual + 1)] * SYNC_TICKS / apart[whole][:, None]
    last_is_nibble = bool(np.median(rows[:, -1]) <= MOST_TICKS + HALF) and bool(np.all(rows[:, -1] <= MOST_TICKS + 1.0))
    best: tuple[int, _Layout] | None = None
    for has_pause in (False, True) if last_is_nibble else (True,):
        used = usual - has_pause
        if not 3 <= used <= MOST_NIBBLES:
            continue
        nibbles = np.clip(np.rint(rows[:, :used]) - LEAST_TICKS, 0, 15).astype(np.int64)
        fitting = tuple((form, _fitting(nibbles, form)) for form in FORMS)
        form, count = max(fitting, key=lambda one: one[1])
        found = _Layout(used - 2, has_pause, form if count > FORM_SHARE * len(rows) else None, fitting)
        # A pause of twelve ticks looks like one more nibble of 0; and the legacy check over data and check is always 0.
        is_idle = has_pause and bool(np.all(np.rint(rows[:, -1]) == LEAST_TICKS))
        if best is None or count > best[0] or (count == best[0] and is_idle):
            best = count, found
    return best[1] if best is not None else _Layout(0, False, None, ())


def _fitting(nibbles: Nibbles, form: Form) -> int:
    return int(np.count_nonzero(checks(nibbles[:, 0], nibbles[:, 1:-1], form) == nibbles[:, -1]))


def _frames(
    falls_s: Floats, apart: Floats, syncs: npt.NDArray[np.int64], usual: int, layout: _Layout
) -> tuple[SentFrame, ...]:
    found = []
    used = layout.data + 2 if layout.data else usual
    ends = np.append(syncs[1:], apart.size)
    for number, (first, end) in enumerate(zip(syncs.tolist(), ends.tolist(), strict=True)):
        tick_s = float(apart[first]) / SYNC_TICKS
        pulses = apart[first + 1 : end] / tick_s
        is_last = number == syncs.size - 1
        if is_last:
            pulses = pulses[: usual if layout.has_pause else used]
        nibbles, state, problem = _read(pulses, used, usual, is_last=is_last, layout=layout)
        count = min(used, pulses.size)
        edges = falls_s[first : first + 2 + count]
        pause = (
            float(apart[first + used + 1])
            if layout.has_pause and pulses.size > used and state != "pulse missing"
            else None
        )
        found.append(
            SentFrame(float(edges[0]), float(edges[-1]), tick_s, tuple(edges.tolist()), nibbles, state, problem, pause)
        )
    return tuple(found)


def _read(
    pulses: Floats, used: int, usual: int, *, is_last: bool, layout: _Layout
) -> tuple[tuple[int, ...], State, str]:
    """Nibbles of one frame, and what is wrong with it."""
    ticks = pulses[:used]
    nibbles = tuple(np.clip(np.rint(ticks) - LEAST_TICKS, 0, 15).astype(int).tolist())
    outside = np.flatnonzero((ticks < LEAST_TICKS - HALF) | (ticks > MOST_TICKS + HALF))
    if outside.size:
        place = int(outside[0])
        what = f"pulse {place + 1} lasts {ticks[place]:.1f} ticks; a nibble lasts 12 to 27"
        return nibbles[:place], "pulse missing", what
    if is_last and pulses.size < used:
        return nibbles, "past the end", "the capture ends inside this frame"
    if not is_last and pulses.size != usual:
        return nibbles, "pulse missing", f"{pulses.size} pulses after the sync pulse where others have {usual}"
    unclear = np.flatnonzero(np.abs(ticks - np.rint(ticks)) > UNCLEAR)
    if layout.form is not None and check_of(nibbles[1:-1], layout.form, status=nibbles[0]) != nibbles[-1]:
        wanted = check_of(nibbles[1:-1], layout.form, status=nibbles[0])
        return nibbles, "checksum error", f"check {nibbles[-1]:X}, {wanted:X} would fit"
    if unclear.size:
        place = int(unclear[0])
        return nibbles, "nibble unclear", f"pulse {place + 1} lasts {ticks[place]:.2f} ticks, between two values"
    if layout.form is None:
        return nibbles, "checksum error", "no form of the check fits"
    return nibbles, "good", ""


def slow_messages(frames: tuple[SentFrame, ...]) -> tuple[SlowMessage, ...]:
    """Messages in bits 2 and 3 of the status nibbles: bit 3 marks where one starts, bit 2 carries it.

    References
    ----------
    .. [1] SAE J2716: short form over 16 frames, identifier 4, data 8, check 4 bits; enhanced form over 18 (from memory).
    """
    whole = [one for one in frames if one.nibbles and one.state in ("good", "checksum error", "nibble unclear")]
    found: list[SlowMessage] = []
    at = 0
    while at + 16 <= len(whole):
        bits_3 = [one.nibbles[0] >> 3 & 1 for one in whole[at : at + 18]]
        bits_2 = [one.nibbles[0] >> 2 & 1 for one in whole[at : at + 18]]
        if not _in_a_row(whole[at : at + 16]):
            at += 1
        elif bits_3[0] and not any(bits_3[1:16]):
            found.append(_short(whole[at : at + 16], bits_2[:16]))
            at += 16
        elif bits_3[:7] == [1] * 6 + [0] and len(bits_3) == 18 and not bits_3[12] and not bits_3[17]:
            found.append(_enhanced(whole[at : at + 18], bits_2, bits_3))
            at += 18
        else:
            at += 1
    return tuple(found)


def _in_a_row(frames: list[SentFrame]) -> bool:
    """Whether no frame is missing between them."""
    starts = np.array([one.start_s for one in frames])
    longest = max(one.stop_s - one.start_s + (one.pause_s or 0.0) for one in frames)
    return bool(np.all(np.diff(starts) < 1.6 * longest))


def _number(bits: list[int]) -> int:
    value = 0
    for bit in bits:
        value = value << 1 | bit
    return value


def _short(frames: list[SentFrame], bits: list[int]) -> SlowMessage:
    identifier, value, check = _number(bits[:4]), _number(bits[4:12]), _number(bits[12:16])
    parts = (identifier, value >> 4, value & 15)
    right = check in (check_of(parts, "recommended"), check_of(parts, "legacy"))
    return SlowMessage(frames[0].start_s, frames[-1].stop_s, "short", identifier, value, right)


def _enhanced(frames: list[SentFrame], bits_2: list[int], bits_3: list[int]) -> SlowMessage:
    value, upper, lower = _number(bits_2[6:18]), _number(bits_3[8:12]), _number(bits_3[13:17])
    # The configuration bit says whether the second four bits belong to the identifier or to the data.
    identifier = upper if bits_3[7] else upper << 4 | lower
    value = lower << 12 | value if bits_3[7] else value
    right = _number(bits_2[:6]) == enhanced_check(bits_2[6:18], bits_3[6:18])
    return SlowMessage(frames[0].start_s, frames[-1].stop_s, "enhanced", identifier, value, right)
