"""What a person may say about a switched wire."""

from loomlight.signal.setting import PRACTICE, Setting

LOW_SHARE = Setting(
    "low_share", "low level at most", "× supply", 0.2, PRACTICE, 0.01, 0.5, "What the driver leaves when it pulls down."
)
HIGH_SHARE = Setting(
    "high_share",
    "high level at least",
    "× supply",
    0.8,
    PRACTICE,
    0.5,
    1.0,
    "What the line comes to when it is let go.",
)
SUPPLY = Setting(
    "pull_up",
    "supply of the line",
    "V",
    None,
    "5 V, or the supply that was given, whichever the line comes to",
    1.0,
    60.0,
    "Where the load or the pull-up is fed from.",
)
CLAMP = Setting(
    "clamp",
    "flyback is clamped at about",
    "V",
    None,
    "the maker's data; else the known-good",
    5.0,
    500.0,
    "What the driver's clamp lets the coil's flyback reach.",
)
JITTER = Setting(
    "jitter",
    "periods scatter by at most",
    "of a period",
    0.05,
    PRACTICE,
    0.001,
    0.5,
    "Standard deviation of the periods.",
)
SLOW = Setting(
    "slow_edge",
    "an edge takes at most",
    "of a period",
    0.1,
    PRACTICE,
    0.001,
    0.5,
    "From 10 % to 90 % of the amplitude.",
)
RATE = Setting(
    "rate_share",
    "frequency, from the known-good at most",
    "of it",
    0.1,
    PRACTICE,
    0.001,
    100.0,
    "100 where the frequency itself carries the value.",
)
SETTINGS = (LOW_SHARE, HIGH_SHARE, SUPPLY, CLAMP, JITTER, SLOW, RATE)
