"""A job as JSON, and back. What a newer version wrote beside what we know is kept."""

import json
from dataclasses import asdict, fields, is_dataclass
from pathlib import Path
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from loomlight.signal.errors import FileProblem
from loomlight.signal.job import Job

FORMAT = "loomlight job"
VERSION = 1


def to_json(job: Job, unknown: dict[str, Any]) -> str:
    """The text of ``job.json``; ``unknown`` are the entries that this version does not know and hands on."""
    content = {"format": FORMAT, "version": VERSION, **asdict(job), **unknown}
    return json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def from_json(text: str, path: Path) -> tuple[Job, dict[str, Any]]:
    """A job, and the entries that this version does not know.

    Raises
    ------
    FileProblem
        If it is no job, was made by a newer version that changed the meaning of entries, or is damaged.
    """
    try:
        content = json.loads(text)
    except json.JSONDecodeError as error:
        raise FileProblem(
            f"it is damaged ({error.msg})",
            file=path,
            where=f"line {error.lineno}, column {error.colno}",
            do="The copy from before the last change stands beside it as job.previous.json",
        ) from error
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise FileProblem("it is no Loomlight job", file=path, do="Choose the folder that holds the job's job.json")
    if not isinstance(content.get("version"), int) or content["version"] > VERSION:
        raise FileProblem(
            f"it was made by a newer Loomlight (version {content.get('version')}, this one reads {VERSION})",
            file=path,
            do="Update Loomlight on this machine",
        )
    known = {field.name for field in fields(Job)}
    try:
        job = _made(Job, {name: value for name, value in content.items() if name in known})
    except (TypeError, ValueError, KeyError) as error:
        raise FileProblem(
            f"an entry cannot be read ({error})",
            file=path,
            do="The copy from before the last change stands beside it as job.previous.json",
        ) from error
    unknown = {name: value for name, value in content.items() if name not in known | {"format", "version"}}
    return job, unknown


def _made(wanted: Any, value: Any) -> Any:
    """``value`` as an instance of ``wanted``: a dataclass, a tuple of them, a literal, or a plain type."""
    if is_dataclass(wanted):
        if not isinstance(value, dict):
            raise TypeError(f"{value!r} is no {wanted.__name__}")  # type: ignore[union-attr]
        hints = get_type_hints(wanted)
        return wanted(**{name: _made(hints[name], one) for name, one in value.items() if name in hints})  # type: ignore[operator]
    origin = get_origin(wanted)
    if origin is tuple:
        if not isinstance(value, list):
            raise TypeError(f"{value!r} is no list")
        return tuple(_made(get_args(wanted)[0], one) for one in value)
    if origin is Literal:
        if value not in get_args(wanted):
            raise ValueError(f"{value!r} is none of {', '.join(map(repr, get_args(wanted)))}")
        return value
    if origin in (Union, UnionType):
        choices = get_args(wanted)
        if value is None and type(None) in choices:
            return None
        return _made(next(choice for choice in choices if choice is not type(None)), value)
    if wanted is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if not isinstance(value, wanted):
        raise TypeError(f"{value!r} is no {wanted.__name__}")
    return value
