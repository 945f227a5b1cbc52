"""The desk: what is chosen from what was opened, what belongs to a job, and which answer belongs to which channels."""

from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from loomlight.signal.errors import LoomlightError
from loomlight.signal.job import Note
from loomlight.signal.progress import unwatched
from loomlight.storage.capture_file import read_capture, read_entry
from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.ask import Ask
from loomlight.viewer.choice import Choice, Opened
from loomlight.viewer.desk import Desk
from loomlight.viewer.judging import judged, proven
from loomlight.viewer.opened_file import opened_file

NOTE = Note("blower LIN", 0.01, 5.0, "lets go here")


def put(desk: Desk, path: Path, stage: str = "other") -> Opened:
    opened = opened_file(desk.folder, path, unwatched, stage=stage)  # type: ignore[arg-type]
    desk.take_opened(opened)
    return opened


@pytest.fixture
def job(tmp_path: Path) -> JobFolder:
    return JobFolder.create(tmp_path / "job", title="Blower")


def test_first_capture_is_the_suspect_and_its_neighbour_the_known_good(desk: Desk, stick: Path) -> None:
    put(desk, stick / "before.csv")
    assert desk.chosen.suspect is not None
    assert desk.chosen.good is not None
    assert (desk.chosen.suspect.channel.name, desk.chosen.good.channel.name) == ("blower LIN", "flap LIN")
    assert desk.chosen.good.is_beside(desk.chosen.suspect)


def test_second_capture_changes_no_choice(desk: Desk, stick: Path) -> None:
    put(desk, stick / "before.csv")
    suspect = desk.chosen.suspect
    put(desk, stick / "after.csv")
    assert desk.chosen.suspect is suspect
    assert desk.chosen.after is None


def test_a_file_that_is_opened_again_replaces_its_first_reading(desk: Desk, stick: Path) -> None:
    put(desk, stick / "before.csv")
    again = put(desk, stick / "before.csv")
    assert desk.opened == [again]
    assert desk.chosen.suspect is not None
    assert desk.chosen.suspect.channel is again.capture.channels[0]


def test_with_a_job_the_copy_is_what_is_read(desk: Desk, stick: Path, job: JobFolder) -> None:
    desk.take_job(job)
    opened = put(desk, stick / "before.csv")
    (stick / "before.csv").unlink()  # the stick is pulled
    assert opened.path.is_relative_to(job.path)
    assert opened_file(job, opened.path, unwatched).capture.channels[0].samples.size > 1000
    assert [one.file for one in job.job.captures] == ["before.csv"]


def test_a_file_that_cannot_be_read_is_not_copied_into_the_job(desk: Desk, stick: Path, job: JobFolder) -> None:
    bad = stick / "bad.csv"
    bad.write_text("no waveform here\n")
    with pytest.raises(LoomlightError):
        opened_file(job, bad, unwatched)
    assert not job.job.captures
    assert not list((job.path / "captures").iterdir())


def test_stages_of_a_job_choose_the_channels(desk: Desk, stick: Path, job: JobFolder) -> None:
    desk.take_job(job)
    put(desk, stick / "after.csv", "after repair")
    put(desk, stick / "before.csv", "suspect")
    assert desk.chosen.suspect is not None
    assert desk.chosen.suspect.file == "before.csv"
    assert desk.chosen.after is not None
    assert desk.chosen.after.file == "after.csv"


def test_a_use_is_noted_in_the_job_but_not_for_the_channel_beside_the_suspect(
    desk: Desk, stick: Path, job: JobFolder
) -> None:
    desk.take_job(job)
    opened = put(desk, stick / "before.csv")
    suspect, beside = opened.choices()[:2]
    desk.note_stage(suspect, "suspect")
    desk.note_stage(beside, "good")
    assert [one.stage for one in job.job.captures] == ["suspect"]


def test_notes_stay_with_their_capture_with_and_without_a_job(desk: Desk, stick: Path, job: JobFolder) -> None:
    loose = put(desk, stick / "before.csv")
    desk.keep_notes(loose.path, (NOTE,))
    assert desk.notes_of(loose.path) == (NOTE,)
    assert desk.notes_of(stick / "after.csv") == ()
    desk.clear()
    desk.take_job(job)
    kept = put(desk, stick / "before.csv")
    assert desk.notes_of(kept.path) == ()
    desk.keep_notes(kept.path, (NOTE,))
    assert JobFolder.open(job.path).job.captures[0].notes == (NOTE,)


def test_without_a_job_there_is_nothing_to_save(desk: Desk, job: JobFolder) -> None:
    with pytest.raises(LoomlightError, match="No job is open"):
        desk.save_job(job.job)


def test_an_entry_brings_its_kind(desk: Desk, stick: Path) -> None:
    entry = read_entry(stick / "known_good.h5")
    assert entry is not None
    kept = desk.library.add(read_capture(stick / "known_good.h5"), entry.channel, entry)
    desk.chosen.ask = Ask(kind="own-limits", upper_v=1.0)
    choice = desk.entry_choice(kept)
    desk.use_entry(choice)
    desk.use_entry(choice)
    assert desk.chosen.good is choice
    assert desk.chosen.ask.kind == "lin"
    assert desk.entries == [choice]


def test_an_answer_knows_the_channels_that_it_is_about(desk: Desk, stick: Path) -> None:
    opened = put(desk, stick / "before.csv")
    suspect, good = opened.choices()[:2]
    desk.take_drawn(judged(suspect, good, Ask(), unwatched), suspect, good)
    assert not desk.is_comparison_old()
    desk.choose(suspect=good)
    assert desk.is_comparison_old()
    assert desk.drawn_from == (suspect, good)
    desk.choose(suspect=suspect)
    assert not desk.is_comparison_old()
    desk.chosen.ask = Ask(kind="own-limits", upper_v=14.0)
    assert desk.is_comparison_old()
    desk.chosen.ask = Ask()
    desk.without_good()
    assert desk.is_comparison_old()


def test_only_channels_of_one_file_share_their_moment(desk: Desk, stick: Path) -> None:
    before, after = put(desk, stick / "before.csv").choices(), put(desk, stick / "after.csv").choices()
    assert before[0].is_beside(before[1])
    assert not before[0].is_beside(after[1])
    entry = Choice(before[1].channel, "an id", "title", "lin")
    assert not entry.is_beside(entry)


def test_the_sample_repair_is_proven_and_clearing_takes_every_answer_off(desk: Desk, stick: Path, qtbot: QtBot) -> None:
    before, after = put(desk, stick / "before.csv").choices(), put(desk, stick / "after.csv").choices()
    found = proven(before[0], before[1], after[0], after[1], Ask(), unwatched)
    assert found.proof.before.verdict.state == "faulty"
    assert found.proof.state == "proven"
    desk.take_proof(found, before[0], after[0])
    with qtbot.waitSignals([desk.proved, desk.compared]):
        desk.clear()
    assert desk.proof is None
    assert desk.proof_from is None
    assert not desk.choices()
    assert not desk.is_proof_old()
