"""The start: no screen is told plainly, and our own bugs end in the log and one plain line."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.application import SCREEN_VARIABLES, run_window
from loomlight.viewer.log import log_file
from loomlight.viewer.message_strip import MessageStrip


def test_no_screen_is_one_line_and_exit_2(own_home: Path) -> None:
    bare = {name: value for name, value in os.environ.items() if name not in SCREEN_VARIABLES}
    done = subprocess.run(
        [sys.executable, "-m", "loomlight.viewer", "demo"],
        env=bare,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert "no screen" in line
    assert not done.stdout


@pytest.mark.parametrize("name", SCREEN_VARIABLES)
def test_an_empty_variable_is_no_screen(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for one in SCREEN_VARIABLES:
        monkeypatch.delenv(one, raising=False)
    monkeypatch.setenv(name, "")
    monkeypatch.setattr(sys, "platform", "linux")
    with pytest.raises(LoomlightError, match="no screen"):
        run_window([])


def test_our_own_bug_is_logged_in_full_and_told_in_one_line(qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> None:
    strip = MessageStrip()
    qtbot.addWidget(strip)
    try:
        {}["missing"]
    except KeyError as error:
        strip.say_error(error)
    assert "KeyError" in strip.text.text()
    assert "\n" not in strip.text.text()
    assert "Traceback" not in strip.text.text()


def test_an_error_stays_when_the_page_is_turned_and_what_was_done_goes(qtbot: QtBot) -> None:
    strip = MessageStrip()
    qtbot.addWidget(strip)
    strip.say_error(LoomlightError("x.csv, line 3: 'abc' is not a number. Choose another column."))
    strip.turn_page()
    assert strip.isVisible()
    assert strip.text.text().endswith("x.csv, line 3: 'abc' is not a number. Choose another column.")
    strip.say("Saved.")
    strip.turn_page()
    assert not strip.isVisible()


def test_the_log_stands_in_the_users_own_folder(own_home: Path) -> None:
    assert log_file().is_relative_to(own_home)
