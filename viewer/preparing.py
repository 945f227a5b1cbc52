"""What the first minutes need is made ready once the window stands, while nobody waits for it.

Modules that know nothing of Qt are loaded beside the window. The pages, and what they are made from, belong to the window's
own thread: one piece at a time, with room between for what the hand does.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from loomlight.viewer.aside import Aside
from loomlight.viewer.window_pages import CAPTURES, COMPARE, LIBRARY, PROOF

if TYPE_CHECKING:
    from loomlight.signal.progress import Progress
    from loomlight.viewer.window import Window

BESIDE = (
    "loomlight.storage.open_capture",
    "loomlight.signal.fold",
    "loomlight.signal.prove",
    "loomlight.storage.library",
    "loomlight.storage.library_match",
    "loomlight.signal.kinds.lin",
)
"""With all that these import."""
PAGES = (
    (CAPTURES, ("loomlight.viewer.lane_panel", "loomlight.viewer.capture_actions")),
    (COMPARE, ("loomlight.viewer.snapshot", "loomlight.viewer.pages.compare_page")),
    (PROOF, ("loomlight.viewer.pages.proof_page",)),
    (LIBRARY, ("loomlight.viewer.library_finder", "loomlight.viewer.pages.library_page")),
)
"""In the order in which they are likely to be wanted, each with what it is made from, in pieces of about the same size."""
BETWEEN_MS = 30
"""From the end of one piece to the next."""


class Preparing(QObject):
    """Makes ready what was not wanted yet; whoever wants something before gets it at once, as ever. `done` comes once."""

    done = Signal()

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self._window = window
        self._loading = Aside(self)
        self._pieces: list[Callable[[], object]] = []
        self._step = QTimer(self)
        self._step.setSingleShot(True)
        self._step.setInterval(BETWEEN_MS)
        self._step.timeout.connect(self._go_on)

    @property
    def is_done(self) -> bool:
        """Whether nothing is left to be made ready."""
        return not self._pieces and not self._loading.is_busy

    def begin(self) -> None:
        """Begin once the window was painted."""
        self._pieces.append(self._begin_loading)
        self._step.start()

    def _begin_loading(self) -> None:
        self._loading.run(_load, self._begin_pages, self._begin_pages)

    def _begin_pages(self, _told: object) -> None:
        """Also where something could not be loaded: whoever wants it will be told why."""
        for place, modules in PAGES:
            self._pieces += [*(partial(import_module, one) for one in modules), partial(self._window.make_page, place)]
        self._step.start()

    def _go_on(self) -> None:
        if self._pieces:
            self._pieces.pop(0)()
            if not self._loading.is_busy:
                self._step.start()
        else:
            self.done.emit()

    def close_work(self) -> None:
        """Leave the rest as it is."""
        self._step.stop()
        self._pieces.clear()
        self._loading.close()


def _load(progress: Progress) -> None:
    for number, name in enumerate(BESIDE):
        progress(number / len(BESIDE))
        import_module(name)
