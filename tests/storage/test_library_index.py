"""The library's index is only a cache: spoilt, locked or gone, the files tell the same."""

import os
import sqlite3
import time
from dataclasses import replace
from pathlib import Path

import pytest
from library_maker import capture_with_gaps, titled
from pytest_benchmark.fixture import BenchmarkFixture

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.entry import Entry
from loomlight.signal.samples import FloatSamples
from loomlight.storage.capture_file import read_capture, read_entry, write_capture
from loomlight.storage.library import Library
from loomlight.storage.library_index import INDEX_NAME


def ways_to_harm(index: Path) -> dict[str, object]:
    def of_another_make() -> None:
        index.unlink()
        with sqlite3.connect(index) as connection:
            connection.execute("CREATE TABLE entries (something TEXT)")
        connection.close()

    def with_other_fields() -> None:
        with sqlite3.connect(index) as connection:
            connection.execute('UPDATE entries SET entry = \'{"id": "x", "title": "wrong"}\'')
        connection.close()

    def with_other_types() -> None:
        with sqlite3.connect(index) as connection:
            connection.execute("UPDATE entries SET entry = '[1]', stamp = 5")
        connection.close()

    def torn() -> None:
        content = bytearray(index.read_bytes())
        content[100:] = os.urandom(len(content) - 100)
        index.write_bytes(content)

    return {
        "deleted": index.unlink,
        "no database": lambda: index.write_bytes(b"this is no database" * 100),
        "empty": lambda: index.write_bytes(b""),
        "cut short": lambda: index.write_bytes(index.read_bytes()[:1000]),
        "torn": torn,
        "of another make": of_another_make,
        "with other fields": with_other_fields,
        "with other types": with_other_types,
    }


@pytest.mark.parametrize("harm", list(ways_to_harm(Path())))
def test_a_spoilt_index_is_made_anew(library: Library, harm: str) -> None:
    before = library.all()
    index = library.folder / INDEX_NAME
    ways_to_harm(index)[harm]()  # type: ignore[operator]
    assert Library(library.folder).all() == before
    with sqlite3.connect(index) as connection:
        rows = connection.execute("SELECT file FROM entries ORDER BY file").fetchall()
    connection.close()
    assert [name for (name,) in rows] == sorted(f"{one.id}.h5" for one in before)


def test_an_index_that_cannot_be_used_is_done_without(library: Library) -> None:
    before = library.all()
    index = library.folder / INDEX_NAME
    index.unlink()
    index.mkdir()
    assert Library(library.folder).all() == before
    added = library.add(capture_with_gaps(), "bus", titled("New"))
    assert library.find("new") == (added,)


def test_a_locked_index_holds_nobody_up(library: Library) -> None:
    before = library.all()
    other = sqlite3.connect(library.folder / INDEX_NAME, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    try:
        added = library.add(capture_with_gaps(), "bus", titled("New"))
        assert set(library.all()) == {added, *before}
    finally:
        other.execute("ROLLBACK")
        other.close()
    assert set(library.all()) == {added, *before}


def test_the_index_tells_the_same_as_the_files(library: Library) -> None:
    library.all()
    from_index = library.all()
    (library.folder / INDEX_NAME).unlink()
    assert library.all() == from_index
    assert set(from_index) == {read_entry(path) for path in library.folder.glob("*.h5")}


def test_files_are_not_read_again_while_they_stay_the_same(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    before = library.all()

    def refuse(path: Path) -> Entry:
        raise AssertionError(f"{path} was read again")

    monkeypatch.setattr("loomlight.storage.library_files.read_entry", refuse)
    assert Library(library.folder).all() == before


def read_capture_copy(path: Path) -> Capture:
    """A capture whose samples no longer stand in ``path``."""
    found = read_capture(path)
    channels = tuple(
        replace(one, samples=FloatSamples(one.samples.block(0, one.samples.size))) for one in found.channels
    )
    return replace(found, channels=channels)


def test_a_deleted_file_is_gone_and_a_changed_one_read_again(library: Library) -> None:
    rail, other = library.resolve("Rail"), library.resolve("Crème Geber")
    (library.folder / f"{rail.id}.h5").unlink()
    path = library.folder / f"{other.id}.h5"
    changed = replace(other, title="Another title")
    write_capture(path, read_capture_copy(path), entry=changed)
    os.utime(path, ns=(time.time_ns(), time.time_ns()))
    titles = {one.title for one in library.all()}
    assert titles == {"Another title", "Heater LIN at the flap motor"}


@pytest.fixture
def thousand(tmp_path: Path) -> Library:
    library = Library(tmp_path)
    short = Capture("a.csv", "made", (Channel("bus", "V", FloatSamples([0.0, 1.0]), 0.0, 1.0),))
    for number in range(1000):
        library.add(short, "bus", titled(f"Waveform {number}", vehicle=f"Coachling {number % 7}"))
    library.all()
    return library


@pytest.mark.bench
def test_a_thousand_entries_are_searched(benchmark: BenchmarkFixture, thousand: Library) -> None:
    assert len(benchmark(thousand.find, "wave coach 3")) > 1


@pytest.mark.bench
def test_a_thousand_entries_are_indexed_anew(benchmark: BenchmarkFixture, thousand: Library) -> None:
    def without_index() -> None:
        (thousand.folder / INDEX_NAME).unlink(missing_ok=True)

    found = benchmark.pedantic(thousand.all, setup=without_index, rounds=3)
    assert len(found) == 1000
