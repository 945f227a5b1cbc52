"""Long work beside the window: it shows how far it is, and can be given up."""

import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from PySide6.QtCore import QCoreApplication, QObject, Signal

from loomlight.signal.progress import Cancelled, Progress

SWITCH_S = 0.0005
"""How long a busy worker may hold the interpreter: with Python's own 5 ms each of the window's calls waits that long."""
LEAST_STEP = 0.01
AFTER_S, PAUSE_S = 0.004, 0.0002
"""After so much work a worker rests so long, where it tells how far it is.

Many short calls into NumPy let the interpreter go and take it back before the window's thread has woken up; Python notices
only those that hold it all the time. A rest is long enough to wake up in.
"""


class Aside(QObject):
    """Runs one piece of work beside the window; a newer one makes the older give up.

    The signals carry the ticket of their work; only `ticket`'s answers are of interest, and the shorthand `run` hands on
    no others.
    """

    progressed = Signal(int, float)
    finished = Signal(int, object)
    failed = Signal(int, object)
    busy_changed = Signal(bool)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="aside")
        self._give_up = threading.Event()
        self._done: Callable[[object], None] | None = None
        self._failed: Callable[[Exception], None] | None = None
        self.ticket = 0
        self.is_busy = False
        sys.setswitchinterval(min(sys.getswitchinterval(), SWITCH_S))
        self.finished.connect(self._take)
        self.failed.connect(self._take_failure)

    def run(
        self, work: Callable[[Progress], object], done: Callable[..., None], failed: Callable[[Exception], None]
    ) -> None:
        """Start ``work(progress)``; ``done(result)`` or ``failed(error)`` follow on the window's thread, unless given up."""
        self.cancel()
        self._give_up = threading.Event()
        self._done, self._failed = done, failed
        self._set_busy(True)
        self._pool.submit(self._work, self.ticket, self._give_up, work)

    def cancel(self) -> None:
        """Give up the work at hand: no answer of it will come."""
        self._give_up.set()
        self.ticket += 1
        self._set_busy(False)

    def close(self) -> None:
        """Give up, and wait for the worker to stop."""
        self.cancel()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def finish(self) -> None:
        """Wait for the work at hand and hand its answer on: for what must not be lost when the window closes."""
        self._pool.shutdown(wait=True)
        QCoreApplication.sendPostedEvents(self)

    def _set_busy(self, busy: bool) -> None:
        if busy != self.is_busy:
            self.is_busy = busy
            self.busy_changed.emit(busy)

    def _work(self, ticket: int, give_up: threading.Event, work: Callable[[Progress], object]) -> None:
        told, rested_s = -1.0, time.monotonic()

        def progress(share: float) -> None:
            nonlocal told, rested_s
            if give_up.is_set():
                raise Cancelled
            if time.monotonic() - rested_s > AFTER_S:
                time.sleep(PAUSE_S)
                rested_s = time.monotonic()
            if share >= told + LEAST_STEP:
                told = share
                self.progressed.emit(ticket, share)

        try:
            progress(0.0)
            result = work(progress)
        except Cancelled:
            return
        except Exception as error:  # the one broad catch: whatever it is, the user hears of it
            self.failed.emit(ticket, error)
        else:
            self.finished.emit(ticket, result)

    def _take(self, ticket: int, result: object) -> None:
        if ticket == self.ticket and self._done is not None:
            self._set_busy(False)
            self._done(result)

    def _take_failure(self, ticket: int, error: Exception) -> None:
        if ticket == self.ticket and self._failed is not None:
            self._set_busy(False)
            self._failed(error)
