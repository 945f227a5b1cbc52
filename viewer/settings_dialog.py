"""All settings in one place."""

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.errors import LoomlightError
from loomlight.storage.places import library_folder
from loomlight.viewer.business import business_of
from loomlight.viewer.business_form import BusinessForm
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.looks import in_letters
from loomlight.viewer.report_dialog import PAPERS
from loomlight.viewer.settings import PROBE_FACTORS, TEXT_SIZES, TIME_UNITS, VOLT_UNITS, Settings
from loomlight.viewer.style_sheet import TARGET_PIXELS

THEMES = (("Daylight", "daylight"), ("Night", "night"), ("As the system has it", "system"))
CONTRASTS = (("As the system has it", "system"), ("More contrast", "more"), ("Usual", "usual"))
UNITS_HINT = (
    "In tables, at cursors and on axes. Verdicts, proofs and reports write each figure in the unit that fits it."
)
LIBRARY_HINT = (
    "For the window from its next start on, for the commands at once. The variable LOOMLIGHT_LIBRARY comes first."
)
KEPT_IN = "Kept on this machine, as text, in {file}. Keys are changed in the list of actions."


class SettingsDialog(QDialog):
    """Asks; nothing counts before “Keep” was pressed."""

    def __init__(self, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._settings = settings
        self.setWindowTitle("Settings")
        self.theme = _choice("Theme", THEMES, settings.theme)
        self.text_size = _choice("Text size", [(f"{one} %", one) for one in TEXT_SIZES], settings.text_size)
        self.contrast = _choice("Contrast", CONTRASTS, settings.contrast)
        self.contrast.setToolTip("More contrast: black and white, and heavier lines, in both themes")
        self.times = _choice("Times", [(_unit(one), one) for one in TIME_UNITS], settings.time_unit)
        self.volts = _choice("Volts", [(_unit(one), one) for one in VOLT_UNITS], settings.volt_unit)
        for box in (self.times, self.volts):
            box.setToolTip(UNITS_HINT)
        factors = [(f"×{one:g}", one) for one in PROBE_FACTORS]
        self.probe = _choice("Probe factor to begin with", factors, settings.probe_factor)
        self.probe.setToolTip(
            "“Set up channel” begins with it. A capture's numbers are multiplied only once that was agreed to."
        )
        self.paper = _choice("Paper of reports", PAPERS, settings.paper)
        self.library = _FolderField(
            "Library folder", settings.library_folder, f"where the program puts it: {library_folder()}"
        )
        self.library.setToolTip(LIBRARY_HINT)
        self.watched = _FolderField("Watched folder", settings.watched_folder, "asked for when watching begins")
        self.business = BusinessForm(settings.details)
        self._problem = QLabel()
        self._problem.setWordWrap(True)
        self._problem.hide()
        self._build()

    def _build(self) -> None:
        inside = QWidget()
        column = QVBoxLayout(inside)
        form = QFormLayout()
        for title, rows in (
            ("Looks", (("Theme", self.theme), ("Text size", self.text_size), ("Contrast", self.contrast))),
            (
                "Measuring",
                (
                    ("Times", self.times),
                    ("Volts", self.volts),
                    ("Probe factor to begin with", self.probe),
                ),
            ),
            ("Folders", (("Library folder", self.library), ("Watched folder", self.watched))),
            ("Reports", (("Paper", self.paper), ("Your business", self.business))),
        ):
            head = QLabel(title)
            head.setObjectName("pageTitle")
            form.addRow(head)
            for label, widget in rows:
                words = QLabel(label)
                words.setMinimumHeight(TARGET_PIXELS)
                form.addRow(words, widget)
        column.addLayout(form)
        kept = QLabel(KEPT_IN.format(file=self._settings.file))
        kept.setObjectName("quiet")
        kept.setWordWrap(True)
        kept.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        column.addWidget(kept)
        column.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setAccessibleName("All settings")
        area.setWidget(inside)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel)
        keep = buttons.button(QDialogButtonBox.StandardButton.Ok)
        keep.setText("Keep")
        keep.setObjectName("main")
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        page = QVBoxLayout(self)
        page.addWidget(area, 1)
        page.addWidget(self._problem)
        page.addWidget(buttons)
        self.resize(min(in_letters(760), 1320), 700)

    def accept(self) -> None:
        """Keep the answers; what cannot be used is told here."""
        details = self.business.details()
        try:
            business_of(details)
            folders = self.library.folder(), self.watched.folder()
        except LoomlightError as error:
            self._problem.setText(f"✗  {error}")
            self._problem.show()
            return
        settings = self._settings
        settings.theme, settings.text_size = self.theme.currentData(), self.text_size.currentData()
        settings.contrast = self.contrast.currentData()
        settings.time_unit, settings.volt_unit = self.times.currentData(), self.volts.currentData()
        settings.probe_factor, settings.paper = self.probe.currentData(), self.paper.currentData()
        settings.library_folder, settings.watched_folder = folders
        settings.details = details
        super().accept()


class _FolderField(QWidget):
    """A folder, typed or chosen; empty for the program's own choice."""

    def __init__(self, name: str, folder: Path | None, empty: str) -> None:
        super().__init__()
        self._name = name
        self.edit = QLineEdit(str(folder) if folder is not None else "")
        self.edit.setPlaceholderText(empty)
        self.edit.setAccessibleName(name)
        choose = QPushButton("Choose")
        choose.setAccessibleName(f"Choose: {name}")
        choose.setToolTip(f"Choose the {name[:1].lower()}{name[1:]}")
        choose.clicked.connect(self._choose)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.edit, 1)
        row.addWidget(choose)

    def folder(self) -> Path | None:
        """What was chosen.

        Raises
        ------
        LoomlightError
            If it is no folder.
        """
        text = self.edit.text().strip()
        if not text:
            return None
        folder = Path(text).expanduser()
        if not folder.is_dir():
            raise LoomlightError(f"{self._name}: {text} is no folder. Choose one that is there, or leave it empty.")
        return folder

    def _choose(self) -> None:
        name = QFileDialog.getExistingDirectory(self, self._name, self.edit.text() or str(Path.home()))
        if name:
            self.edit.setText(name)


def _choice(name: str, offers: Sequence[tuple[str, object]], current: object) -> ChoiceBox:
    box = ChoiceBox()
    box.setAccessibleName(name)
    for text, value in offers:
        box.addItem(text, value)
    box.setCurrentIndex(next((place for place, (_, value) in enumerate(offers) if value == current), 0))
    return box


def _unit(unit: str) -> str:
    return "as fits each figure" if unit == "as fits" else f"all in {unit}"
