"""Snapshots as PNG bytes, with what they were made from inside; the window and the commands use the same."""

from __future__ import annotations

import hashlib
import importlib.metadata
import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtGui import QFont, QFontMetricsF, QGuiApplication

from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.job import Job
from loomlight.signal.kinds.listing import listed_kind
from loomlight.signal.proof import Proof
from loomlight.signal.quantity import in_words
from loomlight.storage.picture_data import with_data
from loomlight.storage.safe_write import write_bytes
from loomlight.viewer.answers import Answer, comparison_answer, json_parts, proof_answer
from loomlight.viewer.lanes_of import Drawn, drawn, proof_lanes
from loomlight.viewer.picture import HEIGHT, WIDTH, Heading, Shown, paint_comparison, paint_proof
from loomlight.viewer.report_picture import encoded
from loomlight.viewer.sheet import DrawnSheet, Sheet
from loomlight.viewer.snapshot_data import proof_inside
from loomlight.viewer.theme import DAYLIGHT

if TYPE_CHECKING:
    from loomlight.signal.comparison import Comparison

Hashes = dict[str, str]
"""SHA-256 of each file, by its name."""

HEAD = {"format": "loomlight snapshot", "version": 1}
DOTS_A_METRE = 5906
"""150 an inch."""

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


@dataclass(frozen=True)
class PictureSize:
    """Size of a sheet in units, and pixels a unit; `SCREEN` has 150 dots an inch, as 27 cm wide on paper."""

    width: int = WIDTH
    height: int = HEIGHT
    scale: float = 1.0


SCREEN = PictureSize()
PRINT = PictureSize(1200, 1130, 2.4)
"""As high as wide, so that its words are read in a report: 300 dots an inch at 24 cm."""


def size_of(pixels: tuple[int, int] | None) -> PictureSize:
    """A size as asked for: None for print, nothing (0, 0) for the screen's."""
    if pixels is None:
        return PRINT
    return PictureSize(*pixels) if all(pixels) else SCREEN


@dataclass(frozen=True, eq=False)
class ComparisonSnapshot:
    """What is needed to draw a comparison, and to make it again.

    Attributes
    ----------
    shown : Drawn
        The comparison with its pyramids.
    file, good : str
        Name of the suspect's file; words for the known-good.
    good_source : str
        The known-good's file, or a library entry's id; empty: the suspect's own file, or none.
    job : Job or None
        For the title block.
    settings : Shown or None
        View, notes, cursors as in the window.
    hashes : dict or None
        SHA-256 by file name; None: those of the job.
    by : str
        How a line-up was asked for.
    """

    shown: Drawn
    file: str
    good: str
    good_source: str = ""
    job: Job | None = None
    settings: Shown | None = None
    hashes: Hashes | None = None
    by: str = "auto"

    def paint(self, sheet: Sheet) -> None:
        """Draw it."""
        comparison = self.shown.comparison
        facts = title_block(comparison, self.file, self.good, self.job, by=self.by)
        heading = Heading(_title(self.job, comparison.suspect.name), facts)
        paint_comparison(sheet, self.shown, heading, shown=self.settings)

    def inside(self) -> Answer:
        """Its answer, and what brings the view back."""
        settings = self.settings or Shown()
        found = _made_from(self.shown.comparison, self.good, self.job, self.hashes)
        return found | {
            "files": [self.file],
            "good_source": self.good_source,
            "by": self.by,
            "view": settings.view,
            "cursors": list(settings.cursors),
            "levels": {key: list(pair) for key, pair in settings.levels.items()},
            "compare": comparison_answer(self.shown.comparison, self.file),
        }


@dataclass(frozen=True, eq=False)
class ProofSnapshot:
    """What is needed to draw a proof, and to make it again; attributes as in `ComparisonSnapshot`."""

    proof: Proof
    shown: tuple[Drawn, Drawn]
    before: str
    after: str
    good: str = ""
    good_source: str = ""
    job: Job | None = None
    hashes: Hashes | None = None

    def paint(self, sheet: Sheet) -> None:
        """Draw it."""
        proof = self.proof
        facts = title_block(proof.before, f"{self.before} and {self.after}", self.good, self.job, after=proof.after)
        heading = Heading(_title(self.job, proof.before.suspect.name), facts)
        paint_proof(sheet, *self.shown, proof, heading)

    def inside(self) -> Answer:
        """Its answer, and what brings the view back."""
        found = _made_from(self.proof.before, self.good, self.job, self.hashes)
        found |= {"good_source": self.good_source, "prove": proof_answer(self.proof, self.before, self.after)}
        return found | proof_inside(self.proof, proof_lanes(*self.shown, self.proof), self.before, self.after)


Snapshot = ComparisonSnapshot | ProofSnapshot


def as_png(snapshot: Snapshot, size: PictureSize = SCREEN) -> bytes:
    """A snapshot as PNG, its data inside."""
    ready_to_paint()
    sheet = Sheet(size.width, size.height, DAYLIGHT, scale=size.scale)
    snapshot.paint(sheet)
    dots = round(DOTS_A_METRE * size.scale)
    sheet.image.setDotsPerMeterX(dots)
    sheet.image.setDotsPerMeterY(dots)
    content = encoded(sheet.image, "PNG")
    if not content:
        raise LoomlightError("The picture could not be encoded. Free some memory and try again.")
    return with_data(content, json_parts(HEAD | snapshot.inside()))


def as_svg(snapshot: Snapshot, size: PictureSize = SCREEN) -> bytes:
    """A snapshot as SVG."""
    ready_to_paint()
    sheet = DrawnSheet(size.width, size.height, DAYLIGHT, title="Loomlight snapshot")
    snapshot.paint(sheet)
    return sheet.svg()


def proof_snapshot(
    proof: Proof,
    *,
    before: str,
    after: str,
    good: str = "",
    good_source: str = "",
    job: Job | None = None,
    shown: tuple[Drawn, Drawn] | None = None,
    hashes: Hashes | None = None,
) -> ProofSnapshot:
    """A proof ready to be drawn."""
    both = shown or (drawn(proof.before), drawn(proof.after))
    good = good or (proof.before.good.name if proof.before.good is not None else "")
    return ProofSnapshot(proof, both, before, after, good, good_source, job, hashes)


def comparison_of_files(
    comparison: Comparison, *, file: Path, good: str = "", good_file: Path | None = None, by: str = "auto"
) -> ComparisonSnapshot:
    """A comparison that was made from files, ready to be drawn."""
    hashes = _hashes(file, good_file)
    source = good_file.name if good_file is not None and good_file != file else ""
    return ComparisonSnapshot(drawn(comparison), file.name, good, source, hashes=hashes, by=by)


def proof_of_files(
    proof: Proof, *, before: Path, after: Path, good: str, good_file: Path | None, job: Job | None
) -> ProofSnapshot:
    """A proof that was made from files, ready to be drawn."""
    hashes = _hashes(before, after, good_file)
    source = good_file.name if good_file is not None else ""
    names = {"before": before.name, "after": after.name}
    return proof_snapshot(proof, **names, good=good, good_source=source, job=job, hashes=hashes)


def save_picture(path: Path, snapshot: Snapshot, size: PictureSize) -> None:
    """Write a snapshot, as SVG where its name says so, whole or not at all."""
    write_bytes(path, as_svg(snapshot, size) if path.suffix.lower() == ".svg" else as_png(snapshot, size))


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
            "figures": dict(conditions.settings),
            "upper_curve": conditions.upper_curve.points if conditions.upper_curve is not None else None,
            "lower_curve": conditions.lower_curve.points if conditions.lower_curve is not None else None,
            "curves_on_good": conditions.curves_on_good,
            "besides": {one.role: one.channel.name for one in conditions.besides},
        },
    }


def _title(job: Job | None, channel: str) -> str:
    return f"{job.title}: {channel}" if job is not None else channel


def title_block(
    comparison: Comparison, file: str, good: str, job: Job | None, *, after: Comparison | None = None, by: str = ""
) -> tuple[str, ...]:
    """Whose vehicle; which files, channel and place; instrument and settings; when."""
    first = [job.vehicle, f'complaint: "{job.complaint}"' if job.complaint else ""] if job is not None else []
    kind = listed_kind(comparison.kind).title
    second = [
        f"file {file}",
        f"channel {comparison.suspect.name}{_probed(comparison, file, job)}",
        f"known-good {good}" if good else "no known-good",
    ]
    third = [
        kind,
        f"step {_step(comparison)}" + (f", then {_step(after)}" if after is not None else ""),
        _supplies(comparison, after),
        _settings(comparison, by),
        datetime.now().astimezone().strftime("%Y-%m-%d %H:%M"),
        f"Loomlight {importlib.metadata.version('loomlight')}",
    ]
    lines = (" · ".join(one for one in parts if one) for parts in (first, second, third))
    return tuple(line for line in lines if line)


def _probed(comparison: Comparison, file: str, job: Job | None) -> str:
    """Where along the wire it was probed, if the job says so."""
    if job is None:
        return ""
    named = (one.file for one in job.captures if one.file in file or one.source_name in file)
    stops = (job.wire.stop_of(one, comparison.suspect.name) for one in named)
    stop = next((one for one in stops if one is not None), None)
    return f" at {job.wire.place_name(2 * stop)}" if stop is not None else ""


def _step(comparison: Comparison) -> str:
    step_s = comparison.suspect.step_s
    return in_words(step_s, "s") if step_s is not None else "uneven"


def _supplies(comparison: Comparison, after: Comparison | None) -> str:
    """Supply at the node of both captures, or of suspect and known-good."""
    own = comparison.bus.supply_v if comparison.bus is not None else None
    other_bus = after.bus if after is not None else comparison.good_bus
    other = other_bus.supply_v if other_bus is not None else None
    if own is None and other is None:
        return ""
    second = "after" if after is not None else "known-good"
    words = [f"{one:.1f} V" if one is not None else "not known" for one in (own, other)]
    return f"node supply {words[0]}" + (f", {second} {words[1]}" if other_bus is not None else "")


def _settings(comparison: Comparison, by: str) -> str:
    """What was given for judging."""
    conditions = comparison.conditions
    given = [
        f"{name} {value:g} V"
        for name, value in (
            ("supply given", conditions.supply_v),
            ("at most", conditions.upper_v),
            ("at least", conditions.lower_v),
            ("within", conditions.within_v),
        )
        if value is not None
    ]
    given += [f"{one.role} {one.channel.name}" for one in conditions.besides]
    given += [f"{key} {value:g}" for key, value in conditions.settings]
    return ", ".join([*given, *([f"lined up by {by}"] if by and comparison.lineup is not None else [])])
