"""What every part of the Job page has in common, and the part for plain texts."""

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFormLayout, QLabel, QLineEdit, QPlainTextEdit, QWidget

from loomlight.signal.job import Job

TEXT_HEIGHT = 76


class JobForm(QWidget):
    """One part: it shows a job's notes, and gives the job with what was typed.

    `changed` follows each edit by hand, `left` when a line was left; both mean that `taken` may give something new.
    """

    changed = Signal()
    left = Signal()

    def show_job(self, job: Job, *, anew: bool) -> None:
        """Show a job's notes; what is being typed stays as it is, unless another job was opened (``anew``)."""
        raise TypeError(f"{type(self).__name__} shows nothing")

    def taken(self, job: Job) -> Job:
        """The job with what stands in this part."""
        raise TypeError(f"{type(self).__name__} takes nothing")


class TextForm(JobForm):
    """Lines and longer texts, each one of the job's own fields."""

    def __init__(
        self,
        lines: tuple[tuple[str, str], ...],
        texts: tuple[tuple[str, str], ...] = (),
        *,
        hints: dict[str, str] | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.lines = {name: QLineEdit() for name, _ in lines}
        self.texts = {name: QPlainTextEdit() for name, _ in texts}
        self.form = QFormLayout(self)
        self.form.setContentsMargins(0, 0, 0, 0)
        self.form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        self.form.setVerticalSpacing(6)
        for name, label in lines:
            line = self.lines[name]
            line.setAccessibleName(label)
            line.setPlaceholderText((hints or {}).get(name, ""))
            line.textEdited.connect(self.changed)
            line.editingFinished.connect(self.left)
            self.form.addRow(QLabel(label), line)
        for name, label in texts:
            text = self.texts[name]
            text.setAccessibleName(label)
            text.setPlaceholderText((hints or {}).get(name, ""))
            text.setTabChangesFocus(True)
            text.setMinimumHeight(TEXT_HEIGHT)
            text.setMaximumHeight(2 * TEXT_HEIGHT)
            text.textChanged.connect(self.changed)
            self.form.addRow(QLabel(label), text)

    def show_job(self, job: Job, *, anew: bool) -> None:
        for name, line in self.lines.items():
            if (anew or not line.hasFocus()) and line.text() != getattr(job, name):
                line.setText(getattr(job, name))
                line.setCursorPosition(0)
        for name, text in self.texts.items():
            if (anew or not text.hasFocus()) and text.toPlainText() != getattr(job, name):
                text.blockSignals(True)
                text.setPlainText(getattr(job, name))
                text.blockSignals(False)

    def taken(self, job: Job) -> Job:
        values = {name: line.text() for name, line in self.lines.items()}
        values |= {name: text.toPlainText() for name, text in self.texts.items()}
        if "title" in values and not values["title"].strip():
            values["title"] = job.title  # a job without a title could not be found again
        return replace(job, **values)
