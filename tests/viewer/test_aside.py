"""Work beside the window: answers on the window's thread, stale ones dropped, giving up works."""

import threading
from collections.abc import Callable, Iterator

import pytest
from pytestqt.qtbot import QtBot

from loomlight.signal.progress import Progress
from loomlight.viewer.aside import Aside


@pytest.fixture
def aside() -> Iterator[Aside]:
    found = Aside()
    yield found
    found.close()


class Heard:
    """Keeps what was answered, and on which thread."""

    def __init__(self) -> None:
        self.results: list[object] = []
        self.errors: list[Exception] = []
        self.threads: list[int] = []

    def done(self, result: object) -> None:
        self.results.append(result)
        self.threads.append(threading.get_ident())

    def failed(self, error: Exception) -> None:
        self.errors.append(error)


def until_told(gate: threading.Event, result: str) -> Callable[[Progress], str]:
    """Work that asks whether to go on until it is told to end."""

    def work(progress: Progress) -> str:
        while not gate.wait(0.001):
            progress(0.5)
        return result

    return work


def test_answer_comes_on_the_windows_thread(aside: Aside, qtbot: QtBot) -> None:
    heard = Heard()
    worker: list[int] = []
    aside.run(lambda progress: worker.append(threading.get_ident()) or 42, heard.done, heard.failed)
    qtbot.waitUntil(lambda: heard.results == [42])
    assert heard.threads == [threading.get_ident()] != worker


def test_newer_work_makes_the_older_give_up(aside: Aside, qtbot: QtBot) -> None:
    heard, never, at_once = Heard(), threading.Event(), threading.Event()
    at_once.set()
    aside.run(until_told(never, "old"), heard.done, heard.failed)
    aside.run(until_told(at_once, "new"), heard.done, heard.failed)
    qtbot.waitUntil(lambda: heard.results == ["new"])
    assert not heard.errors


def test_an_answer_that_waits_while_it_is_given_up_is_dropped(aside: Aside, qtbot: QtBot) -> None:
    heard, ready = Heard(), threading.Event()
    aside.run(lambda progress: ready.set() or "stale", heard.done, heard.failed)
    assert ready.wait(5)
    aside.cancel()
    qtbot.wait(50)
    assert not heard.results
    assert not heard.errors
    assert not aside.is_busy


def test_any_failure_is_heard_of(aside: Aside, qtbot: QtBot) -> None:
    heard = Heard()
    aside.run(lambda progress: 1 / 0, heard.done, heard.failed)
    qtbot.waitUntil(lambda: len(heard.errors) == 1)
    assert isinstance(heard.errors[0], ZeroDivisionError)
    assert not aside.is_busy


def test_progress_is_told_in_steps_that_can_be_seen(aside: Aside, qtbot: QtBot) -> None:
    shares: list[float] = []
    aside.progressed.connect(lambda _, share: shares.append(share))
    heard = Heard()

    def work(progress: Progress) -> None:
        for step in range(10_001):
            progress(step / 10_000)

    aside.run(work, heard.done, heard.failed)
    qtbot.waitUntil(lambda: heard.results == [None])
    assert shares == sorted(shares)
    assert shares[-1] > 0.98
    assert 90 <= len(shares) <= 102  # a hundredth each, not ten thousand


def test_busy_is_told_once_for_each_change(aside: Aside, qtbot: QtBot) -> None:
    told: list[bool] = []
    aside.busy_changed.connect(told.append)
    heard = Heard()
    aside.run(lambda progress: None, heard.done, heard.failed)
    qtbot.waitUntil(lambda: heard.results == [None])
    assert told == [True, False]


def test_finish_hands_the_answer_on_before_it_returns(qtbot: QtBot) -> None:
    aside, heard, gate = Aside(), Heard(), threading.Event()
    aside.run(until_told(gate, "kept"), heard.done, heard.failed)
    gate.set()
    aside.finish()
    assert heard.results == ["kept"]


def test_close_ends_work_that_goes_on(qtbot: QtBot) -> None:
    aside, heard, never = Aside(), Heard(), threading.Event()
    aside.run(until_told(never, "late"), heard.done, heard.failed)
    aside.close()
    qtbot.wait(20)
    assert not heard.results
    assert not heard.errors
