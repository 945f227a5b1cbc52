"""A library on a stick that is full, read-only or pulled, and one of ten thousand entries."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from library_maker import fill, numbered_entry, small_capture
from pytest_benchmark.fixture import BenchmarkFixture

from loomlight.signal.entry import Entry
from loomlight.signal.errors import FileProblem
from loomlight.storage.library import Library
from loomlight.storage.library_import import arriving, take
from loomlight.storage.library_index import INDEX_NAME
from loomlight.storage.library_match import like
from loomlight.storage.library_search import Wanted
from loomlight.storage.library_verify import verify

KNOWN = Entry(id="", title="Flap LIN", kind="lin", channel="")
MANY = 10_000


@pytest.fixture
def stick(tmp_path: Path) -> Iterator[Path]:
    """A small disk of its own; needs the right to mount one."""
    if sys.platform != "linux" or os.geteuid() != 0 or shutil.which("mount") is None:
        pytest.skip("needs the right to mount a disk")
    place = tmp_path / "stick"
    place.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=400k", "tmpfs", str(place)], capture_output=True)
    if done.returncode:
        pytest.skip("no disk can be mounted here")
    yield place
    subprocess.run(["umount", "-l", str(place)], capture_output=True)


def test_a_full_stick_keeps_all_that_was_finished(stick: Path) -> None:
    library = Library(stick / "library")
    added: list[Entry] = []

    def fill_up() -> None:
        for number in range(100):
            added.append(library.add(small_capture(number, samples=20_000), "bus", KNOWN))

    with pytest.raises(FileProblem, match="disk is full"):
        fill_up()
    assert added
    with pytest.raises(FileProblem, match="disk is full"):
        library.edit(added[0], {"pin": "7"})
    assert set(Library(library.folder).all()) == set(added)
    assert verify(library).wrong == ()
    assert not [one.name for one in library.folder.iterdir() if one.name.endswith(".partial")]
    library.delete(added[0])  # moving needs no room
    assert added[0] not in library.all()


@pytest.mark.parametrize("with_index", [True, False])
def test_a_read_only_stick_is_read_and_said_to_be_so(stick: Path, tmp_path: Path, with_index: bool) -> None:
    library = Library(stick / "library")
    entry = library.add(small_capture(), "bus", KNOWN)
    if with_index:
        library.all()
    other = Library(tmp_path / "other")
    other.add(small_capture(1), "bus", replace(KNOWN, title="Other"))
    subprocess.run(["mount", "-o", "remount,ro", str(stick)], check=True)
    library = Library(library.folder)
    assert library.find("flap") == (entry,)
    assert library.search(Wanted("flpa")).total == 1
    library.open(entry)
    library.note_used(entry)
    assert library.recent() == ()
    assert like(library, small_capture().channels[0])[0].entry == entry
    with arriving(library, other.folder) as incoming:
        changes = (
            lambda: library.add(small_capture(), "bus", KNOWN),
            lambda: library.edit(entry, {"pin": "7"}),
            lambda: library.delete(entry),
            lambda: take(library, incoming),
        )
        for change in changes:
            with pytest.raises(FileProblem) as told:
                change()  # type: ignore[no-untyped-call]
            assert "\n" not in str(told.value)
    assert verify(library).wrong == ()


def test_a_stick_that_is_pulled_is_one_clear_line(stick: Path) -> None:
    library = Library(stick / "library")
    entry = library.add(small_capture(), "bus", KNOWN)
    opened = library.open(entry)
    assert library.all() == (entry,)
    subprocess.run(["umount", "-l", str(stick)], check=True)
    with pytest.raises(FileProblem, match="not there any more"):
        library.all()
    with pytest.raises(FileProblem, match="no such file"):
        library.open(entry)
    assert opened.channels[0].samples.block(0, 600).size == 600


# Ten thousand


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Library:
    folder = tmp_path_factory.mktemp("many") / "library"
    fill(folder, MANY)
    return Library(folder)


@pytest.mark.bench
def test_the_page_is_opened(benchmark: BenchmarkFixture, many: Library) -> None:
    many.all()
    look = benchmark(lambda: Library(many.folder).look(Wanted(with_damaged=True, limit=200)))
    assert look.found.total == MANY


@pytest.mark.bench
@pytest.mark.parametrize("words", ["flap coach", "crankshft", "haeting coachlign"])
def test_words_are_found(benchmark: BenchmarkFixture, many: Library, words: str) -> None:
    many.all()
    assert benchmark(lambda: many.look(Wanted(words, with_damaged=True, limit=200))).found.total > 100


@pytest.mark.bench
def test_the_index_is_made_anew(benchmark: BenchmarkFixture, many: Library) -> None:
    def without_index() -> None:
        (many.folder / INDEX_NAME).unlink(missing_ok=True)

    look = benchmark.pedantic(lambda: Library(many.folder).look(Wanted(limit=1)), setup=without_index, rounds=2)
    assert look.found.total == MANY


def test_the_maker_makes_what_the_library_reads(tmp_path: Path) -> None:
    fill(tmp_path, 25)
    library = Library(tmp_path)
    assert set(library.all()) == {numbered_entry(number) for number in range(25)}
    assert {one.state for one in verify(library).files} == {"sound"}
