"""What is kept of the proof that is shown: its picture, both verdicts, the job's state."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, SignalInstance

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.desk import Desk
from loomlight.viewer.job_keeping import keep_verdict
from loomlight.viewer.pages.good_of_both import GoodOfBoth
from loomlight.viewer.snapshot import proof_snapshot

if TYPE_CHECKING:
    from loomlight.viewer.choice import Choice
    from loomlight.viewer.judging import ProofDrawn


class ProofKeeping(QObject):
    """Takes the proof off the desk, and hands it on."""

    failed = Signal(object)
    snapshot_taken = Signal(str, object)
    export_wanted = Signal(str, object)

    def __init__(self, desk: Desk, good: GoodOfBoth, parent: QObject) -> None:
        super().__init__(parent)
        self._desk, self._good = desk, good

    def take_snapshot(self) -> None:
        """Hand the before/after picture on; in a job both verdicts and the state are kept."""
        shown, proof_from = self._desk.proof, self._desk.proof_from
        if shown is None or proof_from is None:
            return
        try:
            self._keep(shown, *proof_from)
        except LoomlightError as error:
            self.failed.emit(error)
            return
        self._hand_on(self.snapshot_taken)

    def export(self) -> None:
        """Hand on what is seen, for a file of the user's choice."""
        self._hand_on(self.export_wanted)

    def _hand_on(self, wanted: SignalInstance) -> None:
        """Send what is seen, with its name."""
        shown, proof_from = self._desk.proof, self._desk.proof_from
        if shown is None or proof_from is None:
            return
        before, after = proof_from
        good = next((one for one in self._desk.choices() if one.channel is shown.proof.before.good), None)
        source = "" if good is None or good.is_beside(before) else good.source_name
        taken = proof_snapshot(
            shown.proof,
            before=before.file,
            after=after.file,
            good=good.label if good is not None else "",
            good_source=source,
            job=self._desk.job,
            shown=(shown.before, shown.after),
        )
        wanted.emit(f"proof {before.channel.name}", taken)

    def _keep(self, shown: ProofDrawn, before: Choice, after: Choice) -> None:
        folder = self._desk.folder
        if folder is None:
            return
        for choice, found in ((before, shown.proof.before), (after, shown.proof.after)):
            kept = self._desk.job_capture(choice.source)
            if kept is not None:
                keep_verdict(folder, found, kept, good=self._good.text())
        folder.save(replace(folder.job, state=shown.proof.state))
        self._desk.job_changed.emit()
