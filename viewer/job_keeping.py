"""What is kept in a job when a comparison or a proof was made; the window and the commands do the same."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from loomlight.signal.job import JobCapture, JobVerdict
from loomlight.signal.job_findings import tallies_of, weightiest
from loomlight.signal.proof import Proof
from loomlight.storage.job_folder import JobFolder, now

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison


def keep_verdict(job: JobFolder, found: Comparison, capture: JobCapture, *, good: str, entry: str = "") -> None:
    """Keep a comparison's verdict and findings with the capture that it is about; ``entry``: id of the known-good's entry."""
    job.keep_verdict(
        JobVerdict(
            file=capture.file,
            channel=found.suspect.name,
            good=good,
            kind=found.kind,
            made=now(),
            verdict=found.verdict,
            findings=weightiest(found.findings),
            good_entry=entry,
            tallies=tallies_of(found.findings, found.suspect.name),
        )
    )


def keep_proof(job: JobFolder, proof: Proof, *, before: Path, after: Path, good: str, png: bytes) -> str:
    """Copy both captures in, keep both verdicts, the picture and the state; gives the picture's name."""
    for path, stage, found in ((before, "suspect", proof.before), (after, "after repair", proof.after)):
        capture = job.capture_of(path) or job.add_capture(path, stage)  # type: ignore[arg-type]  # two of `Stage`
        keep_verdict(job, found, capture, good=good)
    name = job.add_snapshot(f"proof {proof.before.suspect.name}", png)
    job.save(replace(job.job, state=proof.state))
    return name
