"""What was tested and read off a meter."""

from dataclasses import replace

from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from loomlight.signal.job import Job
from loomlight.signal.job_records import MeterReading
from loomlight.storage.job_folder import now
from loomlight.viewer.job_forms.form import JobForm, TextForm
from loomlight.viewer.job_forms.record_rows import Field, RecordRows, Values

UNITS = tuple((unit, unit) for unit in ("V", "mV", "A", "mA", "Ω", "kΩ", "MΩ", "Hz", "°C", "%"))
NO_STOP = {"from_stop": ("", "from stop –"), "to_stop": ("", "to stop –")}
FIELDS = (
    Field("place", "Where the leads were", line=0),
    Field("figure", "Figure", line=1, stretch=2),
    Field("unit", "Unit", line=1, stretch=2, choices=UNITS),
    Field("note", "Note", line=1, stretch=3),
    Field("from_stop", "From this stop of the wire", line=2, choices=(NO_STOP["from_stop"],)),
    Field("to_stop", "To this stop of the wire", line=2, choices=(NO_STOP["to_stop"],)),
)
HINT = (
    "A reading between two stops of the drawn wire narrows the stretch under suspicion: under 1 Ω it is taken as whole, over "
    "10 Ω or a drop over 0.5 V the fault lies in it (common practice). Switch the supply off before you measure ohms."
)


class MeasuredForm(JobForm):
    """Tests as text, and one row a meter reading."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.tests = TextForm((), (("tests_made", "Tests made"),))
        self.rows = RecordRows(FIELDS, name="meter reading", add="Add a meter reading", start={"unit": "V"})
        self._taken_at: dict[MeterReading, str] = {}
        hint = QLabel(HINT)
        hint.setWordWrap(True)
        hint.setObjectName("quiet")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.tests)
        column.addWidget(self.rows)
        column.addWidget(hint)
        for part in (self.tests, self.rows):
            part.changed.connect(self.changed)
            part.left.connect(self.left)

    def show_job(self, job: Job, *, anew: bool) -> None:
        self.tests.show_job(job, anew=anew)
        stops = tuple((str(number), f"{stop.name} {stop.pin}".strip()) for number, stop in enumerate(job.wire.stops))
        for key, no_stop in NO_STOP.items():
            self.rows.set_choices(key, (no_stop, *stops))
        self._taken_at = {replace(one, taken=""): one.taken for one in job.readings}
        if anew or not self.rows.has_focus():
            self.rows.set_values([_values(one) for one in job.readings])

    def taken(self, job: Job) -> Job:
        readings = []
        for values in self.rows.values():
            reading = _reading(values)
            readings.append(replace(reading, taken=self._taken_at.setdefault(reading, now())))
        return replace(self.tests.taken(job), readings=tuple(readings))


def _values(reading: MeterReading) -> Values:
    return {
        "place": reading.place,
        "figure": reading.figure,
        "unit": reading.unit,
        "note": reading.note,
        "from_stop": "" if reading.from_stop is None else str(reading.from_stop),
        "to_stop": "" if reading.to_stop is None else str(reading.to_stop),
    }


def _reading(values: Values) -> MeterReading:
    stops = {key: int(values[key]) if values[key] else None for key in ("from_stop", "to_stop")}
    return MeterReading(values["place"], values["figure"], values["unit"], note=values["note"], **stops)
