"""What one K-line channel shows by itself: supply, levels by talker, edges, messages."""

from collections import Counter
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.examination import BusReport, Conditions, TalkerLevel
from loomlight.signal.kline_decode import KTraffic, Message, decode
from loomlight.signal.kline_limits import PULL_UP, RATE, RECEIVER_HIGH, RECEIVER_LOW
from loomlight.signal.kline_line import USUAL_BIT_RATES
from loomlight.signal.kline_words import TESTER
from loomlight.signal.levels import StateLevels
from loomlight.signal.lin_examination import converter_step
from loomlight.signal.line_case import LineCase, LineExamination
from loomlight.signal.line_faults import line_levels, median, noise_above_steps, stands_out, thresholds
from loomlight.signal.line_states import LineStates, read_states
from loomlight.signal.progress import Progress, part
from loomlight.signal.series_resistance import Ohms

Floats = npt.NDArray[np.float64]

LORRY_V = 17.0
"""A supply above this is a 24 V one (ISO 14230-1:2012, 8.2.1: 16 to 32 V)."""
FEWEST_VOLTS = 0.15
"""What an amplitude has to be to be a signal."""
UNIT = "a unit"
SupplyFrom = Literal["given", "recessive level", "unknown"]


@dataclass(frozen=True)
class TalkLevel:
    """What one message's talker makes of the line.

    Attributes
    ----------
    talker : str
        As in `Message`.
    message : Message
        Which.
    low_v : float
        Median of its settled low stretches, volts.
    count : int
        Stretches behind it.
    """

    talker: str
    message: Message
    low_v: float
    count: int


@dataclass(frozen=True, eq=False)
class KReading:
    """Everything read off one channel, before any limit is held against it.

    Attributes
    ----------
    levels : StateLevels or None
        None where no sample is finite.
    supply_v : float or None
        None where neither given nor to be read off.
    supply_from : {"given", "recessive level", "unknown"}
        Where it comes from.
    noise_v, converter_v, step_s : float
        Standard deviation of the noise; smallest step between two values; sample spacing.
    seen : LineStates or None
        Stretches as the eye can follow them; None where nothing talks.
    traffic : KTraffic or None
        As read best.
    received : KTraffic or None
        As a receiver within its limits takes it.
    talks : tuple of TalkLevel
        In order.
    """

    levels: StateLevels | None
    supply_v: float | None
    supply_from: SupplyFrom
    noise_v: float
    converter_v: float
    step_s: float
    seen: LineStates | None = field(repr=False, default=None)
    traffic: KTraffic | None = field(repr=False, default=None)
    received: KTraffic | None = field(repr=False, default=None)
    talks: tuple[TalkLevel, ...] = field(repr=False, default=())

    @property
    def is_flat(self) -> bool:
        """Whether nothing talks on this line."""
        return self.seen is None

    @property
    def bit_s(self) -> float | None:
        """Bit time, seconds; None where none could be found."""
        return self.traffic.bit_s if self.traffic is not None else None

    @property
    def messages(self) -> tuple[Message, ...]:
        """All messages, as read best."""
        return self.traffic.messages if self.traffic is not None else ()

    @property
    def talkers(self) -> tuple[str, ...]:
        """Everyone who talks, the tester first."""
        return tuple(sorted({one.talker for one in self.talks}, key=lambda name: (name != TESTER, name)))

    def lows_of(self, talker: str) -> Floats:
        """Low level of each message of one talker, volts."""
        return np.array([one.low_v for one in self.talks if one.talker == talker])


class KExamination(LineExamination[KReading]):
    """One K-line channel by itself: what was read off the line, beside findings and doubts."""


KCase = LineCase[KReading]


def read_line(channel: Channel, conditions: Conditions, progress: Progress) -> KReading:
    """Read levels, edges and messages off one channel.

    Parameters
    ----------
    channel : Channel
        Evenly spaced, volts.
    conditions : Conditions
        Supply and settings.
    progress : Progress
        0 to 1.
    """
    assert channel.step_s is not None
    levels = line_levels(channel.samples, part(progress, 0.0, 0.2))
    step_v = converter_step(channel.samples)
    noise_v = noise_above_steps(channel, step_v)
    supply_v = conditions.supply_v
    source: SupplyFrom = "given" if supply_v is not None else "unknown"
    talks = levels is not None and stands_out(levels, least_v=FEWEST_VOLTS, converter_v=step_v, noise_v=noise_v)
    if supply_v is None and levels is not None and talks:
        supply_v, source = levels.high, "recessive level"
    flat = KReading(levels, supply_v, source, noise_v, step_v, channel.step_s)
    if not talks or levels is None or supply_v is None:
        return flat
    ends = (levels.low, levels.high)
    best: tuple[LineStates, KTraffic] | None = None
    # What the eye follows, from half way down to just below the resting line: a weak low is followed by the last only.
    for number, (low_share, high_share) in enumerate(((0.35, 0.65), (0.72, 0.86))):
        low, high = thresholds(levels, noise_v, low_share, high_share)
        walk = part(progress, 0.2 + 0.25 * number, 0.45 + 0.25 * number)
        states = read_states(channel, low=low, high=high, levels=ends, progress=walk)
        traffic = decode(states, start_s=channel.start_s, stop_s=channel.stop_s)
        if best is None or _worth(traffic) > _worth(best[1]):
            best = states, traffic
    assert best is not None
    received = None if supply_v <= 0 else _received(channel, conditions, supply_v, ends, part(progress, 0.7, 1.0))
    seen, traffic = best
    if seen.start_s.size < 4:
        return flat
    return KReading(
        levels,
        supply_v,
        source,
        noise_v,
        step_v,
        channel.step_s,
        seen,
        traffic,
        received,
        _talks(seen, traffic),
    )


def _worth(traffic: KTraffic) -> tuple[int, int]:
    """More whole messages are better, then more bytes."""
    good = sum(one.state == "good" for one in traffic.messages)
    return good, sum(len(one.fields) for one in traffic.messages if one.state not in ("framing error",))


def _received(
    channel: Channel, conditions: Conditions, supply_v: float, ends: tuple[float, float], progress: Progress
) -> KTraffic:
    """What a receiver at its limits takes the line for: low below the lower one, high above the upper one."""
    low_v, high_v = (conditions.needed(one) * supply_v for one in (RECEIVER_LOW, RECEIVER_HIGH))
    states = read_states(channel, low=low_v, high=high_v, levels=ends, progress=progress)
    return decode(states, start_s=channel.start_s, stop_s=channel.stop_s)


def _talks(states: LineStates, traffic: KTraffic) -> tuple[TalkLevel, ...]:
    """Low level of each message: of stretches of most of a bit or longer."""
    found = []
    bit_s = traffic.bit_s or 0.0
    known = {one.talker for one in traffic.messages if one.state == "good"}
    for one in traffic.messages:
        volts = states.levels_between(one.start_s, one.stop_s, high=False, at_least_s=0.7 * bit_s)
        if volts.size >= 2:
            talker = one.talker if one.state == "good" or one.talker in known else UNIT
            found.append(TalkLevel(talker, one, median(volts), volts.size))
    return tuple(found)


def pull_up(line: KReading, conditions: Conditions) -> Ohms:
    """The tester's pull-up: 510 Ω ±5 %, at 24 V 1 kΩ ±5 % (ISO 14230-1:2012, 8.2.2), or what was given."""
    given = conditions.figure(PULL_UP)
    ohm = given if given is not None else 1000.0 if (line.supply_v or 0.0) > LORRY_V else 510.0
    # Units may have pull-ups of their own beside it: they only make it less (15 kΩ or more, from memory).
    return Ohms(ohm, 1.0 / (1.0 / (0.95 * ohm) + 1.0 / 10e3), 1.05 * ohm)


def nominal_rate(line: KReading, conditions: Conditions) -> float | None:
    """The bit rate meant: given, else the usual one that is nearest; None where none is near."""
    given = conditions.figure(RATE)
    if given is not None:
        return given
    rates = [1.0 / one.bit_s for one in line.messages if np.isfinite(one.bit_s) and one.talker == TESTER]
    if not rates and line.bit_s:
        rates = [1.0 / line.bit_s]
    if not rates:
        return None
    rate = float(np.median(rates))
    near = min(USUAL_BIT_RATES, key=lambda one: abs(one / rate - 1.0))
    return near if abs(near / rate - 1.0) < 0.045 else None


def rates_by_talker(line: KReading) -> dict[str, tuple[float, int]]:
    """Median bit rate of each talker and the messages behind it."""
    found: dict[str, list[float]] = {}
    for one in line.messages:
        if np.isfinite(one.bit_s) and one.state in ("good", "checksum error") and one.talker:
            found.setdefault(one.talker, []).append(1.0 / one.bit_s)
    return {talker: (float(np.median(rates)), len(rates)) for talker, rates in found.items()}


def unanswered(line: KReading, stop_s: float) -> tuple[Message, ...]:
    """Whole requests after which nobody spoke for 0.1 s, or until the tester spoke again."""
    found = []
    messages = line.messages
    for number, one in enumerate(messages):
        if one.state != "good" or one.talker != TESTER or one.note:
            continue
        following = messages[number + 1] if number + 1 < len(messages) else None
        quiet_s = (following.start_s if following is not None else stop_s) - one.stop_s
        if quiet_s > 0.1 if following is None else (following.talker == TESTER and quiet_s > 0.02):
            found.append(one)
    return tuple(found)


def bus_report(line: KReading, channel: Channel) -> BusReport:
    """What the line carried, in figures."""
    messages = line.messages
    states = [one.state for one in messages]
    wrong = [state for state in states if state in ("checksum error", "framing error", "cut short")]
    high_v = line.levels.high if line.levels is not None else float("nan")
    addresses = {one.header.source for one in messages if one.header is not None and one.state == "good"}
    talked_s = sum(one.stop_s - one.start_s for one in messages)
    return BusReport(
        bit_rate=1.0 / line.bit_s if line.bit_s else None,
        frames=len(messages),
        no_response=len(unanswered(line, channel.stop_s)),
        errors=len(wrong),
        identifiers=tuple(sorted(one for one in addresses if one is not None)),
        supply_v=line.supply_v,
        supply_from=line.supply_from,
        talkers=tuple(
            TalkerLevel(
                who, median(line.lows_of(who)), high_v, float(np.ptp(line.lows_of(who))), line.lows_of(who).size
            )
            for who in line.talkers
        ),
        load=talked_s / max(channel.stop_s - channel.start_s, 1e-12),
        error_counts=tuple(Counter(wrong).items()),
    )
