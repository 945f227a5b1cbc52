"""What one channel shows by itself, before it is judged, and how it was looked at."""

from dataclasses import dataclass, field
from typing import Literal

from loomlight.signal.beside import Beside
from loomlight.signal.capture import Channel
from loomlight.signal.finding import Finding
from loomlight.signal.frame_table import FrameRow
from loomlight.signal.limit_curve import LimitCurve
from loomlight.signal.measure import Measure
from loomlight.signal.setting import Setting
from loomlight.signal.track import Track


@dataclass(frozen=True)
class Conditions:
    """What is known about the measurement beside the samples.

    Attributes
    ----------
    supply_v : float or None
        Supply voltage at the node, volts; None: estimated from the recessive level where a kind can.
    same_moment : bool
        Suspect and known-good were recorded together, by one instrument on one time axis.
    upper_v, lower_v : float or None
        Own limits, volts.
    within_v : float or None
        Own tolerance around the known-good, volts either way.
    settings : tuple of (str, float)
        Figures of the signal kind that a person has changed, by key.
    besides : tuple of Beside
        Channels recorded together with the one that is judged, each in its role.
    upper_curve, lower_curve : LimitCurve or None
        Own limits that change over time.
    curves_on_good : bool
        The curves' times are the known-good's; else the suspect's.
    """

    supply_v: float | None = None
    same_moment: bool = False
    upper_v: float | None = None
    lower_v: float | None = None
    within_v: float | None = None
    settings: tuple[tuple[str, float], ...] = ()
    besides: tuple[Beside, ...] = ()
    upper_curve: LimitCurve | None = None
    lower_curve: LimitCurve | None = None
    curves_on_good: bool = False

    def figure(self, setting: Setting) -> float | None:
        """What was given for a setting, else its default."""
        return dict(self.settings).get(setting.key, setting.default)

    def figure_or(self, setting: Setting, usual: float) -> float:
        """What was given for a setting, else what is usual in this vehicle."""
        given = self.figure(setting)
        return usual if given is None else given

    def needed(self, setting: Setting) -> float:
        """The figure of a setting that has a default."""
        value = self.figure(setting)
        assert value is not None
        return value

    def beside(self, role: str) -> Channel | None:
        """The channel in this role, if there is one."""
        return next((one.channel for one in self.besides if one.role == role), None)


@dataclass(frozen=True)
class Doubt:
    """A reason why the measurement itself may not be sound.

    Attributes
    ----------
    about : str
        What is doubtful: ``"bus asleep"``, ``"probe off"``, ``"x10 mismatch"``, ``"too few samples"``…
    text : str
        One sentence with the numbers: what was seen and what it may mean.
    do : str
        What to do about it, one sentence.
    """

    about: str
    text: str
    do: str


@dataclass(frozen=True)
class TalkerLevel:
    """Levels of one talker on one channel.

    Attributes
    ----------
    talker : str
        ``"commander"`` or ``"responder 0x21"``.
    dominant_v, recessive_v : float
        State levels while it drives, volts.
    spread_v : float
        Spread of its dominant level over its frames, volts.
    frames : int
        Number of frames that they come from.
    """

    talker: str
    dominant_v: float
    recessive_v: float
    spread_v: float
    frames: int


@dataclass(frozen=True)
class BusReport:
    """What a bus carried, as far as it could be read.

    ``load`` is the share of time in which frames were sent; ``error_counts`` names each sort of error with its count.
    """

    bit_rate: float | None
    frames: int
    no_response: int
    errors: int
    identifiers: tuple[int, ...]
    supply_v: float | None
    supply_from: Literal["given", "recessive level", "unknown"]
    talkers: tuple[TalkerLevel, ...] = ()
    load: float | None = None
    error_counts: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class LevelMark:
    """A level that is drawn across the lane.

    Attributes
    ----------
    value : float
        In the channel's unit.
    text : str
        What it is, with its figure: "dominant below 4.8 V".
    """

    value: float
    text: str


@dataclass(frozen=True, eq=False)
class Examination:
    """What one channel shows by itself under one signal kind's limits.

    Attributes
    ----------
    channel : Channel
        What was looked at.
    findings : tuple of Finding
        In order of time.
    doubts : tuple of Doubt
        Empty where the measurement is sound.
    bus : BusReport or None
        For kinds that carry frames.
    measures : tuple of Measure
        Table of what was measured, whether or not a limit bounds it.
    frames : tuple of FrameRow
        For kinds that carry frames, as far as they could be read.
    tracks : tuple of Track
        What changes over the length of the capture.
    marks : tuple of LevelMark
        Levels to draw across the lane.
    """

    channel: Channel
    findings: tuple[Finding, ...]
    doubts: tuple[Doubt, ...]
    bus: BusReport | None
    measures: tuple[Measure, ...] = field(default=(), kw_only=True, repr=False)
    frames: tuple[FrameRow, ...] = field(default=(), kw_only=True, repr=False)
    tracks: tuple[Track, ...] = field(default=(), kw_only=True, repr=False)
    marks: tuple[LevelMark, ...] = field(default=(), kw_only=True, repr=False)
