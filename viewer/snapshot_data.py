"""What stands inside a before/after picture beside its answer, and reading it again years later."""

import json
import math
from dataclasses import dataclass
from typing import Any

from loomlight.signal.finding import Finding
from loomlight.signal.proof import Proof, ProofCheck
from loomlight.signal.same_conditions import Condition, length_s
from loomlight.storage.picture_data import NoPicture, data_of
from loomlight.viewer.answers import Answer
from loomlight.viewer.lanes.specs import Lane, LevelLine
from loomlight.viewer.lanes_of import worst_finding, worst_stretch

FORMAT = "loomlight snapshot"


@dataclass(frozen=True)
class SeenProof:
    """A proof as a before/after picture holds it.

    Attributes
    ----------
    files, channels : tuple of str
        Names of the two captures' files and channels.
    sha256 : dict
        Of the files, by name.
    state, reasons, checks, conditions : as in `Proof`
    counts : tuple of int
        Dropouts (or severe findings) before and after.
    lengths_s : tuple of float
        Of the captures.
    waits : bool
        The fault comes and goes.
    view : tuple of float or None
        Stretch of time that is shown.
    worst : tuple or None
        Kind, start and stop of the finding to look at.
    lag_s : float
        The capture after is drawn at its own time less this.
    lines : tuple of tuple of LevelLine
        Limits in the lanes before and after.
    """

    files: tuple[str, str]
    channels: tuple[str, str]
    sha256: dict[str, str]
    state: str
    reasons: tuple[str, ...]
    checks: tuple[ProofCheck, ...]
    conditions: tuple[Condition, ...]
    counts: tuple[int, int]
    lengths_s: tuple[float, float]
    waits: bool
    view: tuple[float, float] | None
    worst: tuple[str, float, float] | None
    lag_s: float
    lines: tuple[tuple[LevelLine, ...], tuple[LevelLine, ...]]


def proof_inside(proof: Proof, lanes: tuple[Lane, ...], before: str, after: str) -> Answer:
    """What `seen_proof` reads, beside the answer of ``prove``."""
    worst = worst_finding(proof.before)
    both = (proof.before, proof.after)
    return {
        "files": [before, after],
        "channels": [one.suspect.name for one in both],
        "lengths_s": [length_s(one) for one in both],
        "counts": [_events(one.findings, one.suspect.name) for one in both],
        "waits": proof.before.verdict.intermittent,
        "conditions": [
            {"name": one.name, "before": one.before, "after": one.after, "same": one.same} for one in proof.conditions
        ],
        "said": {"picked": proof.circumstances.picked, "provoked": proof.circumstances.provoked},
        "shown": worst_stretch(proof.before),
        "worst": [worst.kind, worst.start_s, worst.stop_s] if worst is not None else None,
        "lag_s": lanes[1].traces[-1].lag_s,
        "lines": [[[line.value, line.text] for line in lane.lines] for lane in lanes],
    }


def _events(findings: tuple[Finding, ...], channel: str) -> int:
    own = [one for one in findings if one.channel == channel]
    return sum(one.kind == "dropout" for one in own) or sum(one.severity == "severe" for one in own)


def snapshot_inside(png: bytes) -> dict[str, Any] | None:
    """The data of one of our snapshots; None where there are none, or they are damaged."""
    try:
        inside = json.loads(data_of(png) or "null")
    except (NoPicture, ValueError, RecursionError):
        return None
    return inside if isinstance(inside, dict) and inside.get("format") == FORMAT else None


def seen_proof(inside: dict[str, Any] | None) -> SeenProof | None:
    """The proof inside a snapshot; None where it holds none, or not enough of it."""
    if inside is None or not isinstance(inside.get("prove"), dict):
        return None
    try:
        return _seen(inside, inside["prove"])
    except (KeyError, TypeError, ValueError, IndexError, OverflowError):
        return None  # written by a version that put less in, or by somebody else


def _seen(inside: dict[str, Any], answer: dict[str, Any]) -> SeenProof:
    worst = inside["worst"]
    return SeenProof(
        files=_two(inside["files"], _text),
        channels=_two(inside["channels"], _text),
        sha256={_text(name): _text(one) for name, one in dict(inside["sha256"]).items()},
        state=_text(answer["state"]),
        reasons=tuple(map(_text, answer["reasons"])),
        checks=tuple(
            ProofCheck(
                _text(one["name"]),
                _maybe(one["before"]),
                _maybe(one["after"]),
                _maybe(one["limit"]),
                _flag(one["passed"]),
            )
            for one in answer["checks"]
        ),
        conditions=tuple(
            Condition(_text(one["name"]), _text(one["before"]), _text(one["after"]), _flag(one["same"]))
            for one in inside["conditions"]
        ),
        counts=_two(inside["counts"], int),
        lengths_s=_two(inside["lengths_s"], _number),
        waits=bool(inside["waits"]),
        view=_two(inside["shown"], _number) if inside["shown"] is not None else None,
        worst=(_text(worst[0]), _number(worst[1]), _number(worst[2])) if worst is not None else None,
        lag_s=_number(inside["lag_s"]),
        lines=_two(inside["lines"], lambda lines: tuple(LevelLine(_number(one[0]), _text(one[1])) for one in lines)),
    )


def _two(values: Any, made: Any) -> tuple[Any, Any]:
    first, second = values
    return made(first), made(second)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError("no text")
    return value


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise TypeError("no number")
    return float(value)


def _maybe(value: Any) -> float | None:
    return None if value is None else _number(value)


def _flag(value: Any) -> bool | None:
    if value is not None and not isinstance(value, bool):
        raise TypeError("no yes or no")
    return value
