"""How long a window takes until it was painted: ``python start_times.py loomlight|graph|bare``; prints seconds.

``loomlight``: our window with nothing open. ``graph``: an empty plot of the plotting library that this binding is usually used
with, where it is installed. ``bare``: a main window with a painted plot and nothing else. Time counts from the interpreter's
start, as the kernel has it.
"""

import os
import sys
import tempfile
import time
from pathlib import Path


def since_start_s() -> float:
    """Seconds since this process was started (Linux: proc_pid_stat(5), field 22)."""
    started = int(Path("/proc/self/stat").read_text().rsplit(")", 1)[1].split()[19]) / os.sysconf("SC_CLK_TCK")
    return time.clock_gettime(time.CLOCK_BOOTTIME) - started


def main() -> None:
    what = sys.argv[1]
    from PySide6.QtCore import QEvent, QObject, QTimer
    from PySide6.QtWidgets import QApplication

    class Watch(QObject):
        """Tells when a window was painted for the first time, and leaves."""

        def eventFilter(self, watched: QObject, event: QEvent) -> bool:
            if event.type() == QEvent.Type.Paint and watched.isWidgetType():
                application.removeEventFilter(self)
                QTimer.singleShot(0, self.tell)
            return False

        def tell(self) -> None:
            print(f"{since_start_s():.3f} {time.process_time():.3f}", flush=True)
            os._exit(0)

    application = QApplication([])
    watch = Watch()
    if what == "loomlight":
        from loomlight.viewer.application import run_window

        os.environ["XDG_DATA_HOME"] = os.environ["XDG_CONFIG_HOME"] = tempfile.mkdtemp()
        application.installEventFilter(watch)
        run_window([])
        return
    elif what == "graph":
        import pyqtgraph  # type: ignore[import-not-found]

        window = pyqtgraph.PlotWidget()
    else:
        import numpy as np
        from PySide6.QtCore import QPointF
        from PySide6.QtGui import QPainter, QPaintEvent
        from PySide6.QtWidgets import QMainWindow

        class Plot(QMainWindow):
            def paintEvent(self, event: QPaintEvent) -> None:
                painter = QPainter(self)
                painter.drawPolyline([QPointF(x, 200 + 100 * np.sin(x / 20)) for x in range(800)])

        window = Plot()
    application.installEventFilter(watch)
    window.resize(1366, 768)
    window.show()
    application.exec()


if __name__ == "__main__":
    main()
