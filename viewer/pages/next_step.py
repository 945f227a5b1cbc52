"""What comes next in a job, told from what it holds."""

from dataclasses import dataclass
from typing import Literal

from loomlight.signal.job import Job

Place = Literal["Captures", "Compare", "Proof", "Report"]


@dataclass(frozen=True)
class NextStep:
    """One line, the button that goes there, and the place."""

    text: str
    button: str
    place: Place


def next_step(job: Job) -> NextStep:
    """The next step of the work: captures, a verdict, a capture after the repair, the proof."""
    if not job.captures:
        return NextStep("Next: open what the oscilloscope exported.", "Open capture", "Captures")
    if not job.verdicts:
        return NextStep(
            "Next: compare the suspect with a known-good, and save a snapshot.", "Go on to Compare ▶", "Compare"
        )
    if not any(one.stage == "after repair" for one in job.captures):
        return NextStep(
            "Next: mend the wire, repeat the capture, and open it as “after repair”.", "Go on to Captures ▶", "Captures"
        )
    if job.state == "proven":
        return NextStep("The repair was proven. Next: make the report for the customer.", "Make the report", "Report")
    return NextStep("Next: hold the capture after the repair against the one before.", "Go on to Proof ▶", "Proof")
