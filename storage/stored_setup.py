"""A channel's set-up as JSON text, and back: what stands in a capture file and in what is remembered for loose files."""

import json
from dataclasses import asdict, fields
from typing import Any

from loomlight.signal.channel_setup import ChannelSetup


def setup_to_json(setup: ChannelSetup) -> str:
    """A set-up as JSON text."""
    return json.dumps(asdict(setup), ensure_ascii=False, allow_nan=False)


def setup_from_json(text: str) -> ChannelSetup:
    """A set-up from JSON text; what a newer version wrote beside what we know is passed over.

    Raises
    ------
    ValueError
        If it is none.
    """
    return setup_from(json.loads(text))


def setup_from(value: Any) -> ChannelSetup:
    """A set-up from a JSON value.

    Raises
    ------
    ValueError
        If it is none: which entry, and what stands there.
    """
    if not isinstance(value, dict):
        raise ValueError("a set-up is a JSON object")
    known = {}
    for field in fields(ChannelSetup):
        if field.name in value:
            known[field.name] = _checked(field.name, value[field.name])
    return ChannelSetup(**known)


def _checked(name: str, value: Any) -> Any:
    if name in ("channel", "name", "unit"):
        good = isinstance(value, str)
    elif name == "invert":
        good = isinstance(value, bool)
    else:
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        good = is_number or (name == "clamp_mv_per_a" and value is None)
    if not good:
        raise ValueError(f"{name} is {value!r}")
    return value
