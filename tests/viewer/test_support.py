"""Errors for support, and the log: what happened, and nothing of the person's own."""

import getpass
from pathlib import Path

import pytest
from PySide6.QtGui import QGuiApplication
from pytestqt.qtbot import QtBot

from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.viewer.log import LOG, log_file, logged
from loomlight.viewer.message_strip import MessageStrip
from loomlight.viewer.support import details_of, shortened

PRIVATE = ("miller", "Miller", "blue van", "secret", "garage")


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("No such file or directory: '/home/miller/garage/blue van.csv'", "No such file or directory: '….csv'"),
        ("cannot open C:\\Users\\Miller\\secret.h5", "cannot open ….h5"),
        ("blue_van.csv, line 3: '4,81' is not a number", "….csv, line 3: '4,81' is not a number"),
        (
            '  File "/home/miller/x/loomlight/viewer/window.py", line 7, in go',
            '  File "loomlight/viewer/window.py", line 7, in go',
        ),
        ('  File "/home/miller/own/script.py", line 7', '  File "…", line 7'),
        ("0.5 V at 1/2 of 3.3 V, ratio 4/5", "0.5 V at 1/2 of 3.3 V, ratio 4/5"),
        ("list index out of range", "list index out of range"),
    ],
)
def test_paths_and_names_are_cut_down_to_what_support_needs(text: str, wanted: str) -> None:
    assert shortened(text) == wanted


def test_the_log_holds_the_trace_and_nothing_private(own_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(getpass, "getuser", lambda: "miller")
    try:
        Path("/home/miller/garage/blue van/secret.csv").read_text(encoding="utf-8")
    except FileNotFoundError as error:
        told = logged(error)
    written = log_file().read_text(encoding="utf-8")
    assert "FileNotFoundError" in written
    assert "test_support.py" not in written  # it is none of our modules
    assert not [one for one in PRIVATE if one in written]
    assert str(log_file()) in told


def test_the_log_rotates(own_home: Path) -> None:
    logged(ValueError("first"))
    for _ in range(1100):
        LOG.error("x" * 1000)
    files = sorted(log_file().parent.iterdir())
    assert 2 <= len(files) <= 3
    assert all(one.stat().st_size <= 500_000 for one in files)


def test_details_are_copied_by_one_press(qtbot: QtBot, tmp_path: Path) -> None:
    strip = MessageStrip()
    qtbot.addWidget(strip)
    strip.say("done")
    assert strip.copy_button.isHidden()
    strip.say_error(FileProblem("the stick is gone", file=tmp_path / "blue van.csv", do="Put it in again"))
    strip.copy_button.click()
    copied = QGuiApplication.clipboard().text()
    assert "the stick is gone" in copied
    assert "Loomlight 0." in copied
    assert "blue" not in copied
    assert "blue van.csv" in strip.text.text()  # on the screen the name is wanted
    strip.say("done")
    assert strip.copy_button.isHidden()


def test_a_bug_carries_its_trace_and_a_mistake_does_not() -> None:
    with pytest.raises(RuntimeError) as caught:
        raise RuntimeError("odd")
    assert "Traceback" in details_of(caught.value)
    assert "Traceback" not in details_of(LoomlightError("Choose another."))
