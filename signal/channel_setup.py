"""What a person says about a channel after it was read: name, probe factor, current clamp, sign, offset.

The stored samples are never altered: the set-up is applied where they are read.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.pyramid import Level, Pyramid
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import Samples, Wave

PROBE_FACTORS = (1.0, 10.0, 100.0)
"""The usual ones; any other may be given."""
LEAST, MOST = 1e-6, 1e6
MOST_OFFSET = 1e9
MILLIVOLTS = 1000.0


@dataclass(frozen=True)
class ChannelSetup:
    """One channel's set-up: ``value = ± stored · factor · 1000 / clamp + offset``.

    Attributes
    ----------
    channel : str
        Which channel of its capture: the name that the file gives, ``#2`` by number where several have that name.
    name : str
        What to call it; empty for the file's own name.
    factor : float
        Multiplies: 10 where a ×10 probe was used and the instrument did not know of it.
    unit : str
        Base unit, where the file gives none; empty for the file's own.
    clamp_mv_per_a : float or None
        Millivolts that a current clamp gives an ampere; the channel is then in A.
    invert : bool
        The probe was the wrong way round.
    offset : float
        Added last, in the unit that the channel then has (V, A…).
    """

    channel: str = ""
    name: str = ""
    factor: float = 1.0
    unit: str = ""
    clamp_mv_per_a: float | None = None
    invert: bool = False
    offset: float = 0.0

    def __post_init__(self) -> None:
        for what, value in (("the probe factor", self.factor), ("the clamp", self.clamp_mv_per_a)):
            if value is not None and not LEAST <= value <= MOST:  # not-a-number is refused too
                raise ValueError(f"{what} must lie between {LEAST:g} and {MOST:g}, got {value:g}")
        if not abs(self.offset) <= MOST_OFFSET:
            raise ValueError(f"the offset must lie within ±{MOST_OFFSET:g}, got {self.offset:g}")

    @property
    def is_plain(self) -> bool:
        """Whether it changes nothing."""
        return self == ChannelSetup(channel=self.channel)

    @property
    def gain(self) -> float:
        """What the stored values are multiplied by, the sign included."""
        clamp = 1.0 if self.clamp_mv_per_a is None else MILLIVOLTS / self.clamp_mv_per_a
        return (-1.0 if self.invert else 1.0) * self.factor * clamp

    def in_words(self, unit: str | None) -> str:
        """What it does, for the channel's history; ``unit`` is the one that the channel then has."""
        said = [f"named {self.name!r}"] if self.name else []
        said += [f"the numbers are in {self.unit}"] if self.unit else []
        said += [f"multiplied by {self.factor:g}"] if self.factor != 1.0 else []
        said += [f"current clamp, {self.clamp_mv_per_a:g} mV per A"] if self.clamp_mv_per_a is not None else []
        said += ["upside down"] if self.invert else []
        more, size = "+" if self.offset > 0 else "−", in_words(abs(self.offset), unit or "", digits=6)
        said += [f"offset {more}{size}"] if self.offset else []
        return f"set up by hand: {', '.join(said)}"


class SetUpSamples:
    """The samples of a channel as its set-up has them; the stored ones stay as they are.

    Attributes
    ----------
    stored : Channel
        The channel as it was read.
    setup : ChannelSetup
        What is applied.
    """

    def __init__(self, stored: Channel, setup: ChannelSetup) -> None:
        self.stored, self.setup = stored, setup
        self._gain, self._offset = np.float32(setup.gain), np.float32(setup.offset)
        self._is_same = setup.gain == 1.0 and setup.offset == 0.0
        # Upside down the least of a pair is the greatest: they change places.
        self._turns_pairs = stored.form == "pairs" and setup.gain < 0

    @property
    def size(self) -> int:
        """Number of samples."""
        return self.stored.samples.size

    def block(self, start: int, stop: int) -> Wave:
        """Samples ``start`` to ``stop``, float32 in the unit that the set-up gives."""
        if self._is_same:
            return self.stored.samples.block(start, stop)
        if not self._turns_pairs:
            return self._scaled(self.stored.samples.block(start, stop))
        first = start - start % 2
        whole = self._scaled(self.stored.samples.block(first, min(stop + stop % 2, self.size)))
        turned = whole.reshape(-1, 2)[:, ::-1].reshape(-1)
        return turned[start - first : stop - first]

    def _scaled(self, values: Wave) -> Wave:
        with np.errstate(over="ignore"):  # what is too large for single precision is beyond any range
            scaled: Wave = values * self._gain + self._offset
        return scaled

    @cached_property
    def pyramid(self) -> Pyramid | None:
        """The stored samples' pyramid with the set-up applied; None where they bring none along."""
        stored = getattr(self.stored.samples, "pyramid", None)
        if not isinstance(stored, Pyramid) or self._is_same:
            return stored if isinstance(stored, Pyramid) else None
        return pyramid_with(stored, self.setup)


def pyramid_with(pyramid: Pyramid, setup: ChannelSetup) -> Pyramid:
    """The pyramid of a channel after its set-up, from the one of its stored samples: no sample is read again.

    Parameters
    ----------
    pyramid : Pyramid
        Of the stored samples.
    setup : ChannelSetup
        Upside down, least and greatest change places.
    """
    gain, offset = np.float32(setup.gain), np.float32(setup.offset)
    levels = []
    for level in pyramid.levels:
        with np.errstate(over="ignore"):
            low, high = level.low * gain + offset, level.high * gain + offset
        levels.append(Level(level.bucket, high, low) if gain < 0 else Level(level.bucket, low, high))
    return Pyramid(pyramid.size, tuple(levels))


def stored_of(channel: Channel) -> tuple[Channel, ChannelSetup]:
    """The channel as it was read, and its set-up; a plain one where it has none."""
    samples = channel.samples
    if isinstance(samples, SetUpSamples):
        return samples.stored, samples.setup
    return channel, ChannelSetup()


def set_up(channel: Channel, setup: ChannelSetup) -> Channel:
    """A channel with a set-up applied; one that has a set-up gets this one in its place.

    Parameters
    ----------
    channel : Channel
        Any form; its stored samples, gaps and clipped ranges stay.
    setup : ChannelSetup
        A plain one gives the channel as it was read.

    Raises
    ------
    CannotUse
        If a current clamp is given for a channel that is not in volts.
    """
    stored, _ = stored_of(channel)
    if setup.is_plain:
        return stored
    unit = stored.unit or setup.unit or None
    if setup.clamp_mv_per_a is not None and unit not in ("V", None):
        raise CannotUse(
            f"{stored.name}: a current clamp gives volts, and this channel is in {unit}. Leave the clamp out; the "
            "instrument knew of it already."
        )
    unit = "A" if setup.clamp_mv_per_a is not None else unit
    samples: Samples = SetUpSamples(stored, setup)
    name, history = setup.name or stored.name, (*stored.history, setup.in_words(unit))
    return replace(stored, name=name, unit=unit, samples=samples, history=history)


def channel_key(capture: Capture, place: int) -> str:
    """How a set-up names the channel at ``place``: as the file does, by number where that name is not the only one."""
    names = [stored_of(channel)[0].name for channel in capture.channels]
    return names[place] if names.count(names[place]) == 1 else f"#{place + 1}"


def with_setups(capture: Capture, setups: Sequence[ChannelSetup]) -> Capture:
    """A capture with these set-ups; what it was written with gives way only where one is given for that channel.

    Parameters
    ----------
    capture : Capture
        As it was read.
    setups : sequence of ChannelSetup
        One that fits no channel, or cannot be applied, is told in the notes.
    """
    if not setups:
        return capture
    keys = [channel_key(capture, place) for place in range(len(capture.channels))]
    channels, notes = list(capture.channels), list(capture.notes)
    for setup in setups:
        if setup.channel not in keys:
            notes.append(f"A set-up is kept for a channel {setup.channel!r}, which is not there; it was not used.")
            continue
        place = keys.index(setup.channel)
        try:
            channels[place] = set_up(channels[place], setup)
        except CannotUse as error:
            notes.append(f"The set-up that is kept for {setup.channel!r} was not used: {error}")
    return replace(capture, channels=tuple(channels), notes=tuple(notes))
