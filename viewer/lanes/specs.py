"""What a lane shows: traces with their roles, limit lines, a band."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.lineup import LineUp
from loomlight.signal.pyramid import Pyramid
from loomlight.signal.samples import Times
from loomlight.viewer.lanes.states import form_words, rails_of, spans_of
from loomlight.viewer.lanes.stretches import Stretches
from loomlight.viewer.lanes.words import Words
from loomlight.viewer.roles import ROLES, RoleKey


@dataclass(frozen=True, eq=False)
class Trace:
    """One channel in a lane.

    Attributes
    ----------
    channel : Channel
        What is drawn.
    pyramid : Pyramid
        Of its samples.
    role : str
        Gives colour, marker and weight.
    label : str
        Name at the lane's head.
    lag_s, stretch : float
        The channel's own time is ``lag_s + stretch · (time on the picture)``; 0 and 1 for the channel that the picture's
        axis belongs to.
    upside_down : bool
        Drawn with its sign changed.
    says_form : bool
        How the line is to be read (pairs, changes, uneven times) is said at the lane's head.
    """

    channel: Channel
    pyramid: Pyramid = field(repr=False)
    role: RoleKey
    label: str
    lag_s: float = 0.0
    stretch: float = 1.0
    upside_down: bool = False
    says_form: bool = True

    @property
    def marker(self) -> str:
        """The role's sign; of a channel without a role its number, where its label begins with one."""
        number = self.label.partition(":")[0]
        return ROLES[self.role].marker or (number if number.isdecimal() else "")

    @property
    def heading(self) -> str:
        """Marker, role and name, and how the line is to be read where that is not plain."""
        role = ROLES[self.role]
        words = ", ".join((self.label, *(form_words(self.channel) if self.says_form else ())))
        return f"{role.marker} {role.key}: {words}" if role.marker else words

    def on_picture(self, own_s: float) -> float:
        """Time on the picture of a time on the channel's own axis."""
        return (own_s - self.lag_s) / self.stretch

    def on_picture_all(self, own_s: Times) -> Times:
        """Times on the picture of times on the channel's own axis."""
        return (own_s - self.lag_s) / self.stretch

    def span(self) -> tuple[float, float]:
        """Begin and end on the picture's axis."""
        ends = sorted((self.on_picture(self.channel.start_s), self.on_picture(self.channel.stop_s)))
        return ends[0], ends[1]

    @cached_property
    def gaps(self) -> Stretches:
        """Where nothing was acquired, on the picture's axis."""
        return Stretches(self.on_picture_all(spans_of(self.channel, self.channel.gaps)))

    @cached_property
    def clipped(self) -> tuple[tuple[Stretches, float, bool], ...]:
        """Where the trace stands at a rail, on the picture's axis: stretches, the rail's value, whether it is the upper one."""
        reach = self.value_range() if self.channel.clipped else None
        if reach is None:
            return ()
        low, high = (-reach[1], -reach[0]) if self.upside_down else reach
        rails, spans_s = rails_of(self.channel, self.pyramid, low, high), spans_of(self.channel, self.channel.clipped)
        sign, turned = (-1.0, True) if self.upside_down else (1.0, False)
        return tuple(
            (Stretches(self.on_picture_all(spans_s[there])), sign * rail, upper != turned)
            for there, rail, upper in ((rails.at_high, rails.high, True), (rails.at_low, rails.low, False))
            if there.any()
        )

    def value_range(self) -> tuple[float, float] | None:
        """Least and greatest finite value, from the coarsest level."""
        levels = self.pyramid.levels
        if levels:
            low, high = levels[-1].low, levels[-1].high
        else:
            low = high = self.channel.samples.block(0, self.channel.samples.size)
        low, high = low[np.isfinite(low)], high[np.isfinite(high)]
        if not (low.size and high.size):
            return None
        ends = float(low.min()), float(high.max())
        return (-ends[1], -ends[0]) if self.upside_down else ends


def laid_over(channel: Channel, pyramid: Pyramid, lineup: LineUp | None, *, role: RoleKey, label: str) -> Trace:
    """The known-good's trace, laid over the suspect by a line-up (as it stands, where it was refused)."""
    if lineup is None or not lineup.accepted:
        return Trace(channel, pyramid, role, label)
    return Trace(channel, pyramid, role, label, lineup.lag_s, lineup.stretch, lineup.polarity < 0)


@dataclass(frozen=True)
class LevelLine:
    """A limit across the lane, with what it says."""

    value: float
    text: str


@dataclass(frozen=True)
class ValueScale:
    """What was set for a lane's value axis.

    Attributes
    ----------
    bounds : tuple of float or None
        Least and greatest value; None: fitted to the traces.
    prefix : str or None
        Of the unit; None: as it fits.
    """

    bounds: tuple[float, float] | None = None
    prefix: str | None = None


@dataclass(frozen=True, eq=False)
class Lane:
    """One strip.

    Attributes
    ----------
    key : str
        What findings and notes name it by: the name of its first channel.
    traces : tuple of Trace
        Drawn in order, the last on top.
    lines : tuple of LevelLine
        Limits.
    band : float or None
        Half width of a tolerance band around zero.
    ends : tuple of Trace or None
        Lower and upper end of a band that varies over time; it takes the place of ``band``.
    unit : str
        On the value axis.
    weight : float
        Share of the height, against the other lanes.
    scale : ValueScale
        What was set for its value axis.
    laid : tuple of Lane
        Others laid over this one: at its scale where they have its unit, at their own with an axis at the right where not.
    words : Words or None
        What its bus says, along the lane's foot.
    """

    key: str
    traces: tuple[Trace, ...]
    lines: tuple[LevelLine, ...] = ()
    band: float | None = None
    ends: tuple[Trace, Trace] | None = None
    unit: str = "V"
    weight: float = 1.0
    scale: ValueScale = ValueScale()
    laid: tuple["Lane", ...] = ()
    words: Words | None = None

    @property
    def layers(self) -> tuple["Lane", ...]:
        """The lane itself and those laid over it."""
        return (self, *self.laid)

    @property
    def all_traces(self) -> tuple[Trace, ...]:
        """Those of all layers."""
        return tuple(trace for layer in self.layers for trace in layer.traces)

    def shares_scale(self, layer: "Lane") -> bool:
        """Whether a layer is drawn at this lane's own scale."""
        return layer.unit == self.unit

    def span(self) -> tuple[float, float]:
        """Begin and end over all traces."""
        spans = [trace.span() for trace in self.all_traces]
        return min(one[0] for one in spans), max(one[1] for one in spans)

    def value_range(self) -> tuple[float, float]:
        """The bounds that were set; else least and greatest value over all traces of this scale, with room for the head."""
        if self.scale.bounds is not None:
            return self.scale.bounds
        layers = [layer for layer in self.layers if self.shares_scale(layer)]
        ranges = [one for layer in layers for trace in layer.traces if (one := trace.value_range()) is not None]
        if self.ends is not None:
            ranges += [one for trace in self.ends if (one := trace.value_range()) is not None]
        elif self.band is not None:
            ranges.append((-self.band, self.band))
        if not ranges:
            return 0.0, 1.0
        low, high = min(one[0] for one in ranges), max(one[1] for one in ranges)
        room = (high - low) or max(abs(high), 1.0)
        return low - 0.08 * room, high + 0.22 * room
