"""An entry as JSON text, and back; what an older version did not write is empty, what a newer one adds is passed over."""

import json
import math
import re
from dataclasses import asdict, fields
from typing import Any

from loomlight.signal.entry import EDITABLE, SEVERAL, Change, Edit, Entry, FurtherCapture, Value

TEXTS = tuple(one.name for one in fields(Entry) if one.type == "str" or one.type is str)
STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f]")
NAMES = {one.name for one in fields(Entry)}


def entry_to_json(entry: Entry) -> str:
    """JSON text."""
    return json.dumps(asdict(entry))


def entry_from_json(text: str, *, exactly: bool = False) -> Entry:
    """The entry of a JSON text; ``exactly``: with the fields of this version, no more and no fewer.

    Raises
    ------
    ValueError
        If it is no JSON, or none of an entry.
    """
    try:
        known = json.loads(text)
    except RecursionError as error:
        raise ValueError("nested too deep") from error
    if not isinstance(known, dict) or (exactly and known.keys() != NAMES):
        raise ValueError("no entry")
    values: dict[str, Any] = {name: _text(known.get(name)) for name in TEXTS}
    values |= {name: _words(known.get(name)) for name in SEVERAL}
    values["probe_factor"] = _number(known.get("probe_factor"))
    values["simulated"] = known.get("simulated") is True
    values["more"] = tuple(_further(one) for one in _listed(known.get("more")))
    values["history"] = tuple(_edit(one) for one in _listed(known.get("history")))
    return Entry(**values)


def _text(value: object) -> str:
    """A text without signs that steer a terminal: an entry may come from anybody."""
    return "" if value is None or isinstance(value, dict | list) else STEERING.sub(" ", str(value))


def _words(value: object) -> tuple[str, ...]:
    if isinstance(value, str):
        return (value,) if value else ()
    return tuple(_text(one) for one in value if _text(one)) if isinstance(value, list) else ()


def _number(value: object) -> float | None:
    good = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    return float(value) if good else None  # type: ignore[arg-type]  # a number, as just asked


def _listed(value: object) -> list[dict[str, Any]]:
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []


def _further(known: dict[str, Any]) -> FurtherCapture:
    texts = {name: _text(known.get(name)) for name in ("channel", "added", "source_name", "note")}
    return FurtherCapture(**texts, confirmed=known.get("confirmed") is True)


def _edit(known: dict[str, Any]) -> Edit:
    changes = tuple(
        Change(name, _value(name, one.get("before")), _value(name, one.get("after")))
        for one in _listed(known.get("changes"))
        if (name := _text(one.get("field"))) in EDITABLE
    )
    return Edit(_text(known.get("at")), changes, _text(known.get("undone")))


def _value(name: str, value: object) -> Value:
    if name in SEVERAL:
        return _words(value)
    return _number(value) if name == "probe_factor" else _text(value)
