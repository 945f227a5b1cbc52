"""What an entry holds, several captures of it, edits that can be taken back, and damage that is seen."""

import json
from dataclasses import fields, replace
from pathlib import Path

import h5py
import numpy as np
import pytest
from library_maker import small_capture

from loomlight.signal.capture import Capture
from loomlight.signal.entry import EDITABLE, PRIVATE, Entry, FurtherCapture, differing, edited, undone, without_private
from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.storage.capture_file import read_capture, read_entry, write_capture
from loomlight.storage.check_sum import MARK, soundness
from loomlight.storage.entry_json import entry_from_json, entry_to_json
from loomlight.storage.library import Library
from loomlight.storage.library_files import CHECKED_AT_ONCE
from loomlight.storage.library_search import Wanted

KNOWN = Entry(id="", title="Flap LIN", kind="lin", channel="", conditions=("idle", "engine warm"), probe_factor=10.0)


def values(capture: Capture) -> np.ndarray:
    (channel,) = capture.channels
    return channel.samples.block(0, channel.samples.size)


@pytest.fixture
def library(tmp_path: Path) -> Library:
    return Library(tmp_path / "library")


def full_entry() -> Entry:
    texts = {one: f"the {one}" for one in EDITABLE if one not in ("conditions", "tags", "probe_factor")}
    entry = Entry(id="x", channel="bus", added="2026-03-02T10:15:00+00:00", source_name="a.csv", **texts)
    entry = replace(entry, conditions=("idle",), tags=("a", "b"), probe_factor=10.0, simulated=True)
    entry = replace(entry, more=(FurtherCapture("bus", "2026", "b.csv", "cold", confirmed=True),))
    return undone(edited(edited(entry, {"pin": "8"}, at="1"), {"tags": ("c",), "probe_factor": None}, at="2"), at="3")


def test_every_field_survives_the_file(tmp_path: Path) -> None:
    entry = full_entry()
    assert all(getattr(entry, one.name) != one.default for one in fields(Entry))
    write_capture(tmp_path / "x.h5", small_capture(), entry=entry, more=(small_capture(1),))
    assert read_entry(tmp_path / "x.h5") == entry
    assert entry_from_json(entry_to_json(entry), exactly=True) == entry


@pytest.mark.parametrize(
    "text",
    ["", "[]", "1", '"x"', "[" * 100_000, '{"title": "x"', "{} {}"],
)
def test_what_is_no_entry_is_refused(text: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 (of any wording)
        entry_from_json(text)


def test_fields_of_the_wrong_kind_are_empty() -> None:
    odd = {"title": 5, "conditions": "idle", "tags": {"a": 1}, "probe_factor": "ten", "more": [1], "history": "x"}
    entry = entry_from_json(json.dumps(odd))
    assert (entry.title, entry.conditions, entry.tags, entry.probe_factor) == ("5", ("idle",), (), None)
    assert (entry.more, entry.history) == ((), ())
    with pytest.raises(ValueError, match="no entry"):
        entry_from_json(json.dumps(odd), exactly=True)


def test_an_entry_of_the_first_version_is_read_as_before(library: Library) -> None:
    library.folder.mkdir()
    old = {"id": "old", "title": "Rail", "kind": "lin", "channel": "bus", "vehicle": "Coachling 9-seat, 2019"}
    path = library.folder / "old.h5"
    write_capture(path, small_capture())
    with h5py.File(path, "r+") as file:
        file.attrs["entry"] = json.dumps(old)
    (entry,) = library.find("coachling 2019")
    assert (entry.vehicle_text, entry.pin, entry.history) == ("Coachling 9-seat, 2019", "", ())
    assert soundness(path) == "unmarked"
    library.edit(entry, {"pin": "7"})
    assert soundness(path) == "sound"


# Several captures


def test_further_captures_lie_in_the_same_file(library: Library) -> None:
    entry = library.add(small_capture(), "bus", KNOWN)
    entry = library.add_capture(entry, replace(small_capture(1), source_name="second.csv"), "#1", note="colder")
    entry = library.add_capture(entry, small_capture(2, samples=50), "bus")
    assert [(one.source_name, one.note, one.confirmed) for one in entry.more] == [
        ("second.csv", "colder", False),
        ("made.csv", "", False),
    ]
    entry = library.confirm(entry, 1)
    assert [one.confirmed for one in entry.more] == [False, True]
    assert library.all() == (entry,)
    for seed, capture in enumerate(library.captures(entry)):
        np.testing.assert_array_equal(values(capture), values(small_capture(seed, samples=50 if seed == 2 else 600)))
    assert len(list(library.folder.glob("*.h5"))) == 1
    np.testing.assert_array_equal(values(read_capture(library.path_of(entry))), values(small_capture()))


def test_a_file_too_long_for_memory_is_written_anew_all_the_same(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("loomlight.storage.library_files.IN_MEMORY_BELOW", 0)
    entry = library.add_capture(library.add(small_capture(), "bus", KNOWN), small_capture(1), "bus")
    np.testing.assert_array_equal(values(library.captures(entry)[1]), values(small_capture(1)))


# Edits


def test_edits_are_kept_and_taken_back_one_by_one(library: Library) -> None:
    entry = library.add(small_capture(), "bus", KNOWN)
    first = library.edit(entry, {"title": "  Flap  motor LIN ", "tags": ("heater",)})
    second = library.edit(first, {"title": "Wrong", "probe_factor": None})
    assert library.edit(second, {"title": "Wrong"}) == second
    assert [len(one.changes) for one in second.history] == [2, 2]
    back = library.undo(second)
    assert (back.title, back.probe_factor, back.tags) == ("Flap motor LIN", 10.0, ("heater",))
    first_again = library.undo(back)
    assert (first_again.title, first_again.tags) == ("Flap LIN", ())
    assert all(one.undone for one in first_again.history)
    with pytest.raises(LoomlightError, match="nothing to take back"):
        library.undo(first_again)
    assert library.all() == (first_again,)
    with pytest.raises(LoomlightError, match="title"):
        library.edit(entry, {"title": " "})
    with pytest.raises(ValueError, match="added"):
        library.edit(entry, {"added": "2020"})


def test_two_programs_edit_different_fields(library: Library) -> None:
    entry = library.add(small_capture(), "bus", KNOWN)
    other = Library(library.folder)
    library.edit(entry, {"pin": "7"})
    both = other.edit(entry, {"connector": "C3"})
    assert (both.pin, both.connector) == ("7", "C3")
    assert library.find("c3") == (both,)


def test_an_edit_of_the_same_length_in_the_same_moment_is_seen(
    library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = library.add(small_capture(), "bus", replace(KNOWN, pin="7"))
    for pin in "89":
        entry = library.edit(entry, {"pin": pin})
        assert library.all()[0].pin == pin


# Damage


def harmed(path: Path, place: int) -> None:
    content = bytearray(path.read_bytes())
    content[place % len(content)] ^= 0x10
    path.write_bytes(content)


@pytest.mark.parametrize("seed", range(20))
def test_one_flipped_bit_anywhere_is_damage_and_the_rest_works(library: Library, seed: int) -> None:
    sound = library.add(small_capture(), "bus", replace(KNOWN, title="Sound"))
    entry = library.add(small_capture(), "bus", KNOWN)
    path = library.path_of(entry)
    library.all()
    harmed(path, int(np.random.default_rng(seed).integers(path.stat().st_size)))
    assert library.all() == (sound,)
    assert len(library.problems) == 1
    (damaged,) = [one for one in library.files() if one.problem]
    assert damaged.entry.title == "Flap LIN"  # what was known is still told
    with pytest.raises(FileProblem, match="damaged"):
        library.open(entry)
    with pytest.raises(FileProblem, match="damaged"):
        library.edit(entry, {"pin": "7"})


def test_a_hit_mark_is_damage_too(library: Library) -> None:
    entry = library.add(small_capture(), "bus", KNOWN)
    path = library.path_of(entry)
    harmed(path, path.read_bytes().index(MARK) + 3)
    assert library.all() == ()
    assert "damaged" in library.problems[0]


def test_damage_in_a_long_file_is_seen_when_it_is_opened(library: Library) -> None:
    entry = library.add(small_capture(samples=CHECKED_AT_ONCE), "bus", KNOWN)
    path = library.path_of(entry)
    assert library.all() == (entry,)
    library.open(entry)
    (listed,) = library.files()
    assert listed.checked
    harmed(path, path.stat().st_size // 2)
    with pytest.raises(FileProblem, match="check sum"):
        library.open(entry)


def test_a_check_sum_that_moves_in_the_file_is_found(tmp_path: Path) -> None:
    long = replace(KNOWN, note="x" * 70_000, history=())
    write_capture(tmp_path / "x.h5", small_capture(), entry=long)
    assert soundness(tmp_path / "x.h5") == "sound"
    assert read_entry(tmp_path / "x.h5") == long


# What is shared, and what differs


def test_nothing_personal_is_left_in_what_is_shared() -> None:
    entry = replace(full_entry(), owner="Somebody", vin="11111111111111111")
    shared = without_private(entry)
    assert all(getattr(shared, name) == "" for name in PRIVATE)
    assert "b.csv" not in entry_to_json(shared)
    assert shared.history == ()
    assert differing(entry, shared) == ()
    assert differing(entry, replace(shared, pin="9", vin="2")) == ("pin", "vin")


# Searching


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        ("haeter", "heater"),
        ("heter", "heater"),
        ("haete", "heater"),  # as far as it was typed
        ("Coachlign", "coachling"),
        ("flpa", "flap"),
        ("crancshaft", "crankshaft"),
    ],
)
def test_slips_of_spelling_are_forgiven(library: Library, words: str, meant: str) -> None:
    library.add(small_capture(), "bus", replace(KNOWN, title="Heater flap", make="Coachling", tags=("crankshaft",)))
    library.add(small_capture(), "bus", replace(KNOWN, title="Rail"))
    found = library.search(Wanted(words))
    assert [one.entry.title for one in found.listed] == ["Heater flap"]
    ((_, instead),) = found.meant
    assert meant in instead


@pytest.mark.parametrize("words", ["pim", "haxtyr", "brake", "heater brake"])
def test_other_words_are_no_slips(library: Library, words: str) -> None:
    library.add(small_capture(), "bus", replace(KNOWN, title="Heater pin"))
    assert library.search(Wanted(words)).total == 0


def test_filters_and_limit(library: Library) -> None:
    for number in range(4):
        known = replace(
            KNOWN, make=("Coachling", "coachling", "Vanlet")[number % 3], system=("heating", "")[number % 2]
        )
        library.add(small_capture(), "bus", replace(known, title=f"Rail {number}"))
    assert library.values("vehicle") == ("Coachling", "Vanlet")
    assert library.values("system") == ("heating",)
    assert library.search(Wanted(vehicle="COACHLING")).total == 3
    assert library.search(Wanted(vehicle="Vanlet", system="heating")).total == 1
    assert library.search(Wanted(vehicle="Roadwren")).total == 0
    two = library.search(Wanted("rail", limit=2))
    assert (len(two.listed), two.total) == (2, 4)


def test_what_was_used_last_comes_first(library: Library) -> None:
    entries = [library.add(small_capture(), "bus", replace(KNOWN, title=str(number))) for number in range(3)]
    for entry in (*entries, entries[0]):
        library.note_used(entry)
    assert [one.entry.title for one in library.recent()] == ["0", "2", "1"]
    library.delete(entries[2])
    assert [one.entry.title for one in library.recent()] == ["0", "1"]
    (library.folder / "recent.json").write_text("[1, {")
    assert library.recent() == ()
