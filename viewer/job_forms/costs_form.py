"""Parts and labour, with the sums."""

from dataclasses import replace

from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from loomlight.signal.costs import costs_of
from loomlight.signal.job import Job
from loomlight.signal.job_records import CostLine
from loomlight.viewer.job_forms.form import JobForm
from loomlight.viewer.job_forms.record_rows import Field, RecordRows, Values
from loomlight.viewer.job_words import costs_words

FIELDS = (
    Field("text", "What it is", line=0),
    Field("kind", "Part or labour", line=1, stretch=3, choices=(("part", "part, pieces"), ("labour", "labour, hours"))),
    Field("quantity", "Quantity, hours", line=1, stretch=2),
    Field("price", "Price for one", line=1, stretch=2),
)


class CostsForm(JobForm):
    """One row a line of the bill; the sums follow while typing."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows = RecordRows(FIELDS, name="cost line", add="Add a part or labour", start={"quantity": "1"})
        self.currency, self.tax = QLineEdit(), QLineEdit()
        self.sums = QLabel()
        self.sums.setWordWrap(True)
        self.sums.setObjectName("large")
        below = QHBoxLayout()
        for line, label in ((self.currency, "Currency"), (self.tax, "Tax, %")):
            line.setAccessibleName(label)
            line.setPlaceholderText(label)
            line.textEdited.connect(self._edited)
            line.editingFinished.connect(self.left)
            below.addWidget(QLabel(label))
            below.addWidget(line)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.rows)
        column.addLayout(below)
        column.addWidget(self.sums)
        self.rows.changed.connect(self._edited)
        self.rows.left.connect(self.left)

    def show_job(self, job: Job, *, anew: bool) -> None:
        if anew or not self.rows.has_focus():
            self.rows.set_values([_values(one) for one in job.costs])
        for line, text in ((self.currency, job.currency), (self.tax, job.tax_percent)):
            if (anew or not line.hasFocus()) and line.text() != text:
                line.setText(text)
        self._show_sums()

    def taken(self, job: Job) -> Job:
        return replace(
            job, costs=self.lines(), currency=self.currency.text().strip(), tax_percent=self.tax.text().strip()
        )

    def lines(self) -> tuple[CostLine, ...]:
        """The lines as typed."""
        return tuple(
            CostLine(one["text"], "labour" if one["kind"] == "labour" else "part", one["quantity"], one["price"])
            for one in self.rows.values()
            if one["text"].strip() or one["price"].strip()
        )

    def _edited(self) -> None:
        self._show_sums()
        self.changed.emit()

    def _show_sums(self) -> None:
        lines = self.lines()
        sums = costs_words(costs_of(lines, self.tax.text()), self.currency.text().strip())
        self.sums.setText(sums[:1].upper() + sums[1:] if lines else "")


def _values(line: CostLine) -> Values:
    return {"text": line.text, "kind": line.kind, "quantity": line.quantity, "price": line.price}
