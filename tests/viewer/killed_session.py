"""A window that works until it is killed: ``python killed_session.py EXPORTS``; says "ready" once all that counts was done."""

import sys
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from loomlight.signal.by_hand import Hand
from loomlight.signal.job import Note
from loomlight.storage.library import Library
from loomlight.storage.places import jobs_folder, library_folder
from loomlight.viewer.application import dress
from loomlight.viewer.settings import Settings
from loomlight.viewer.window import PLACES, Window


def wait(ready) -> None:  # type: ignore[no-untyped-def]
    for _ in range(6000):
        QTest.qWait(5)
        if ready():
            return
    raise SystemExit("not ready in time")


def work(window: Window, exports: Path) -> None:
    """What a technician does: a job or none, a comparison, a note, a view, a line-up by hand, words about the cause."""
    if "job" in sys.argv:
        window.jobs.make_job(jobs_folder() / "blower", "Blower at full speed")
    window.files.open([exports / "before.csv", exports / "after.csv"])
    wait(lambda: len(window.desk.opened) == 2 and not window.opening.is_busy)
    window.desk.choose(after=window.desk.opened[1].choices()[0])
    window.desk.chosen.ask = window.desk.chosen.ask.__class__(kind="lin", supply_v=12.5)
    window.compare_page.asking.show_ask(window.desk.chosen.ask)
    window.go_to(PLACES.index("Compare"))
    window.compare_page.run()
    wait(lambda: window.desk.drawn is not None)
    page = window.compare_page
    page.panel.lanes.set_notes((Note("blower LIN", 0.06, 6.0, "lets go"),))
    page._keep_notes()
    if "job" in sys.argv:
        window.job_page.parts.go_to(4)
        window.go_to(0)
        QTest.keyClicks(window.job_page.parts.repair_form.texts["cause"], "corroded pin")
    else:
        page.hand_button.setChecked(True)
        wait(lambda: page.hand.lineup is not None)
        page.hand.lay(Hand(0.00125, 1.0))
        page.panel.lanes.set_view(0.05, 0.07)
        page.panel.lanes.set_cursors(0.055, 0.065)
        wait(lambda: page.hand.lineup is not None)
    # "All back but the last two seconds": what was done so long ago must be there.
    QTimer.singleShot(1900, lambda: print("ready", flush=True))


def main() -> None:
    application = QApplication([])
    dress(application)
    window = Window(Library(library_folder()), Settings())
    window.show()
    work(window, Path(sys.argv[1]))
    application.exec()


if __name__ == "__main__":
    main()
