"""Changes of a job's notes are taken back and made again, step by step."""

from dataclasses import replace

import pytest
from pytestqt.qtbot import QtBot

from loomlight.signal.job import Job, JobCapture
from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.job_past import JobPast
from loomlight.viewer.window import Window


def test_typing_on_is_one_step_and_another_field_another() -> None:
    past, job = JobPast(), Job("Blower")
    past.begin(job)
    for words in ("c", "corro", "corroded pin"):
        job = replace(job, cause=words)
        past.see(job)
    past.close()
    job = replace(job, cause="corroded pin, again")
    past.see(job)
    job = replace(job, repair="new pin", captures=(JobCapture("a.csv", "a.csv", "", "2026-03-02T14:30:00+01:00"),))
    past.see(job)
    assert past.to_undo is not None
    assert past.to_undo.words == "repair"
    job = past.undone(job)
    assert (job.repair, job.cause, len(job.captures)) == ("", "corroded pin, again", 1)
    job = past.undone(job)
    assert job.cause == "corroded pin"
    job = past.undone(job)
    assert (job.cause, past.to_undo) == ("", None)
    job = past.redone(past.redone(past.redone(job)))
    assert (job.repair, job.cause, past.to_redo) == ("new pin", "corroded pin, again", None)


def test_a_new_change_ends_what_could_be_made_again() -> None:
    past, job = JobPast(), Job("Blower")
    past.begin(job)
    past.see(replace(job, cause="a"))
    job = past.undone(replace(job, cause="a"))
    past.see(replace(job, place="plug"))
    assert past.to_redo is None


def test_a_removed_row_comes_back_on_the_page_and_on_the_disk(
    window: Window, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    window.open_sample()
    qtbot.waitUntil(lambda: window.desk.proof is not None, timeout=60_000)
    window.go_to(0)
    page, folder = window.job_page, window.desk.folder
    assert folder is not None
    page.parts.go_to(5)
    costs = folder.job.costs
    assert len(costs) == 2
    rows = page.parts.costs_form.rows
    rows._remove(rows._rows[0])
    assert len(JobFolder.open(folder.path).job.costs) == 1
    assert "costs" in page.undo_button.toolTip()
    page.undo_button.click()
    assert JobFolder.open(folder.path).job.costs == costs
    assert len(rows._rows) == 2
    page.redo_button.click()
    assert len(JobFolder.open(folder.path).job.costs) == 1
