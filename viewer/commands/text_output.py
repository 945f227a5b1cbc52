"""Stages as plain text for a person at a terminal."""

from __future__ import annotations

import sys
import textwrap
from typing import TYPE_CHECKING

from loomlight.signal.listed_causes import standings
from loomlight.viewer.answers import Answer, as_json
from loomlight.viewer.job_words import LEANING_WORDS
from loomlight.viewer.wording import (
    CHECK_COLUMNS,
    STATE_SIGNS,
    bus_sentence,
    check_cells,
    finding_cells,
    lineup_sentence,
    places_sentence,
    proof_headline,
    series_text,
    verdict_headline,
)

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison
    from loomlight.signal.finding import Finding
    from loomlight.signal.proof import Proof

WIDTH = 110
MOST_FINDINGS = 20


def print_answer(answer: Answer) -> None:
    """Print JSON that stays whole JSON on a console or a pipe that is not UTF-8."""
    encoding = (sys.stdout.encoding or "").lower().replace("-", "").replace("_", "")
    print(as_json(answer, ascii_only=encoding != "utf8"))


def comparison_text(comparison: Comparison) -> str:
    """Verdict first, then its reasons, then what they rest on."""
    verdict = comparison.verdict
    lines = [f"{STATE_SIGNS[verdict.state]} {verdict_headline(verdict)}"]
    series = series_text(verdict)
    lines += [f"  {series}"] if series else []
    lines += [_bullet(reason) for reason in verdict.reasons]
    if verdict.evidence:
        weighed = standings((("", verdict),))
        lines += ["", "Suspects: " + ", ".join(f"{one.part} {LEANING_WORDS[one.leaning]}" for one in weighed)]
    if verdict.next_step:
        lines += ["", _wrapped(f"Next: {verdict.next_step}", "", "      ")]
    lines += ["", _wrapped(lineup_sentence(comparison.lineup))]
    places = places_sentence(comparison.places, comparison.good)
    lines += [_wrapped(places)] if places else []
    if comparison.bus is not None:
        lines.append(_wrapped(f"Bus: {bus_sentence(comparison.bus)}"))
    lines += ["", *_findings_text(comparison.findings)]
    return "\n".join(lines)


def _findings_text(findings: tuple[Finding, ...]) -> list[str]:
    if not findings:
        return ["No findings."]
    rows = [finding_cells(one) for one in findings[:MOST_FINDINGS]]
    lines = [f"{len(findings)} finding{'s' if len(findings) > 1 else ''} (! the function may suffer):"]
    lines += _table([row[:4] for row in rows], [row[4] for row in rows])
    rest = len(findings) - MOST_FINDINGS
    return [*lines, f"  … and {rest} more"] if rest > 0 else lines


def _table(rows: list[tuple[str, ...]], ends: list[str]) -> list[str]:
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    return [
        "  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) + f"  {end}"
        for row, end in zip(rows, ends, strict=True)
    ]


def proof_text(proof: Proof) -> str:
    """State, reasons, the table of checks."""
    lines = [f"{STATE_SIGNS[proof.state]} {proof_headline(proof)}", *(_bullet(reason) for reason in proof.reasons), ""]
    rows = [CHECK_COLUMNS, *(check_cells(one) for one in proof.checks)]
    lines += _table([row[:4] for row in rows], [row[4] for row in rows])
    return "\n".join(lines)


def _bullet(text: str) -> str:
    return _wrapped(text, "  - ", "    ")


def _wrapped(text: str, first: str = "", later: str = "  ") -> str:
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False)
