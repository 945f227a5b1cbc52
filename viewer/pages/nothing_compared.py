"""What stands in the place of the lanes before anything was compared."""

from collections.abc import Callable

from PySide6.QtWidgets import QVBoxLayout, QWidget

from loomlight.viewer.desk import Desk
from loomlight.viewer.empty_page import Offer, empty_page

NOTHING_OPEN = "No capture is open yet."
READY = "Ready: suspect and known-good are chosen above."


class NothingCompared(QWidget):
    """Offers to open something, or to compare what is chosen.

    Parameters
    ----------
    run : callable
        Compares what is chosen.
    opening : sequence of Offer
        Where nothing is open.
    """

    def __init__(self, run: Callable[[], object], opening: tuple[Offer, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ready = empty_page(READY, (("Compare", "Line up, find, judge", run),))
        self._offer = empty_page(NOTHING_OPEN, opening)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._offer)
        column.addWidget(self._ready)

    def show_choice(self, desk: Desk) -> None:
        """Offer what comes next, with what lies on the desk."""
        self._offer.setVisible(not desk.opened)
        self._ready.setVisible(bool(desk.opened) and desk.chosen.suspect is not None)
