"""Stages as the commands' JSON answers; None stands for "not known" or "no bound", never NaN or Infinity."""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.entry import EDITABLE, Entry
from loomlight.signal.job import Job
from loomlight.signal.samples import finite_range
from loomlight.viewer.wording import places_sentence

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison
    from loomlight.signal.examination import BusReport
    from loomlight.signal.finding import Finding
    from loomlight.signal.lineup import LineUp
    from loomlight.signal.measure import Measure
    from loomlight.signal.proof import Proof
    from loomlight.signal.verdict import Verdict

Answer = dict[str, Any]
PIECES = 10_000
"""Words, numbers and brackets in one part of a text: some 100 kB."""


def as_json(answer: Answer, *, ascii_only: bool = False) -> str:
    """JSON text of an answer; with ``ascii_only`` every other sign is escaped."""
    return "".join(json_parts(answer, ascii_only=ascii_only))


def json_parts(answer: Answer, *, ascii_only: bool = False) -> Iterator[str]:
    """The same text part by part: put together in one call, that of 70 000 findings would make every thread wait."""
    pieces = json.JSONEncoder(indent=2, ensure_ascii=ascii_only, allow_nan=False).iterencode(_finite(answer))
    return iter(lambda: "".join(itertools.islice(pieces, PIECES)), "")


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _finite(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(one) for one in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def capture_answer(capture: Capture, file: str) -> Answer:
    """Answer of ``inspect``; ``gaps`` and ``clipped`` are half-open ranges of sample indices."""
    channels = [_channel_answer(channel) for channel in capture.channels]
    return {"file": file, "layout": capture.layout, "channels": channels, "notes": list(capture.notes)}


def _channel_answer(channel: Channel) -> Answer:
    reach = finite_range(channel.samples)
    return {
        "name": channel.name,
        "unit": channel.unit,
        "form": channel.form,
        "samples": channel.samples.size,
        "segments": channel.segments,
        "start_s": channel.start_s,
        "step_s": channel.step_s,
        "min": reach[0] if reach else None,
        "max": reach[1] if reach else None,
        "gaps": [list(one) for one in channel.gaps],
        "clipped": [list(one) for one in channel.clipped],
    }


def comparison_answer(comparison: Comparison, file: str) -> Answer:
    """Answer of ``compare`` and ``check``."""
    measures = comparison.measures
    return {
        "lineup": _lineup_answer(comparison.lineup),
        "findings": [_finding_answer(one, file) for one in comparison.findings],
        "bus": _bus_answer(comparison.bus, measures),
        "verdict": verdict_answer(comparison.verdict, told=_told(comparison)),
        "measures": [_measure_answer(one) for one in measures],
    }


def _told(comparison: Comparison) -> tuple[str, ...]:
    """Which way `auto` chose and why, and where else the known-good fits: among the reasons."""
    why = comparison.lineup.why if comparison.lineup is not None else ""
    return tuple(text for text in (why, places_sentence(comparison.places, comparison.good)) if text)


def _lineup_answer(lineup: LineUp | None) -> Answer | None:
    if lineup is None:
        return None
    names = ("accepted", "by", "lag_s", "stretch", "fit", "sureness", "polarity", "overlap_s", "repeats_s")
    return {name: getattr(lineup, name) for name in names}


def _finding_answer(finding: Finding, file: str) -> Answer:
    names = ("kind", "channel", "start_s", "stop_s", "size", "unit", "rule", "severity", "talker", "place")
    return {"file": file} | {name: getattr(finding, name) for name in names}


def _bus_answer(bus: BusReport | None, measures: tuple[Measure, ...]) -> Answer | None:
    if bus is None:
        return None
    return {
        "bit_rate": bus.bit_rate,
        "frames": bus.frames,
        "no_response": bus.no_response,
        "errors": bus.errors,
        "identifiers": list(bus.identifiers),
        "supply_v": bus.supply_v,
        "supply_from": bus.supply_from,
        "load": bus.load,
        "error_counts": dict(bus.error_counts),
        "talkers": [
            {"talker": one.talker, "dominant_v": one.dominant_v, "spread_v": one.spread_v, "frames": one.frames}
            for one in bus.talkers
        ],
        "measures": [_measure_answer(one) for one in measures],
    }


def _measure_answer(measure: Measure) -> Answer:
    names = ("group", "name", "value", "low", "high", "unit", "limit", "source", "kept")
    return {name: getattr(measure, name) for name in names}


def verdict_answer(verdict: Verdict, *, told: tuple[str, ...] = ()) -> Answer:
    """A verdict; what to do next is the last of its reasons, before it what else is ``told``."""
    return {
        "state": verdict.state,
        "fault": verdict.fault,
        "short_to": verdict.short_to,
        "intermittent": verdict.intermittent,
        "series_ohm": verdict.series_ohm,
        "series_ohm_low": verdict.series_ohm_low,
        "series_ohm_high": verdict.series_ohm_high,
        "reasons": [*verdict.reasons, *told, *([verdict.next_step] if verdict.next_step else [])],
        "picture": verdict.picture or None,
    }


def proof_answer(proof: Proof, before_file: str, after_file: str) -> Answer:
    """Answer of ``prove``."""
    return {
        "before": comparison_answer(proof.before, before_file),
        "after": comparison_answer(proof.after, after_file),
        "checks": [
            {
                "name": one.name,
                "before": one.before,
                "after": one.after,
                "limit": one.limit,
                "passed": one.passed,
            }
            for one in proof.checks
        ],
        "state": proof.state,
        "reasons": list(proof.reasons),
    }


def entries_answer(entries: tuple[Entry, ...]) -> Answer:
    """Answer of ``library``; fit and sureness are None where nothing was compared."""
    return {"entries": [entry_answer(one) for one in entries]}


def entry_answer(entry: Entry, *, fit: float | None = None, sureness: float | None = None) -> Answer:
    """One entry: the fields that each answer of ``library`` has, then all that is known besides."""
    names = ("id", "title", "kind", "vehicle", "system", "component", "connector", "pin")
    first: Answer = {name: getattr(entry, name) for name in names} | {"vehicle": entry.vehicle_text}
    first |= {"fit": fit, "sureness": sureness}
    rest = [one for one in EDITABLE if one not in names]
    return (
        first
        | {name: getattr(entry, name) for name in (*rest, "channel", "added", "changed", "simulated")}
        | {"captures": 1 + len(entry.more)}
    )


def job_answer(job: Job) -> Answer:
    """Answer of ``job show``."""
    return {
        "title": job.title,
        "vehicle": job.vehicle,
        "complaint": job.complaint,
        "captures": [
            {"file": one.file, "source_name": one.source_name, "stage": one.stage, "added": one.added}
            for one in job.captures
        ],
        "findings": [_finding_answer(one, kept.file) for kept in job.verdicts for one in kept.findings],
        "snapshots": list(job.snapshots),
        "state": job.state,
    }
