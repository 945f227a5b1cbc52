"""One strip that offers to join files that were opened together, with one large button."""

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QWidget

from loomlight.viewer.choice import Opened


class JoinOffer(QFrame):
    """Holds the captures that it is about; `wanted` hands them on."""

    wanted = Signal(list)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("strip")
        self._opened: list[Opened] = []
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setAccessibleName("Files that may be one recording")
        self.join_button = QPushButton("Join into one capture")
        self.join_button.setObjectName("main")
        self.join_button.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        self.join_button.setToolTip("Make one capture of them; the single files are kept")
        self.join_button.clicked.connect(self._join)
        self.leave_button = QPushButton("Leave apart")
        self.leave_button.setToolTip("They are different recordings")
        self.leave_button.clicked.connect(self.hide)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 6, 6, 6)
        row.addWidget(self.text, 1)
        row.addWidget(self.join_button)
        row.addWidget(self.leave_button)
        self.setMinimumHeight(84)
        self.hide()

    def offer(self, opened: Sequence[Opened]) -> None:
        """Offer to join these."""
        self._opened = list(opened)
        self.text.setText(offer_text(opened))
        self.show()

    def keep_to(self, here: Sequence[Opened]) -> None:
        """Take the offer back where one of its captures does not lie on the desk any more."""
        paths = {one.path for one in here}
        if not all(one.path in paths for one in self._opened):
            self._opened = []
            self.hide()

    def _join(self) -> None:
        self.hide()
        self.wanted.emit(self._opened)


def offer_text(opened: Sequence[Opened]) -> str:
    """What is offered, in words."""
    names = ", ".join(one.path.name for one in opened)
    return (
        f"{names}: one channel each, with the same count, step and start. If they are one recording, join them into one "
        "capture: its channels can then be compared at the same moment."
    )
