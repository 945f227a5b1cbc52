"""Watches a folder for new exports without using the processor while nothing happens."""

import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from PySide6.QtCore import QFileSystemWatcher, QObject, Qt, QTimer, Signal

from loomlight.viewer.folder_watch import FolderWatch, Look

SETTLE_MS = 500
"""Between two looks while something is being written."""
QUIET_MS = 4000
"""Between two looks while nothing happens: folders on a network do not tell that they changed."""
SLOW_LOOKS = 3
"""Looks that were due and could not be made because the one before has not come back."""


@dataclass(frozen=True)
class WatchState:
    """How the watching stands, and what it is about."""

    kind: Literal["off", "waiting", "writing", "gone", "back", "silent", "left"]
    detail: str = ""


OFF = WatchState("off")


class WatchedFolder(QObject):
    """Tells which files arrived whole, and what the folder's state is.

    Each look runs on a thread of its own: a network folder that went away may hold one for half a minute, and neither the
    window nor its closing waits for it.
    """

    arrived = Signal(list)
    state_changed = Signal()
    _looked = Signal(int, object)

    def __init__(
        self, parent: QObject | None = None, *, look_of: Callable[[Path], Callable[[], Look]] | None = None
    ) -> None:
        """``look_of`` gives what looks at a folder; as `FolderWatch` does it if not given."""
        super().__init__(parent)
        self._look_of = look_of or (lambda folder: FolderWatch(folder).look)
        self._look: Callable[[], Look] | None = None
        self.folder: Path | None = None
        self.state = OFF
        self._turn = 0
        self._is_looking = False
        self._missed = 0
        self._was_gone = False
        self._changes = QFileSystemWatcher(self)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._start_look)
        self._changes.directoryChanged.connect(lambda _: self._soon())
        self._looked.connect(self._take, Qt.ConnectionType.QueuedConnection)

    @property
    def is_on(self) -> bool:
        """Whether a folder is watched."""
        return self.folder is not None

    def start(self, folder: Path) -> None:
        """Watch a folder; what lies there now is old."""
        self.stop()
        self.folder, self._look = folder, self._look_of(folder)
        self._say(WatchState("waiting"))
        self._start_look()

    def stop(self) -> None:
        """Watch no more."""
        self._turn += 1
        self._timer.stop()
        self._is_looking, self._missed, self._was_gone = False, 0, False
        watched = self._changes.directories()
        if watched:
            self._changes.removePaths(watched)
        self.folder, self._look = None, None
        self._say(OFF)

    def _soon(self) -> None:
        """Something changed: look in a moment, once for a burst of changes."""
        if self.is_on and not (self._timer.isActive() and self._timer.remainingTime() <= SETTLE_MS):
            self._wait(SETTLE_MS)

    def _wait(self, wait_ms: int) -> None:
        coarse = wait_ms >= QUIET_MS
        self._timer.setTimerType(Qt.TimerType.VeryCoarseTimer if coarse else Qt.TimerType.CoarseTimer)
        self._timer.start(wait_ms)

    def _start_look(self) -> None:
        look, turn = self._look, self._turn
        if look is None:
            return
        if self._is_looking:
            self._missed += 1
            if self._missed >= SLOW_LOOKS:
                self._say(WatchState("silent"))
            self._wait(QUIET_MS)
            return
        self._is_looking, self._missed = True, 0

        def work() -> None:
            found = look()
            try:
                self._looked.emit(turn, found)
            except RuntimeError:  # the window is gone
                return

        threading.Thread(target=work, name="folder look", daemon=True).start()
        self._wait(QUIET_MS)

    def _take(self, turn: int, found: Look) -> None:
        if turn != self._turn or self.folder is None:
            return
        self._is_looking = False
        if not found.is_there:
            self._was_gone = True
            self._say(WatchState("gone"))
        else:
            self._listen(self.folder)
            back = self._was_gone
            self._was_gone = False
            writing = WatchState("writing", ", ".join(found.waiting))
            self._say(writing if found.waiting else WatchState("back" if back else "waiting"))
        if found.ready:
            self.arrived.emit(list(found.ready))
        if found.left:
            self._say(WatchState("left", str(found.left)))
        self._wait(SETTLE_MS if found.waiting else QUIET_MS)

    def _listen(self, folder: Path) -> None:
        # A folder that was gone is forgotten by the system, and has to be named again.
        if str(folder) not in self._changes.directories():
            self._changes.addPath(str(folder))

    def _say(self, state: WatchState) -> None:
        if state != self.state:
            self.state = state
            self.state_changed.emit()


def watch_text(state: WatchState, folder: Path | None) -> str:
    """The state in words."""
    name = str(folder) if folder is not None else ""
    return {
        "off": "",
        "waiting": f"Watching {name}: the next export that is saved there is opened.",
        "writing": f"Watching {name}: {state.detail} is being written.",
        "gone": f"{name} is not there (is the stick in, the network up?). It is watched again as soon as it is back.",
        "back": f"{name} is back, and is watched again.",
        "silent": f"{name} does not answer (is the network up?). It is watched again as soon as it does.",
        "left": f"Watching {name}: of the new exports the newest were opened, {state.detail} older ones were not.",
    }[state.kind]
