"""The watched folder in the window: what is saved there is opened, compared like the one before, its verdict shown."""

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.folder_watch import Look
from loomlight.viewer.watched_folder import QUIET_MS, WatchedFolder
from loomlight.viewer.window import Window

SLOW_MS = 30_000
JOB, CAPTURES, COMPARE, LIBRARY = 0, 1, 2, 4


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    place = tmp_path / "exports"
    place.mkdir()
    return place


def press(qtbot: QtBot, button: QAbstractButton) -> None:
    QApplication.processEvents()
    assert button.isVisible()
    assert button.isEnabled()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def watching(window: Window, qtbot: QtBot, exports: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(exports))
    window.captures_page.open_button.show()
    window.go_to(CAPTURES)
    press(qtbot, window.captures_page.watch_button)
    qtbot.waitUntil(lambda: window.watching.folder._changes.directories() == [str(exports)], timeout=SLOW_MS)


def opened(window: Window, qtbot: QtBot, *paths: Path) -> None:
    already = len(window.desk.opened)
    window.files.open(list(paths))
    qtbot.waitUntil(
        lambda: len(window.desk.opened) == already + len(paths) and not window.opening.is_busy, timeout=SLOW_MS
    )


def compared(window: Window, qtbot: QtBot) -> None:
    window.go_to(COMPARE)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        press(qtbot, window.compare_page.run_button)


def verdict(window: Window) -> str:
    return window.watching.bar.verdict.text()


def test_off_until_it_is_turned_on_and_off_again_at_the_next_start(
    window: Window, qtbot: QtBot, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert not window.watching.folder.is_on
    assert not window.watching.bar.isVisible()
    watching(window, qtbot, exports, monkeypatch)
    assert window.watching.bar.isVisible()
    assert str(exports) in window.watching.bar.state.text()
    assert not window.captures_page.watch_button.isVisible()
    assert window.settings.watched_folder == exports
    press(qtbot, window.watching.bar.stop_button)
    assert not window.watching.bar.isVisible()
    assert window.captures_page.watch_button.isVisible()
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: pytest.fail("the folder is remembered"))
    press(qtbot, window.captures_page.watch_button)
    assert window.watching.folder.folder == exports


def test_without_a_comparison_in_hand_a_new_export_is_opened(
    window: Window, qtbot: QtBot, stick: Path, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    watching(window, qtbot, exports, monkeypatch)
    window.go_to(LIBRARY)
    (exports / "run 1.csv").write_bytes((stick / "before.csv").read_bytes())
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1, timeout=SLOW_MS)
    assert window.pages.currentIndex() == CAPTURES
    assert "run 1.csv is open. Press Compare once" in verdict(window)


def test_each_new_export_is_compared_like_the_one_before(
    window: Window, qtbot: QtBot, stick: Path, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened(window, qtbot, stick / "before.csv")
    compared(window, qtbot)
    watching(window, qtbot, exports, monkeypatch)
    (exports / "run 1.csv").write_bytes((stick / "after.csv").read_bytes())
    qtbot.waitUntil(lambda: "run 1.csv," in verdict(window), timeout=SLOW_MS)
    assert verdict(window).startswith("✓  Clean")
    assert window.pages.currentIndex() == COMPARE
    chosen = window.desk.chosen
    assert chosen.suspect is not None
    assert chosen.good is not None
    assert (chosen.suspect.file, chosen.suspect.channel.name) == ("run 1.csv", "blower LIN")
    # The known-good was recorded beside the suspect: the new capture brings its own.
    assert (chosen.good.file, chosen.good.channel.name) == ("run 1.csv", "flap LIN")
    (exports / "run 2.csv").write_bytes((stick / "before.csv").read_bytes() + b"\n")
    qtbot.waitUntil(lambda: "run 2.csv," in verdict(window), timeout=SLOW_MS)
    assert verdict(window).startswith("✗  Faulty")


def test_exports_that_come_together_are_all_compared(
    window: Window, qtbot: QtBot, stick: Path, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened(window, qtbot, stick / "before.csv")
    compared(window, qtbot)
    watching(window, qtbot, exports, monkeypatch)
    seen: list[str] = []
    window.watching.repeat.compared.connect(lambda one: seen.append(one.path.name))
    for number in range(3):
        (exports / f"run {number}.csv").write_bytes((stick / "after.csv").read_bytes() + b"\n" * number)
    qtbot.waitUntil(lambda: len(seen) == 3, timeout=SLOW_MS)
    assert sorted(seen) == ["run 0.csv", "run 1.csv", "run 2.csv"]


def test_a_known_good_from_elsewhere_stays_and_the_job_keeps_each_export(
    window: Window, qtbot: QtBot, stick: Path, exports: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window.jobs.make_job(tmp_path / "job", "Blower")
    opened(window, qtbot, stick / "before.csv", stick / "known_good.h5")
    good = window.desk.opened[1].choices()[0]
    window.desk.choose(good=good)
    compared(window, qtbot)
    watching(window, qtbot, exports, monkeypatch)
    (exports / "run 1.csv").write_bytes((stick / "after.csv").read_bytes())
    qtbot.waitUntil(lambda: "run 1.csv," in verdict(window), timeout=SLOW_MS)
    assert window.desk.chosen.good is good
    files = [one.file for one in JobFolder.open(tmp_path / "job").job.captures]
    assert files == ["before.csv", "known_good.h5", "run 1.csv"]


def test_an_export_that_is_being_written_is_waited_for_and_said(
    window: Window, qtbot: QtBot, stick: Path, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    watching(window, qtbot, exports, monkeypatch)
    content = (stick / "before.csv").read_bytes()
    pieces = [content[place : place + len(content) // 6 + 1] for place in range(0, len(content), len(content) // 6 + 1)]
    for piece in pieces:
        with (exports / "slow.csv").open("ab") as file:
            file.write(piece)
        qtbot.wait(300)
        assert not window.desk.opened
    assert "slow.csv is being written" in window.watching.bar.state.text()
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1, timeout=SLOW_MS)
    qtbot.wait(1500)
    assert len(window.desk.opened) == 1
    assert window.desk.opened[0].capture.channels[0].samples.size == 97850
    assert "being written" not in window.watching.bar.state.text()


def test_an_export_without_the_channel_or_that_is_none_is_told_and_the_next_is_compared(
    window: Window, qtbot: QtBot, stick: Path, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened(window, qtbot, stick / "before.csv")
    compared(window, qtbot)
    watching(window, qtbot, exports, monkeypatch)
    (exports / "other.csv").write_text(
        "Time (s),supply (V)\n" + "".join(f"{n * 1e-5:.6f},{n % 5}\n" for n in range(300))
    )
    qtbot.waitUntil(lambda: "other.csv has no channel" in verdict(window), timeout=SLOW_MS)
    (exports / "broken.csv").write_text("no waveform here\n")
    qtbot.waitUntil(lambda: "broken.csv" in window.strip.text.text(), timeout=SLOW_MS)
    (exports / "good.csv").write_bytes((stick / "after.csv").read_bytes())
    qtbot.waitUntil(lambda: "good.csv," in verdict(window), timeout=SLOW_MS)


def test_a_folder_that_goes_and_comes_back_is_said(
    window: Window, qtbot: QtBot, stick: Path, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    watching(window, qtbot, exports, monkeypatch)
    exports.rename(exports.with_name("pulled"))
    qtbot.waitUntil(lambda: "is not there" in window.watching.bar.state.text(), timeout=SLOW_MS)
    exports.with_name("pulled").rename(exports)
    qtbot.waitUntil(lambda: "is back" in window.watching.bar.state.text(), timeout=SLOW_MS)
    (exports / "run 1.csv").write_bytes((stick / "before.csv").read_bytes())
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1, timeout=SLOW_MS)


class Counted:
    """A folder that counts how often it is looked at, and may hang."""

    def __init__(self) -> None:
        self.looks = 0
        self.go_on = threading.Event()
        self.go_on.set()

    def of(self, _folder: Path) -> Callable[[], Look]:
        def look() -> Look:
            self.looks += 1
            self.go_on.wait(20)
            return Look(is_there=True)

        return look


def test_while_nothing_happens_there_is_hardly_a_look(qtbot: QtBot, exports: Path) -> None:
    counted = Counted()
    folder = WatchedFolder(look_of=counted.of)
    folder.start(exports)
    qtbot.wait(1500)
    assert counted.looks == 1
    for number in range(20):  # a burst of changes is one look
        (exports / f"{number}.csv").write_text("1\n")
    qtbot.wait(1000)
    assert counted.looks == 2
    assert QUIET_MS >= 2000
    folder.stop()
    counted.looks = 0
    (exports / "late.csv").write_text("1\n")
    qtbot.wait(1000)
    assert counted.looks == 0


def test_a_folder_that_does_not_answer_holds_nothing_up(
    qtbot: QtBot, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("loomlight.viewer.watched_folder.QUIET_MS", 100)
    counted = Counted()
    counted.go_on.clear()
    folder = WatchedFolder(look_of=counted.of)
    begun = time.monotonic()
    folder.start(exports)
    qtbot.waitUntil(lambda: folder.state.kind == "silent", timeout=5000)
    assert counted.looks == 1
    counted.go_on.set()
    qtbot.waitUntil(lambda: folder.state.kind == "waiting", timeout=5000)
    folder.stop()
    assert time.monotonic() - begun < 10
