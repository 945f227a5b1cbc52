"""What can be said about one column of a text file."""

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtWidgets import QInputDialog, QMenu, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.storage.reading import Reading
from loomlight.storage.reading_preview import PreviewColumn
from loomlight.viewer.typed_number import typed_number

UNITS = ("V", "mV", "A", "mA", "counts")
COUNTS = "counts"


class ColumnMenu(QMenu):
    """Says something about a column; ``say`` takes all of the answers with the new one."""

    def __init__(
        self,
        column: PreviewColumn,
        reading: Reading,
        say: Callable[[Reading], None],
        failed: Callable[[str], None],
        parent: QWidget,
    ) -> None:
        super().__init__(parent)
        self.aboutToHide.connect(self.deleteLater)
        self._column, self._reading, self._say, self._failed = column, reading, say, failed
        number = column.number
        title = self.addAction(f"Column {number}{f': {column.name}' if column.name else ''}")
        title.setEnabled(False)
        is_time = column.role == "time"
        self._add("This is the time", replace(reading, time_column=number, left_out=self._others()), chosen=is_time)
        if is_time:
            self._add("There is no time column", replace(reading, time_column=0))
        if column.role == "value":
            self.addSeparator()
            for unit in UNITS:
                text = "Converter counts" if unit == COUNTS else f"In {unit}"
                self._add(text, reading.with_unit(number, unit), chosen=column.unit == unit)
            self.addAction("In another unit …", self._ask_unit)
            self.addAction("One count is …", self._ask_scale)
            self.addSeparator()
            self.addAction("Name …", self._ask_name)
        if number in reading.left_out:
            self._add("Take this column in", replace(reading, left_out=self._others()))
        elif column.role == "value":
            self._add("Leave this column out", replace(reading, left_out=tuple(sorted({*reading.left_out, number}))))

    def _others(self) -> tuple[int, ...]:
        return tuple(one for one in self._reading.left_out if one != self._column.number)

    def _add(self, text: str, reading: Reading, *, chosen: bool = False) -> None:
        action = self.addAction(text, lambda: self._say(reading))
        action.setCheckable(True)
        action.setChecked(chosen)

    def _ask_unit(self) -> None:
        text, agreed = QInputDialog.getText(
            self.parentWidget(),
            "Unit",
            "Unit of the numbers, with its prefix (kV, µA, °C, bar …):",
            text=self._column.unit,
        )
        if agreed and text.strip():
            self._say(self._reading.with_unit(self._column.number, text.strip()))

    def _ask_name(self) -> None:
        text, agreed = QInputDialog.getText(
            self.parentWidget(), "Name", "What this channel is called:", text=self._column.name
        )
        if agreed and text.strip():
            self._say(self._reading.with_name(self._column.number, " ".join(text.split())))

    def _ask_scale(self) -> None:
        text, agreed = QInputDialog.getText(
            self.parentWidget(), "Converter counts", "Volts (or amperes) that one count stands for, such as 0.04:"
        )
        if not agreed:
            return
        try:
            scale = typed_number(text, "One count", example="0.04")
            if scale is not None:
                said = self._reading.with_scale(self._column.number, scale, 0.0)
                unit = said.unit_of(self._column.number)
                self._say(said.with_unit(self._column.number, "V" if unit in (None, COUNTS) else unit))
        except (LoomlightError, ValueError) as error:
            self._failed(str(error))
