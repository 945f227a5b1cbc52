"""A form whose labels stand at the height of their fields."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFormLayout, QLabel, QLayout, QWidget

from loomlight.viewer.style_sheet import TARGET_PIXELS


class FormRows(QFormLayout):
    """As `QFormLayout`, which sets a label at the top of a high row."""

    def addRow(self, *parts: "str | QWidget | QLayout") -> None:
        """A label, or its text, with its field; or one part over the whole width."""
        self.insertRow(self.rowCount(), *parts)

    def insertRow(self, row: int, *parts: "str | QWidget | QLayout") -> None:
        """As `addRow`, at a place."""
        if len(parts) == 2:
            label, field = parts
            named = QLabel(label) if isinstance(label, str) else label
            if isinstance(named, QLabel):
                named.setMinimumHeight(TARGET_PIXELS)
                named.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
                if isinstance(field, QWidget):
                    named.setBuddy(field)
            super().insertRow(row, named, field)  # type: ignore[arg-type]
        else:
            super().insertRow(row, *parts)  # type: ignore[arg-type]
