"""Notes that hold the time of day of a recording, and the same without it."""

import re
from datetime import UTC, datetime

UNSET_YEARS = (1903, 1904, 1970)
"""What a clock that was never set shows."""
SINCE_1970 = re.compile(r" \([\d.]+ s since 1970\)")
DAY_S = 86400.0
AT_CLOCK = re.compile(r",? taken at (?:\d{4}-\d{2}-\d{2} )?\d{2}:\d{2}:\d{2} by the instrument's clock")


def counted_from(stamp_s: float) -> str:
    """That times are counted from a first stamp in seconds since 1970."""
    return f"Times are counted from the first stamp ({stamp_s:.3f} s since 1970)."


def clock_start(stamp_s: float) -> str:
    """That times are counted from a first clock time: seconds since 1970, or since midnight where no date is known."""
    moment = datetime.fromtimestamp(stamp_s, tz=UTC)
    if 0 <= stamp_s < DAY_S:
        return f"Times are counted from the first stamp, taken at {moment:%H:%M:%S} by the instrument's clock."
    if moment.year in UNSET_YEARS:
        return "The instrument's clock was not set; times are counted from the first stamp."
    return f"Times are counted from the first stamp, taken at {moment:%Y-%m-%d %H:%M:%S} by the instrument's clock."


def clock_left_out(note: str) -> str:
    """A note without the time of day."""
    return AT_CLOCK.sub("", SINCE_1970.sub("", note))
