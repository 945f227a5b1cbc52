"""One visit: vehicle, complaint, captures, findings, snapshots, repair, proof."""

from dataclasses import dataclass, field
from typing import Literal

from loomlight.signal.channel_setup import ChannelSetup
from loomlight.signal.finding import Finding
from loomlight.signal.job_findings import FindingTally, tallies_of
from loomlight.signal.job_records import CostLine, FaultCode, MeterReading, Photo
from loomlight.signal.verdict import Verdict
from loomlight.signal.wire_sketch import WireSketch

Stage = Literal["suspect", "known-good", "after repair", "other"]


@dataclass(frozen=True)
class Note:
    """A text with an arrow, or a marked stretch of time, placed on the picture of one capture.

    Attributes
    ----------
    channel : str
        Name of the channel whose lane it stands on.
    time_s, value : float
        Where the arrow points: seconds on the capture's own axis, and the channel's unit.
    text : str
        What it says.
    until_s : float or None
        End of a marked stretch that begins at ``time_s``; None for a text with an arrow.
    """

    channel: str
    time_s: float
    value: float
    text: str
    until_s: float | None = None

    @property
    def span(self) -> tuple[float, float]:
        """Begin and end, seconds; the same twice for a text with an arrow."""
        return self.time_s, self.time_s if self.until_s is None else self.until_s


@dataclass(frozen=True)
class JobCapture:
    """One capture that was copied into the job.

    Attributes
    ----------
    file : str
        Name inside the job's ``captures/``.
    source_name : str
        The name it came under.
    sha256 : str
        Of the file's bytes: the same name with other content is another capture.
    added : str
        ISO 8601 time with offset.
    stage : str
        What it is for.
    notes : tuple of Note
        Placed on its picture.
    setups : tuple of ChannelSetup
        What was said about its channels; the file itself is not altered.
    reading : str
        How its text is to be read, as JSON text; empty where the structure tells all.
    part_of : str
        Name of the job's capture that it was joined into; empty where it stands for itself.
    """

    file: str
    source_name: str
    sha256: str
    added: str
    stage: Stage = "other"
    notes: tuple[Note, ...] = ()
    setups: tuple[ChannelSetup, ...] = ()
    reading: str = ""
    part_of: str = ""


@dataclass(frozen=True)
class JobVerdict:
    """A verdict that was kept, with what it was about; ``good_entry`` is the id of the library entry that was the known-good.

    Of many ``findings`` only the weightiest are kept one by one; ``tallies`` counts all of them.
    """

    file: str
    channel: str
    good: str
    kind: str
    made: str
    verdict: Verdict
    findings: tuple[Finding, ...]
    good_entry: str = ""
    tallies: tuple[FindingTally, ...] = ()

    def all_findings(self) -> tuple[FindingTally, ...]:
        """Every finding on the channel itself, kind by kind, also where only the weightiest were kept one by one."""
        return self.tallies or tallies_of(self.findings, self.channel)


@dataclass(frozen=True)
class Job:
    """The job file's content; `state` says how far the proof is.

    Attributes
    ----------
    title : str
        Never empty.
    customer, vehicle, vin, odometer, complaint, symptoms, tests_made : str
    cause, place, repair, after_check, technician, time_spent : str
        Free text as the technician wrote it; empty where not known yet. ``customer`` is a reference, ``place`` where along
        the loom the fault was found.
    fault_codes, readings, photos, costs : tuple
        What was noted, in the order it was noted.
    currency, tax_percent : str
        For the sums of ``costs``, as typed.
    wire : WireSketch
        The suspect wire as drawn; without stops where it was not.
    created, changed : str
        ISO 8601 times with offset.
    captures, verdicts, snapshots : tuple
        In the order they were added; snapshots are names inside ``snapshots/``.
    state : str
        "open", "proven", "not proven" or "cannot tell".
    cautions_seen : bool
        Whether the cautions were shown and answered on this job.
    """

    title: str
    customer: str = ""
    vehicle: str = ""
    vin: str = ""
    odometer: str = ""
    complaint: str = ""
    symptoms: str = ""
    fault_codes: tuple[FaultCode, ...] = ()
    tests_made: str = ""
    readings: tuple[MeterReading, ...] = ()
    cause: str = ""
    place: str = ""
    wire: WireSketch = field(default_factory=WireSketch)
    repair: str = ""
    after_check: str = ""
    photos: tuple[Photo, ...] = ()
    costs: tuple[CostLine, ...] = ()
    currency: str = ""
    tax_percent: str = ""
    technician: str = ""
    time_spent: str = ""
    created: str = ""
    changed: str = ""
    captures: tuple[JobCapture, ...] = ()
    verdicts: tuple[JobVerdict, ...] = ()
    snapshots: tuple[str, ...] = ()
    state: Literal["open", "proven", "not proven", "cannot tell"] = "open"
    cautions_seen: bool = False
