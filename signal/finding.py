"""One marked stretch of time on one channel, and the limit that it broke."""

from dataclasses import dataclass
from typing import Literal

FindingKind = Literal[
    "dropout",
    "weak dominant",
    "weak recessive",
    "too high",
    "too low",
    "spike",
    "runt",
    "slow edge",
    "no response",
    "frame error",
    "out of band",
    "lost signal",
    "missing pulse",
    "extra pulse",
    "reversed pair",
    "common mode",
    "held dominant",
    "wrong bit rate",
    "wrong pattern",
    "dip",
    "transient",
    "ripple",
    "voltage drop",
    "belt slip",
    "weak compression",
    "slow cranking",
    "wrong tick",
    "damaged tooth",
    "run-out",
    "timing off",
    "jitter",
    "wrong rate",
    "wrong resistance",
    "wrong shape",
    "held still",
]
Severity = Literal["severe", "mild"]


@dataclass(frozen=True)
class Limit:
    """A level or time that a signal kind must keep.

    Attributes
    ----------
    name : str
        "receiver sees dominant at or below".
    value : float
        In ``unit``.
    unit : str
        ``"V"``, ``"s"``, ``"× supply"``…
    source : str
        The published source, or "common practice, no source", or "from memory".
    """

    name: str
    value: float
    unit: str
    source: str


@dataclass(frozen=True)
class Finding:
    """One marked stretch of time on one channel.

    Attributes
    ----------
    kind : str
        One of `FindingKind`.
    channel : str
        Name of the channel that shows it.
    start_s, stop_s : float
        Seconds on that channel's own axis.
    size : float
        Volts beyond the limit for levels; volts away from where its driver puts the line for dropouts; seconds for
        edges; a count for pulses and frames.
    unit : str
        ``"V"``, ``"s"``, ``"%"``… or ``""`` for a count.
    rule : str
        The rule that it broke, with its figures, as one short phrase.
    severity : {"severe", "mild"}
        Severe: the function may suffer, as where a receiver may read it wrongly.
    talker : str
        Who drove the bus then: ``"commander"``, ``"response 0x21"``; empty where that is not known or nobody's.
    place : str
        Where in a frame it begins: "bit 3 of data byte 2, frame 0x21"; empty outside all frames, and for signals without.
    """

    kind: FindingKind
    channel: str
    start_s: float
    stop_s: float
    size: float
    unit: str
    rule: str
    severity: Severity
    talker: str = ""
    place: str = ""
