"""Snapshots as PNG bytes, with what they were made from inside; the window and the commands use the same."""

import hashlib
import importlib.metadata
import os
from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice
from PySide6.QtGui import QFont, QFontMetricsF, QGuiApplication, QImage

from loomlight.signal.comparison import Comparison
from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.job import Job
from loomlight.signal.kinds.listing import kind_named
from loomlight.signal.proof import Proof
from loomlight.signal.quantity import in_words
from loomlight.storage.picture_data import with_data
from loomlight.storage.safe_write import write_bytes
from loomlight.viewer.answers import Answer, as_json, comparison_answer, proof_answer
from loomlight.viewer.lanes_of import Drawn, drawn, proof_lanes
from loomlight.viewer.picture import Heading, Shown, comparison_picture, proof_picture
from loomlight.viewer.snapshot_data import proof_inside
from loomlight.viewer.theme import DAYLIGHT

Hashes = dict[str, str]
"""SHA-256 of each file, by its name."""

_APPLICATION: list[QGuiApplication] = []


def ready_to_paint() -> None:
    """Make sure that Qt can draw text, with no screen needed.

    Raises
    ------
    LoomlightError
        If the system has no fonts: a picture without its words would mislead.
    """
    if QGuiApplication.instance() is None:
        os.environ["QT_QPA_PLATFORM"] = "offscreen"  # whatever is set: a command never asks for a screen
        _APPLICATION.append(QGuiApplication([]))
    # With no fonts at all Qt still lists three family names, and draws an empty box for every letter.
    if not QFontMetricsF(QFont()).inFontUcs4(ord("A")):
        raise LoomlightError(
            "No picture was saved: this system has no fonts. Install some (on Debian: fonts-dejavu-core)."
        )


def comparison_png(
    shown: Drawn,
    *,
    file: str,
    good: str,
    job: Job | None = None,
    settings: Shown | None = None,
    hashes: Hashes | None = None,
) -> bytes:
    """An annotated picture of a comparison, its answer inside."""
    comparison = shown.comparison
    heading = Heading(_title(job, comparison.suspect.name), _facts(comparison, file, good, job))
    image = comparison_picture(shown, heading, DAYLIGHT, shown=settings)
    view = settings.view if settings is not None else None
    inside = _made_from(comparison, good, job, hashes) | {"view": view, "compare": comparison_answer(comparison, file)}
    return _png(image, inside)


def proof_png(
    proof: Proof,
    *,
    before: str,
    after: str,
    good: str = "",
    job: Job | None = None,
    shown: tuple[Drawn, Drawn] | None = None,
    hashes: Hashes | None = None,
) -> bytes:
    """The before/after picture of a proof, its answer inside."""
    ready_to_paint()
    old, new = shown or (drawn(proof.before), drawn(proof.after))
    good = good or (proof.before.good.name if proof.before.good is not None else "")
    facts = _facts(proof.before, f"{before} and {after}", good, job)
    image = proof_picture(old, new, proof, Heading(_title(job, proof.before.suspect.name), facts), DAYLIGHT)
    inside = _made_from(proof.before, good, job, hashes) | {"prove": proof_answer(proof, before, after)}
    return _png(image, inside | proof_inside(proof, proof_lanes(old, new, proof), before, after))


def save_comparison(path: Path, comparison: Comparison, *, file: Path, good: str, good_file: Path | None) -> None:
    """Draw a comparison and write the picture, whole or not at all."""
    ready_to_paint()
    hashes = _hashes(file, good_file)
    write_bytes(path, comparison_png(drawn(comparison), file=file.name, good=good, hashes=hashes))


def proof_picture_of_files(
    proof: Proof, *, before: Path, after: Path, good: str, good_file: Path | None, job: Job | None
) -> bytes:
    """The picture of a proof that was made from files."""
    hashes = _hashes(before, after, good_file)
    return proof_png(proof, before=before.name, after=after.name, good=good, job=job, hashes=hashes)


def _hashes(*files: Path | None) -> Hashes:
    found = {}
    for file in (one for one in files if one is not None):
        try:
            with file.open("rb") as content:
                found[file.name] = hashlib.file_digest(content, "sha256").hexdigest()
        except OSError as error:
            what = f"it can no longer be read ({error.strerror or error})"
            raise FileProblem(what, file=file, do="Check that the stick is in, and try again") from error
    return found


def _made_from(comparison: Comparison, good: str, job: Job | None, hashes: Hashes | None) -> Answer:
    """What a reader of the picture needs to make it again: files by their SHA-256, channels and settings."""
    conditions = comparison.conditions
    return {
        "made": datetime.now().astimezone().isoformat(timespec="seconds"),
        "loomlight": importlib.metadata.version("loomlight"),
        "sha256": hashes or ({one.file: one.sha256 for one in job.captures} if job is not None else {}),
        "channel": comparison.suspect.name,
        "good": good,
        "good_channel": comparison.good.name if comparison.good is not None else None,
        "settings": {
            "kind": comparison.kind,
            "supply_v": conditions.supply_v,
            "same_moment": conditions.same_moment,
            "upper_v": conditions.upper_v,
            "lower_v": conditions.lower_v,
            "within_v": conditions.within_v,
        },
    }


def _title(job: Job | None, channel: str) -> str:
    return f"{job.title}: {channel}" if job is not None else channel


def _facts(comparison: Comparison, file: str, good: str, job: Job | None) -> tuple[str, ...]:
    """Title block: whose vehicle, which files and settings, when."""
    lines = []
    if job is not None and (job.vehicle or job.complaint):
        complaint = f'complaint: "{job.complaint}"' if job.complaint else ""
        lines.append(" · ".join(one for one in (job.vehicle, complaint) if one))
    step = in_words(comparison.suspect.step_s, "s") if comparison.suspect.step_s is not None else "uneven"
    supply_v = comparison.bus.supply_v if comparison.bus is not None else None
    parts = [
        f"file {file}",
        f"known-good {good}" if good else "no known-good",
        kind_named(comparison.kind).title,
        f"step {step}",
        f"node supply {supply_v:.1f} V" if supply_v is not None else "",
        datetime.now().astimezone().strftime("%Y-%m-%d %H:%M"),
        f"Loomlight {importlib.metadata.version('loomlight')}",
    ]
    return (*lines, " · ".join(one for one in parts if one))


def _png(image: QImage, answer: Answer) -> bytes:
    image.setDotsPerMeterX(5906)  # 150 dots an inch: about 27 cm wide on paper
    image.setDotsPerMeterY(5906)
    content = QByteArray()
    buffer = QBuffer(content)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    if not image.save(buffer, "PNG"):
        raise LoomlightError("The picture could not be encoded. Free some memory and try again.")
    return with_data(content.data(), as_json({"format": "loomlight snapshot", "version": 1} | answer))
