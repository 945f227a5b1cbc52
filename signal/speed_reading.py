"""A wheel speed sensor's current, read: its levels, its speed pulses, and what they draw over time."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.edges import find_edges
from loomlight.signal.level_hills import level_hills, levels_between
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.pulse_train import GLANCE, GLANCES, Train, glance_of, read_train, train_between
from loomlight.signal.resample import Instants, instants
from loomlight.signal.samples import Samples, Times
from loomlight.signal.speed_bits import SpeedData, read_data
from loomlight.signal.wheel_pattern import Wheel
from loomlight.signal.wheel_reading import WheelReading, read_wheel

Row = npt.NDArray[np.float64]

ABOVE, MOST_ABOVE = 0.7, 3.6
"""Steps from lower to upper level: the speed pulse of the kind with three levels lies two above the upper one (28, 14, 7 mA)."""
FEWEST = 4
PIECES = 400
LASTING = 0.08
PARTNERS = (1.15, 2.9)
"""Upper over lower current: 1.39 to 2.86 by the data sheet's limits; less where resistance keeps the upper one down."""


@dataclass(frozen=True, eq=False)
class SpeedReading:
    """What one channel shows, in amperes where the shunt is known, else in its own unit.

    Attributes
    ----------
    factor : float
        Amperes a unit of the channel.
    in_amperes : bool
        Whether the currents are known.
    most : float
        The highest level at which the line stands for a part of the capture.
    low, high : float
        Lower and upper level.
    third : float or None
        Level of the speed pulse of the kind with three levels.
    noise : float
        Scatter within a level.
    wheel : WheelReading
        Speed pulses as a wheel's teeth.
    widths_s : ndarray
        Length of each speed pulse, seconds.
    data : SpeedData or None
        What follows each speed pulse of the kind with three levels.
    times_s, lows, highs : ndarray
        Levels over the capture, one of each in a stretch; not-a-number where a stretch has none.
    """

    factor: float
    in_amperes: bool
    most: float
    low: float
    high: float
    third: float | None
    noise: float
    wheel: WheelReading
    widths_s: Row = field(repr=False)
    times_s: Times = field(repr=False)
    lows: Row = field(repr=False)
    highs: Row = field(repr=False)
    data: SpeedData | None = field(default=None, repr=False)

    @property
    def has_pulses(self) -> bool:
        """Whether speed pulses were seen."""
        return self.wheel.teeth is not None

    @property
    def rate_hz(self) -> float | None:
        """Usual frequency of the speed pulses."""
        pitch = self.wheel.pitch_s
        return 1.0 / pitch if pitch else None


def read_speed(
    channel: Channel, shunt_ohm: float | None, poles: float | None, progress: Progress = unwatched
) -> SpeedReading | None:
    """Read a channel in amperes, or in volts across a shunt.

    Parameters
    ----------
    channel : Channel
        Form ``even`` or ``pairs``.
    shunt_ohm : float or None
        What the volts were measured across; None: not known, or not needed.
    poles : float or None
        Speed pulses a turn of the wheel.
    progress : Progress
        0 to 1.

    Returns
    -------
    SpeedReading or None
        None where no sample is a number.
    """
    assert channel.step_s is not None
    known = channel.unit == "A" or shunt_ohm is not None
    factor = 1.0 if channel.unit == "A" or shunt_ohm is None else 1.0 / shunt_ohm
    row = Instants(channel)
    train = _levels_and_edges(channel, row, part(progress, 0.0, 0.5))
    if train is None:
        return None
    low, high, third = train.low, train.high, None
    pulses = _third_level(channel, row, train, part(progress, 0.5, 0.7))
    if pulses is not None:
        third, train = pulses.high, pulses
    given = Wheel(round(poles), ()) if poles is not None else None
    wheel = read_wheel(channel, given, part(progress, 0.7, 0.9), gaps_known=True, train=train, even=True)
    assert wheel is not None
    times, lows, highs = _levels_over_time(channel, low, high, third)
    widths_s = _widths(train)
    data = None
    if third is not None and widths_s.size:
        starts_s = train.like(rising=True)[: widths_s.size]
        data = read_data(channel, starts_s, float(np.median(widths_s)), (low, high), part(progress, 0.9, 1.0))
    return SpeedReading(
        factor=factor,
        in_amperes=known,
        most=_most(row) * factor,
        low=low * factor,
        high=high * factor,
        third=third * factor if third is not None else None,
        noise=train.noise * factor,
        wheel=wheel,
        widths_s=widths_s,
        times_s=times,
        lows=lows * factor,
        highs=highs * factor,
        data=data,
    )


def _levels_and_edges(channel: Channel, row: Samples, progress: Progress) -> Train | None:
    """Edges between the sensor's two lower levels: of all levels that the line has, those whose currents go together.

    A short or a break leaves a level that may last longer than the sensor's own; it is no partner of theirs.
    """
    glance = glance_of(row)
    if not glance.size:
        return None
    hills = level_hills(glance, above=99.9)
    pairs = [
        (one.share + other.share, one, other)
        for one in hills
        for other in hills
        if one.level > 0 and PARTNERS[0] < other.level / one.level < PARTNERS[1]
    ]
    if not pairs:
        return read_train(channel, progress, switching=True)
    _, low, high = max(pairs, key=lambda one: one[0])
    return train_between(channel, levels_between(low, high, glance), progress)


def _most(row: Samples) -> float:
    glance = glance_of(row)
    hills = [one.level for one in level_hills(glance, above=99.9) if one.share > LASTING]
    return max(hills) if hills else float(np.median(glance))


def _third_level(channel: Channel, row: Samples, train: Train, progress: Progress) -> Train | None:
    """Pulses well above the two commonest levels, as a train of their own; None where there are none.

    A short draws several times as much and stays: what lasts longer than a pulse is no level of the sensor.
    """
    if train.manner == "flat" or train.amplitude <= 0:
        return None
    bar = train.high + ABOVE * train.amplitude
    if train.greatest <= bar:
        return None
    half = 0.2 * train.amplitude
    edges = find_edges(row, low=bar - half, high=bar + half, level=bar, progress=progress)
    count = int(edges.rising.sum())
    lengths = np.diff(edges.at)[edges.rising[:-1]]
    others = train.at_s.size / 2
    if count < FEWEST or others > 60 * count or lengths.size < FEWEST:
        return None
    apart = float(np.median(np.diff(edges.at[edges.rising])))
    if float(np.median(lengths)) > 0.5 * apart:
        return None
    glance = row.block(0, min(row.size, GLANCES * GLANCE))
    # A short draws more than any level, and may last longer than all speed pulses together.
    tops = glance[np.isfinite(glance) & (glance > bar) & (glance < train.high + MOST_ABOVE * train.amplitude)]
    top = float(np.median(tops)) if tops.size else bar
    assert channel.step_s is not None
    return Train(
        manner="two levels",
        low=train.low,
        high=top,
        middle=bar,
        noise=train.noise,
        least=train.least,
        greatest=train.greatest,
        at_s=channel.start_s + edges.at * channel.step_s,
        rising=edges.rising,
        starts_high=edges.starts_high,
        step_s=channel.step_s,
    )


def _widths(train: Train) -> Row:
    ups, downs = train.like(rising=True), train.like(rising=False)
    downs = downs[np.searchsorted(downs, ups[0]) :] if ups.size else downs
    count = min(ups.size, downs.size)
    return downs[:count] - ups[:count]


def _levels_over_time(channel: Channel, low: float, high: float, third: float | None) -> tuple[Times, Row, Row]:
    """Median of what lies near the lower and near the upper level, stretch by stretch."""
    assert channel.step_s is not None
    pieces = min(PIECES, max(channel.intervals // 200, 1))
    bounds = np.linspace(0, channel.intervals, pieces + 1).astype(np.int64)
    middle = 0.5 * (low + high)
    roof = 0.5 * (high + third) if third is not None else np.inf
    times: Times = channel.start_s + 0.5 * (bounds[:-1] + bounds[1:]).astype(np.float64) * channel.step_s
    lows, highs = np.full(pieces, np.nan), np.full(pieces, np.nan)
    for place, (first, last) in enumerate(zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True)):
        values = instants(channel, first, min(last, first + GLANCE))
        below, above = values[values < middle], values[(values >= middle) & (values < roof)]
        if below.size >= 5:
            lows[place] = float(np.median(below))
        if above.size >= 5:
            highs[place] = float(np.median(above))
    return times, lows, highs
