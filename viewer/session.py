"""Keeps the work at hand on the disk while it is done, so that a program that was ended hard can go on where it was."""

import json
import shutil
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from PySide6.QtCore import QLockFile, QObject, QTimer

from loomlight.signal.errors import LoomlightError
from loomlight.signal.progress import Progress
from loomlight.storage.places import data_folder
from loomlight.storage.safe_write import write_bytes
from loomlight.viewer.aside import Aside
from loomlight.viewer.log import LOG
from loomlight.viewer.session_state import SessionState, state_from

AFTER_MS = 400
STATE, LOCK = "desk.json", "lock"
OLDEST_S = 30 * 24 * 3600


def sessions_folder() -> Path:
    """Where each running window keeps its own."""
    return data_folder() / "sessions"


@dataclass(frozen=True)
class Abandoned:
    """What a program that ended hard left behind."""

    folder: Path
    state: SessionState


def abandoned() -> Abandoned | None:
    """The newest session whose program is gone; empty, spoilt and old ones are tidied away."""
    found: list[tuple[float, Abandoned]] = []
    try:
        folders = [one for one in sessions_folder().iterdir() if one.is_dir()]
    except OSError:
        return None
    for folder in folders:
        lock = _lock_of(folder)
        if not lock.tryLock(0):
            continue  # another window that runs
        lock.unlock()
        state, changed_s = _read(folder)
        if state is None or state.is_empty or time.time() - changed_s > OLDEST_S:
            shutil.rmtree(folder, ignore_errors=True)
        else:
            found.append((changed_s, Abandoned(folder, state)))
    return max(found, key=lambda one: one[0])[1] if found else None


def forget(one: Abandoned) -> None:
    """It was brought back, or is not wanted."""
    shutil.rmtree(one.folder, ignore_errors=True)


def _read(folder: Path) -> tuple[SessionState | None, float]:
    try:
        file = folder / STATE
        return state_from(json.loads(file.read_text(encoding="utf-8"))), file.stat().st_mtime
    except (OSError, ValueError):
        return None, 0.0


def _lock_of(folder: Path) -> QLockFile:
    # Beside the folder, so that it is held before there is a folder to be seen.
    lock = QLockFile(str(folder.with_name(f"{folder.name}.{LOCK}")))
    lock.setStaleLockTime(0)  # only a program that is gone gives it free, however long it was still
    return lock


class SessionKeeping(QObject):
    """Writes the state a moment after it changed, beside the window; gone again once the window is closed properly."""

    def __init__(self, state: Callable[[], SessionState], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._folder = sessions_folder() / uuid4().hex
        self._lock: QLockFile | None = None
        self._writing = Aside(self)
        self._written: SessionState | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(AFTER_MS)
        self._timer.timeout.connect(self._write)

    def mark(self) -> None:
        """Something changed: write how it is in a moment."""
        if not self._timer.isActive():
            self._timer.start()

    def _write(self) -> None:
        state = self._state()
        if state == self._written:
            return
        if self._writing.is_busy:
            self._timer.start()
            return
        if state.is_empty and self._written is None:
            return
        self._written = state
        text = json.dumps(state.to_plain(), ensure_ascii=False).encode("utf-8")

        def work(_progress: Progress) -> None:
            if self._lock is None:
                self._folder.parent.mkdir(parents=True, exist_ok=True)
                self._lock = _lock_of(self._folder)
                self._lock.tryLock(0)
                self._folder.mkdir(exist_ok=True)
            write_bytes(self._folder / STATE, text)

        self._writing.run(work, lambda _none: None, self._failed)

    def _failed(self, error: Exception) -> None:
        """A full or missing disk: what the job keeps is told there; the rest is but a convenience."""
        if not isinstance(error, LoomlightError | OSError):
            raise error
        LOG.warning("session not kept: %s", type(error).__name__)

    def close_work(self) -> None:
        """The window was closed properly: nothing is to be brought back."""
        self._timer.stop()
        self._writing.close()
        if self._lock is not None:
            self._lock.unlock()
        shutil.rmtree(self._folder, ignore_errors=True)
