"""A job as JSON, and back. What a newer version wrote beside what we know is kept, wherever it stands."""

import json
import math
from dataclasses import asdict, fields, is_dataclass
from functools import cache
from pathlib import Path, PurePosixPath, PureWindowsPath
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from loomlight.signal.errors import FileProblem
from loomlight.signal.job import Job
from loomlight.signal.job_records import codes_in

FORMAT = "loomlight job"
VERSION = 2
"""1: fault codes were one free text, ``codes``. 2: they are records."""


class DamagedJob(FileProblem):
    """The file is no whole JSON text: what was in it cannot be read, an older copy may be."""


def to_json(job: Job, read: dict[str, Any]) -> bytes:
    """The content of ``job.json``.

    Parameters
    ----------
    job : Job
        What shall stand in it.
    read : dict
        What stood in it as `from_json` gave it: entries that this version does not know are handed on from there.

    Raises
    ------
    ValueError
        If a number is not finite: JSON has no word for it.
    """
    content = {"format": FORMAT, "version": VERSION, **_handed_on(asdict(job), read)}
    text = json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    # A file name from an old stick may hold half a sign; "\udcff" is how JSON writes it, so nothing is lost.
    return text.encode("utf-8", errors="backslashreplace")


def from_json(content: bytes, path: Path) -> tuple[Job, dict[str, Any]]:
    """A job, and what stood in the file, for `to_json`; empty where all of it is known.

    Raises
    ------
    DamagedJob
        If it is no whole JSON text.
    FileProblem
        If it is no job, was made by a newer version that changed the meaning of entries, or an entry cannot be used.
    """
    read = _parsed(content, path)
    if not isinstance(read, dict) or read.get("format") != FORMAT:
        raise FileProblem("it is no Loomlight job", file=path, do="Choose the folder that holds the job's job.json")
    version = read.pop("version", None)
    read.pop("format")
    if not isinstance(version, int) or isinstance(version, bool) or not 1 <= version <= VERSION:
        raise FileProblem(
            f"it was made by another Loomlight (version {version!r}, this one reads 1 to {VERSION})",
            file=path,
            do="Update Loomlight on this machine",
        )
    try:
        if version == 1:
            _renew_codes(read)
        job: Job = _made(Job, read, "")
        _require_plain_names(job)
    except ValueError as error:
        raise FileProblem(
            f"an entry cannot be used: {error}",
            file=path,
            do="Mend it there, or take the copy from before the last change, job.previous.json beside it",
        ) from error
    return job, read if _has_more(read, asdict(job)) else {}


def _parsed(content: bytes, path: Path) -> Any:
    """The JSON value; a byte order mark, as some editors leave, is no damage."""
    do = "The copy from before the last change is job.previous.json beside it"
    try:
        return json.loads(content.decode("utf-8-sig"), parse_constant=_refused)
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise DamagedJob("it is damaged (not UTF-8 text)", file=path, where=f"line {line}", do=do) from error
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise DamagedJob(f"it is damaged ({error.msg})", file=path, where=where, do=do) from error
    except (ValueError, RecursionError) as error:
        raise DamagedJob("it is damaged (a number or a nesting without end)", file=path, do=do) from error


def _refused(constant: str) -> Any:
    raise ValueError(f"{constant} is no JSON number")


def _renew_codes(read: dict[str, Any]) -> None:
    """Version 1 had fault codes as one text; each line becomes a record, nothing is lost."""
    text = read.pop("codes", "")
    if not isinstance(text, str):
        raise ValueError(f"codes is {text!r}, no str")
    read.setdefault("fault_codes", [asdict(one) | {"causes": []} for one in codes_in(text)])


def _made(wanted: Any, value: Any, place: str) -> Any:
    """``value`` as an instance of ``wanted``: a dataclass, a tuple of them, a literal, or a plain type."""
    origin = get_origin(wanted)
    if is_dataclass(wanted) and isinstance(wanted, type):
        return _made_record(wanted, value, place)
    if origin is tuple:
        if not isinstance(value, list):
            raise ValueError(f"{place} is no list")
        return tuple(_made(get_args(wanted)[0], one, f"{place}[{number}]") for number, one in enumerate(value))
    if origin is Literal:
        if value not in get_args(wanted):
            raise ValueError(f"{place} is {value!r}, none of {', '.join(map(repr, get_args(wanted)))}")
        return value
    if origin in (Union, UnionType):
        choices = get_args(wanted)
        if value is None and type(None) in choices:
            return None
        return _made(next(choice for choice in choices if choice is not type(None)), value, place)
    if wanted is float:
        return _number(value, place)
    if not isinstance(value, wanted):
        raise ValueError(f"{place} is {value!r}, no {wanted.__name__}")
    return value


@cache
def _hints(wanted: type) -> dict[str, Any]:
    return get_type_hints(wanted)


def _made_record(wanted: type, value: Any, place: str) -> Any:
    if not isinstance(value, dict):
        raise ValueError(f"{place} is no {wanted.__name__}")
    hints = _hints(wanted)
    inside = f"{place}." if place else ""
    known = {name: _made(hints[name], one, inside + name) for name, one in value.items() if name in hints}
    try:
        return wanted(**known)
    except TypeError as error:  # a field without a default is missing
        missing = [field.name for field in fields(wanted) if field.name not in known]
        raise ValueError(f"{place or 'the job'} lacks one of {', '.join(missing)}") from error


def _number(value: Any, place: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"{place} is {value!r}, no number")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(f"{place} is not finite")
    return number


def _require_plain_names(job: Job) -> None:
    """A job from elsewhere must not reach outside its own folder."""
    for name in (*(one.file for one in job.captures), *job.snapshots, *(one.file for one in job.photos)):
        plain = PurePosixPath(name).name == name and PureWindowsPath(name).name == name and "\0" not in name
        if not plain or name in ("", ".", ".."):
            raise ValueError(f"{name!r} is no plain file name")


def _has_more(read: Any, known: Any) -> bool:
    """Whether ``read`` holds entries that ``known``, made from it, does not."""
    if isinstance(read, dict) and isinstance(known, dict):
        return any(name not in known or _has_more(one, known[name]) for name, one in read.items())
    if isinstance(read, list) and isinstance(known, list | tuple):
        return any(_has_more(one, other) for one, other in zip(read, known, strict=True))
    return False


def _handed_on(new: Any, read: Any) -> Any:
    """``new`` with the entries of ``read`` that it does not know."""
    if isinstance(new, dict) and isinstance(read, dict):
        more = {name: value for name, value in read.items() if name not in new}
        return {name: _handed_on(value, read.get(name)) for name, value in new.items()} | more
    if isinstance(new, list | tuple) and isinstance(read, list) and read:
        left = list(read)
        return [_handed_on(one, _taken(left, one)) for one in new]
    return new


def _taken(left: list[Any], new: Any) -> Any:
    """Take from ``left`` what ``new`` was read from: the first that says the same, for a capture that has its name."""
    is_capture = isinstance(new, dict) and "sha256" in new
    for number, one in enumerate(left):
        same_name = is_capture and isinstance(one, dict) and one.get("file") == new["file"]
        if same_name or _says_the_same(new, one):
            return left.pop(number)
    return None


def _says_the_same(new: Any, read: Any) -> bool:
    if isinstance(new, dict) and isinstance(read, dict):
        return all(name not in read or _says_the_same(value, read[name]) for name, value in new.items())
    if isinstance(new, list | tuple) and isinstance(read, list):
        return len(new) == len(read) and all(map(_says_the_same, new, read))
    return bool(new == read)
