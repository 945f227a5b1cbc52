"""A program that is killed while it works on a library leaves every finished entry whole, and no half one."""

import json
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path

import pytest
from library_maker import small_capture

from loomlight.signal.entry import Entry
from loomlight.storage.library import Library

SCRIPT = Path(__file__).with_name("killed_library.py")
KNOWN = Entry(id="", title="x", kind="lin", channel="")


def killed(folder: Path, seed: int, times: int) -> dict[str, int]:
    asked = [sys.executable, str(SCRIPT), str(folder), str(seed), str(times)]
    done = subprocess.run(asked, capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stderr[-3000:]
    answer: dict[str, int] = json.loads(done.stdout)
    return answer


@pytest.mark.skipif(sys.platform == "win32", reason="needs fork and SIGKILL")
def test_killed_at_thirty_moments(tmp_path: Path) -> None:
    answer = killed(tmp_path / "library", 100, 30)
    assert answer["killed"] == 30
    assert answer["finished"] > 5  # the moments lie among the work, not all before it; slow machines get less far


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="needs fork and SIGKILL")
def test_killed_at_five_hundred_moments(tmp_path: Path) -> None:
    assert killed(tmp_path / "library", 5000, 500)["finished"] > 100


def test_two_programs_at_once_lose_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "library"
    shared = Library(folder).add(small_capture(), "bus", KNOWN)
    failed: list[BaseException] = []

    def work(name: str) -> None:
        library = Library(folder)
        try:
            for number in range(8):
                library.add(small_capture(number), "bus", replace(KNOWN, title=f"{name} {number}"))
                library.edit(shared, {name: str(number)})
                library.find(name)
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=work, args=(name,)) for name in ("pin", "connector")]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert failed == []
    library = Library(folder)
    entry = library.resolve(shared.id)
    assert (entry.pin, entry.connector) == ("7", "7")
    assert len(entry.history) == 16
    assert len(library.all()) == 17
