"""How large a picture shall be that goes to a file of its own."""

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QLineEdit, QVBoxLayout, QWidget

from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.form_rows import FormRows
from loomlight.viewer.looks import in_letters
from loomlight.viewer.snapshot import PRINT, SCREEN, PictureSize

LEAST, MOST = (900, 800), 8000
SIZES = (
    (f"Screen: {SCREEN.width} × {SCREEN.height} pixels", SCREEN),
    (f"Print: {round(PRINT.width * PRINT.scale)} × {round(PRINT.height * PRINT.scale)} pixels, 300 an inch", PRINT),
)
OWN = "Own size"


class PictureDialog(QDialog):
    """Asks for a size; whether PNG or SVG is told by the file's name."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Picture to a file")
        self.setMinimumWidth(in_letters(520))
        self.size_box = ChoiceBox()
        self.size_box.setAccessibleName("Size")
        self.size_box.addItems([*(text for text, _ in SIZES), OWN])
        self.width_line, self.height_line = QLineEdit(str(SCREEN.width)), QLineEdit(str(SCREEN.height))
        form = FormRows()
        for label, widget in (
            ("Size", self.size_box),
            ("Width, pixels", self.width_line),
            ("Height, pixels", self.height_line),
        ):
            widget.setAccessibleName(label)
            form.addRow(QLabel(label), widget)
        self._trouble = QLabel(
            f"From {LEAST[0]} × {LEAST[1]} to {MOST} × {MOST} pixels. Next you choose the name: .png for a picture that "
            "can be opened here again, .svg for a drawing."
        )
        self._trouble.setWordWrap(True)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        self._agree = buttons.button(QDialogButtonBox.StandardButton.Ok)
        self._agree.setText("Choose the name")
        self._agree.setObjectName("main")
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addLayout(form)
        column.addWidget(self._trouble)
        column.addWidget(buttons)
        self.size_box.currentIndexChanged.connect(self._check)
        for line in (self.width_line, self.height_line):
            line.textChanged.connect(self._check)
        self._check()

    def size_wanted(self) -> PictureSize | None:
        """The size, or None where what was typed is none."""
        place = self.size_box.currentIndex()
        if place < len(SIZES):
            return SIZES[place][1]
        typed = [line.text().strip() for line in (self.width_line, self.height_line)]
        if not all(one.isdecimal() and len(one) <= 5 for one in typed):
            return None
        width, height = map(int, typed)
        return PictureSize(width, height) if LEAST[0] <= width <= MOST and LEAST[1] <= height <= MOST else None

    def _check(self) -> None:
        own = self.size_box.currentText() == OWN
        for line in (self.width_line, self.height_line):
            line.setEnabled(own)
        self._agree.setEnabled(self.size_wanted() is not None)
