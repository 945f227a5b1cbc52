"""A job's report, from its folder to the bytes of a PDF or HTML file; the window and the command make it the same way."""

import importlib.metadata
from datetime import datetime
from pathlib import Path
from typing import Literal

from PySide6.QtGui import QColor, QImage, QPainter

from loomlight.signal.errors import LoomlightError
from loomlight.signal.job import Job, JobCapture
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.safe_write import write_bytes
from loomlight.viewer.before_after import BeforeAfter, before_after
from loomlight.viewer.job_words import job_suspicion
from loomlight.viewer.opened_file import opened_file
from loomlight.viewer.report_blocks import Business, Report
from loomlight.viewer.report_content import Evidence, customer_blocks
from loomlight.viewer.report_html import report_html
from loomlight.viewer.report_pdf import report_pdf
from loomlight.viewer.report_picture import encoded, photo_bytes
from loomlight.viewer.report_record import record_blocks
from loomlight.viewer.report_words import MADE
from loomlight.viewer.snapshot import ready_to_paint
from loomlight.viewer.snapshot_data import SeenProof, seen_proof, snapshot_inside
from loomlight.viewer.theme import DAYLIGHT
from loomlight.viewer.wire_picture import WireLook, paint_wire, wire_height

Paper = Literal["a4", "letter"]
Form = Literal["pdf", "html"]
WIRE_WIDTH, WIRE_SCALE, WIRE_PIXELS = 620.0, 2.4, 14


def save_report(
    folder: JobFolder, business: Business, *, paper: Paper, form: Form, progress: Progress = unwatched
) -> Path:
    """Make the report and write it into the job's folder, over an older one; gives its path. For aside.

    Raises
    ------
    LoomlightError
        If there are no fonts to write with.
    FileProblem
        If it cannot be written; an older report is then untouched.
    """
    ready_to_paint()
    path = folder.path / f"report.{form}"
    write_bytes(path, report_bytes(folder, business, paper=paper, form=form, progress=progress))
    return path


def report_bytes(
    folder: JobFolder, business: Business, *, paper: Paper, form: Form, progress: Progress = unwatched
) -> bytes:
    """The report's file, as `save_report` writes it."""
    job = folder.job
    evidence = evidence_of(folder, part(progress, 0.0, 0.7))
    stamp = datetime.now().astimezone().strftime("%Y-%m-%d %H:%M")
    made = MADE.format(date=stamp, version=importlib.metadata.version("loomlight"))
    blocks = (*customer_blocks(job, evidence), *record_blocks(job, evidence, folder=folder.path.name))
    report = Report(job.title, business, made, blocks)
    if form == "html":
        return report_html(report, paper)
    return report_pdf(report, paper, part(progress, 0.7, 1.0))


def evidence_of(folder: JobFolder, progress: Progress = unwatched) -> Evidence:
    """Read what the folder holds beside ``job.json``; what is gone or damaged stands there with no bytes."""
    job = folder.job
    snapshots = tuple((name, _read(folder.path / "snapshots" / name)) for name in job.snapshots)
    progress(0.1)
    photos = tuple((one.file, one.caption, photo_bytes(folder.path / "photos" / one.file)) for one in job.photos)
    progress(0.3)
    found = (seen_proof(snapshot_inside(content)) for _, content in reversed(snapshots) if content)
    proof = next((one for one in found if one is not None), None)
    picture = _customer_picture(folder, proof, part(progress, 0.3, 1.0)) if proof is not None else None
    shown = encoded(picture.image, "PNG") if picture is not None else b""
    return Evidence(snapshots, photos, proof, shown, picture.words if picture is not None else (), _wire(job))


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError:
        return b""


def _customer_picture(folder: JobFolder, proof: SeenProof, progress: Progress) -> BeforeAfter | None:
    """Drawn from the captures themselves; None where one of them is not in the job any more."""
    channels = []
    for number, (file, name) in enumerate(zip(proof.files, proof.channels, strict=True)):
        capture = _capture_named(folder.job, file, proof.sha256.get(file, ""))
        if capture is None:
            return None
        share = part(progress, 0.45 * number, 0.45 * (number + 1))
        try:
            channels.append(opened_file(folder, folder.capture_path(capture), share).capture.channel(name))
        except LoomlightError:
            return None
    return before_after(proof, *channels)


def _capture_named(job: Job, file: str, sha256: str) -> JobCapture | None:
    """The job's capture with that content, else with that name."""
    by_content = (one for one in job.captures if sha256 and one.sha256 == sha256)
    by_name = (one for one in job.captures if file in (one.file, one.source_name))
    return next(by_content, None) or next(by_name, None)


def _wire(job: Job) -> bytes:
    """The drawn wire as PNG; empty without stops."""
    if not job.wire.stops:
        return b""
    size = WIRE_WIDTH, wire_height(job.wire)
    image = QImage(*(round(WIRE_SCALE * one) for one in size), QImage.Format.Format_RGB32)
    image.fill(QColor(DAYLIGHT.ground))
    painter = QPainter(image)
    painter.scale(WIRE_SCALE, WIRE_SCALE)
    font = painter.font()
    font.setPixelSize(WIRE_PIXELS)
    painter.setFont(font)
    paint_wire(painter, WireLook(job.wire, job_suspicion(job)), DAYLIGHT, WIRE_WIDTH)
    painter.end()
    return encoded(image, "PNG")
