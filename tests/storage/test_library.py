"""The known-good library: found by words, merged by copying, its index only a cache."""

import shutil
from dataclasses import replace
from pathlib import Path
from uuid import UUID

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from library_maker import capture_with_gaps, titled

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.errors import FileProblem, LoomlightError, NoSuchChannel
from loomlight.signal.samples import CountSamples
from loomlight.storage.capture_file import read_entry, write_capture
from loomlight.storage.csv_reader import read_text
from loomlight.storage.library import Library
from loomlight.storage.library_files import NoSuchEntry

FIELDS = ("vehicle", "system", "component", "connector", "pin", "note")


# Adding


def test_an_entry_comes_back_with_all_that_was_said(tmp_path: Path) -> None:
    library = Library(tmp_path / "new" / "place")
    known = titled("  Heater \n LIN ", **{field: f"the {field}" for field in FIELDS})
    added = library.add(capture_with_gaps(), "BUS", known)
    assert (added.title, added.channel, added.source_name) == ("Heater LIN", "bus", "file.csv")
    assert str(UUID(added.id)) == added.id
    assert Library(library.folder).all() == (added,)
    assert read_entry(library.folder / f"{added.id}.h5") == added


def test_the_samples_come_back_as_they_were(tmp_path: Path) -> None:
    counts = CountSamples(np.array([-32768, 0, 5, 32767], dtype=np.int16), scale=0.01, offset=1.0)
    channel = Channel("bus", "V", counts, -0.5, 2e-6, clipped=((0, 1),), history=("read from a.csv",))
    library = Library(tmp_path)
    opened = library.open(library.add(Capture("a.csv", "made", (channel,)), "bus", titled("x")))
    (kept,) = opened.channels
    assert (kept.unit, kept.start_s, kept.step_s, kept.clipped) == ("V", -0.5, 2e-6, ((0, 1),))
    np.testing.assert_array_equal(kept.samples.block(0, 4), counts.block(0, 4))


def test_only_the_one_channel_is_kept(library: Library) -> None:
    opened = library.open(library.resolve("Rail"))
    assert [channel.name for channel in opened.channels] == ["bus"]


def test_notes_on_the_other_channels_and_clock_times_stay_behind(tmp_path: Path) -> None:
    notes = (
        "Step 1 ms from the span.",
        "other: the file gives no unit.",
        "other is in mV in the file.",
        "bus is in mV.",
    )
    library = Library(tmp_path)
    added = library.add(capture_with_gaps(notes=notes), "bus", titled("x"))
    assert library.open(added).notes == ("Step 1 ms from the span.", "bus is in mV.")


def test_no_serial_number_or_clock_of_a_file_gets_into_the_library(tmp_path: Path) -> None:
    source = tmp_path / "stick.csv"
    rows = [f"{1750000000 + row / 1000:.3f},{row % 13}.5" for row in range(300)]
    source.write_text("\n".join(["Serial number,SN-778899", "Owner,Somebody", "Time,A", "(s),(V)", *rows]) + "\n")
    read = read_text(source)
    assert any("1750000000" in note for note in read.notes)
    library = Library(tmp_path / "library")
    added = library.add(read, "A", titled("x"))
    content = (library.folder / f"{added.id}.h5").read_bytes()
    for told in (b"SN-778899", b"Somebody", b"1750000000"):
        assert told not in content
    assert any("counted from the first stamp" in note for note in library.open(added).notes)


@pytest.mark.parametrize("title", ["", "  ", "\n\t"])
def test_an_entry_needs_a_title(library: Library, title: str) -> None:
    with pytest.raises(LoomlightError, match="title"):
        library.add(capture_with_gaps(), "bus", titled(title))
    assert len(library.all()) == 3


def test_a_channel_that_is_not_there_is_told(library: Library) -> None:
    with pytest.raises(NoSuchChannel, match="#1 bus"):
        library.add(capture_with_gaps(), "nothing", titled("x"))


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(FileProblem, match="library's folder cannot be made"):
        Library(tmp_path / "file" / "library").add(capture_with_gaps(), "bus", titled("x"))
    with pytest.raises(FileProblem, match="cannot be read"):
        Library(tmp_path / "file").all()
    with pytest.raises(FileProblem, match="cannot be read"):
        Library(tmp_path / ("x" * 300)).all()


def test_looking_into_a_library_that_is_not_there_makes_none(tmp_path: Path) -> None:
    library = Library(tmp_path / "none")
    assert library.find("x") == ()
    assert not library.folder.exists()


# Finding


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("", {"Heater LIN at the flap motor", "Crème Geber", "Rail"}),
        ("flap coach", {"Heater LIN at the flap motor"}),
        ("COACH f", {"Heater LIN at the flap motor"}),
        ("CREME", {"Crème Geber"}),
        ("crème", {"Crème Geber"}),
        ("pin 7", {"Crème Geber"}),
        ("lin-b", {"Heater LIN at the flap motor", "Crème Geber"}),
        ("lin bus", {"Heater LIN at the flap motor", "Crème Geber"}),
        ("c12-4", {"Crème Geber"}),
        ("flapmotor", set()),
        ("ailway", set()),
        ("own-l", {"Rail"}),
        ("flap geber", set()),
        (".*", set()),
        ("nothing", set()),
    ],
)
def test_every_word_has_to_begin_a_word(library: Library, words: str, wanted: set[str]) -> None:
    assert {one.title for one in library.find(words)} == wanted


def test_an_id_is_no_word_until_it_is_long(tmp_path: Path) -> None:
    made = replace(titled("Rail"), id="deadbeef-0000-4000-8000-000000000000", channel="bus")
    write_capture(tmp_path / f"{made.id}.h5", capture_with_gaps(), entry=made)
    library = Library(tmp_path)
    assert library.find("d") == library.find("deadbee") == ()
    assert library.find("deadbeef") == library.find("rail deadbeef-00") == (made,)


def test_kinds_filter(library: Library) -> None:
    assert [one.title for one in library.find(kind="own-limits")] == ["Rail"]
    assert library.find("coach", kind="own-limits") == ()


def test_newest_first_over_time_zones(tmp_path: Path) -> None:
    library = Library(tmp_path)
    # 02:30 summer time is the earlier of the two; a text comparison would say the other way round.
    stamps = {"old": "2026-10-25T02:30:00+02:00", "new": "2026-10-25T02:10:00+01:00", "undated": "some day"}
    for number, (title, added) in enumerate(stamps.items()):
        made = replace(titled(title), id=f"{number:08x}", channel="bus", added=added)
        write_capture(tmp_path / f"{made.id}.h5", capture_with_gaps(), entry=made)
    assert [one.title for one in library.all()] == ["new", "old", "undated"]


WORDS = st.text(st.characters(categories=("Lu", "Ll", "Nd")), min_size=1, max_size=8)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(title=st.lists(WORDS, min_size=1, max_size=4), vehicle=WORDS, cut=st.integers(1, 8))
def test_whatever_was_typed_is_found_by_its_beginnings(
    tmp_path_factory: pytest.TempPathFactory, title: list[str], vehicle: str, cut: int
) -> None:
    library = Library(tmp_path_factory.mktemp("library"))
    added = library.add(capture_with_gaps(), "bus", titled(" ".join(title), vehicle=vehicle))
    assert library.find(" ".join(word[:cut] for word in (vehicle, *title))) == (added,)
    assert library.find(" ".join(word.upper() for word in title)) == (added,)
    assert library.resolve(added.title) == added


# By name


def test_entries_go_by_id_its_begin_and_exact_title(library: Library) -> None:
    one = library.resolve("Rail")
    assert library.resolve(one.id) == library.resolve(one.id[:8]) == library.resolve(one.id.upper()) == one
    with pytest.raises(NoSuchEntry, match="no entry"):
        library.resolve(one.id[:7])
    with pytest.raises(NoSuchEntry, match="no entry 'rail'"):
        library.resolve("rail")


def test_a_title_on_two_entries_needs_an_id(library: Library) -> None:
    first = library.resolve("Rail")
    second = library.add(capture_with_gaps(), "bus", titled("Rail"))
    with pytest.raises(NoSuchEntry, match="2 entries") as told:
        library.resolve("Rail")
    assert first.id in str(told.value)
    assert second.id in str(told.value)
    assert library.resolve(second.id) == second


def test_an_empty_library_says_so(tmp_path: Path) -> None:
    with pytest.raises(NoSuchEntry, match="is empty"):
        Library(tmp_path / "none").resolve("x")


# Files from elsewhere


def test_libraries_merge_by_copying_files(library: Library, tmp_path: Path) -> None:
    other = Library(tmp_path / "other")
    added = other.add(capture_with_gaps(), "bus", titled("From the other laptop, größer"))
    library.all()
    shutil.copy(other.folder / f"{added.id}.h5", library.folder)
    assert library.resolve("From the other laptop, größer") == added
    assert library.find("GROSSER") == (added,)
    assert len(library.all()) == 4


def test_a_copy_under_another_name_goes_by_that_name(library: Library) -> None:
    rail = library.resolve("Rail")
    shutil.copy(library.folder / f"{rail.id}.h5", library.folder / "copy of it.H5")
    copy = library.resolve("copy of it")
    assert copy == replace(rail, id="copy of it")
    assert library.open(copy).channels[0].name == "bus"


def test_what_is_no_entry_is_told_and_not_fatal(library: Library) -> None:
    (library.folder / "broken.h5").write_bytes(b"\x89HDF\r\n\x1a\n nonsense")
    (library.folder / "folder.h5").mkdir()
    (library.folder / "._resource.h5").write_bytes(b"left by another system")
    write_capture(library.folder / "plain.h5", capture_with_gaps())
    for _ in (1, 2):
        assert len(library.all()) == 3
        told = sorted(problem.split(":")[0] for problem in library.problems)
        assert told == ["broken.h5", "folder.h5", "plain.h5"]
    for name in ("broken.h5", "plain.h5"):
        (library.folder / name).unlink()
    (library.folder / "folder.h5").rmdir()
    library.all()
    assert library.problems == ()


def test_deleting_loses_nothing(library: Library) -> None:
    rail = library.resolve("Rail")
    source = library.folder / f"{rail.id}.h5"
    content = source.read_bytes()
    first = library.delete(rail)
    assert rail not in library.all()
    source.write_bytes(content)
    second = library.delete(rail)
    assert first.path != second.path
    assert first.path.read_bytes() == second.path.read_bytes() == content
    assert {one.entry for one in library.binned()} == {rail}
    with pytest.raises(FileProblem, match="cannot be deleted"):
        library.delete(rail)
    library.restore(first)
    assert library.resolve("Rail") == rail
    library.restore(second)
    assert [one.copy_of for one in library.files() if one.entry.title == "Rail"].count(rail.id) == 1


def test_an_entry_whose_file_is_gone_is_told(library: Library) -> None:
    rail = library.resolve("Rail")
    (library.folder / f"{rail.id}.h5").unlink()
    with pytest.raises(FileProblem, match="no such file"):
        library.open(rail)
