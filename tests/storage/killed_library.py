"""Works on a library until it is killed, many times; used by `test_library_killed`: ``killed_library.py FOLDER SEED TIMES``.

One warm process forks: each child adds, edits, deletes, brings back, imports and asks the index until it gets SIGKILL at a
random moment. The child tells what it begins and what it has finished; afterwards every finished entry has to stand there
as it was finished, and an index made anew has to say what the one that was left says.
"""

import json
import os
import random
import shutil
import signal
import sys
import time
from dataclasses import replace
from pathlib import Path

from library_maker import small_capture

from loomlight.signal.entry import Entry
from loomlight.storage.check_sum import soundness
from loomlight.storage.library import Library
from loomlight.storage.library_bin import binned
from loomlight.storage.library_import import arriving, take
from loomlight.storage.library_index import stamps_of

LONGEST_S = 0.2
KNOWN = Entry(id="", title="", kind="lin", channel="")


def work(folder: Path, other: Path, seed: int, tell: int) -> None:
    """The child: change after change, each told before and after."""
    rng, library, number = random.Random(seed), Library(folder), 0

    def told(what: str, **more: str) -> None:
        os.write(tell, (json.dumps({"what": what, **more}) + "\n").encode())

    while True:
        number += 1
        entries = library.all()
        choice = rng.choice(("add", "add", "edit", "edit", "capture", "delete", "restore", "import", "index"))
        title = f"made {seed} {number}"
        if choice == "add" or not entries:
            told("add", title=title)
            entry = library.add(small_capture(number), "bus", replace(KNOWN, title=title))
            told("done", id=entry.id, title=title)
        elif choice in ("edit", "capture"):
            entry = rng.choice(entries)
            told("edit", id=entry.id, title=title)
            if choice == "edit":
                library.edit(entry, {"title": title})
                told("done", id=entry.id, title=title)
            else:
                library.add_capture(entry, small_capture(number), "bus")
                told("done", id=entry.id, title=entry.title)
        elif choice == "delete":
            entry = rng.choice(entries)
            told("delete", id=entry.id)
            library.delete(entry)
            told("deleted", id=entry.id)
        elif choice == "restore" and library.binned():
            one = library.binned()[0]
            told("restore", id=one.stem)
            library.restore(one)
        elif choice == "import":
            with arriving(library, other) as incoming:
                chosen = tuple(rng.sample(incoming, 2))
                for one in chosen:
                    told("import", id=one.id)
                    take(library, (one,), different="take")
                    told("imported", id=one.id)
        elif choice == "index":
            library.make_index_anew()
            library.all()


def killed(folder: Path, other: Path, seed: int) -> list[dict[str, str]]:
    """Fork a child, kill it at a random moment; what it had told by then."""
    here, there = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(here)
        try:
            work(folder, other, seed, there)
        finally:
            os._exit(3)  # it should never have come to an end by itself
    os.close(there)
    time.sleep(random.Random(seed + 10**6).uniform(0.0, LONGEST_S))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    with os.fdopen(here, "rb") as told:
        lines = told.read().decode().splitlines()
    assert os.WIFSIGNALED(status), f"seed {seed}: the child ended by itself with {status} after {lines[-3:]}"
    return [json.loads(line) for line in lines]


def check(folder: Path, told: list[dict[str, str]], before: dict[str, str], seed: int) -> dict[str, str]:
    """Hold what stands there against what was told; gives titles by id."""
    expected: dict[str, set[str | None]] = {one: {title} for one, title in before.items()}
    for one in told:
        key = one.get("id", "")
        if one["what"] == "done":
            expected[key] = {one["title"]}
        elif one["what"] == "edit" and key in expected:
            expected[key].add(one["title"])
        elif one["what"] == "delete" and key in expected:
            expected[key].add(None)
        elif one["what"] == "deleted":
            expected[key] = {None}
        elif one["what"] in ("restore", "import", "imported"):
            # There again, under either name: only that it is sound is asked, until a change is done.
            expected.pop(key, None)
    library = Library(folder)
    files = stamps_of(folder)
    for file in files:
        assert soundness(folder / file) == "sound", f"seed {seed}: {file} is not sound"
    for one in binned(folder):
        assert one.entry is not None, f"seed {seed}: {one.path.name} in the bin is not readable"
        assert soundness(one.path) == "sound", f"seed {seed}: {one.path.name} in the bin is not sound"
    entries = {one.id: one for one in library.all()}
    assert library.problems == (), f"seed {seed}: {library.problems}"
    assert len(entries) == len(files)
    for key, titles in expected.items():
        title = entries[key].title if key in entries else None
        assert title in titles, f"seed {seed}: {key} is {title!r}, not one of {titles}"
    for entry in entries.values():
        assert len(library.captures(entry)) == 1 + len(entry.more)
    as_left = library.all()
    library.make_index_anew()
    assert library.all() == as_left, f"seed {seed}: an index made anew says something else"
    return {one.id: one.title for one in as_left}


def main() -> None:
    """Kill and check as often as was asked."""
    folder, seed, times = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
    other = folder.parent / "other"
    source = Library(other)
    for number in range(6):
        source.add(small_capture(number), "bus", replace(KNOWN, title=f"other {number}"))
    known: dict[str, str] = {}
    finished = 0
    for number in range(times):
        told = killed(folder, other, seed + number)
        finished += sum(one["what"] in ("done", "deleted", "imported") for one in told)
        if number % 2 == 0:
            Library(folder).all() if folder.exists() else None  # every second time the next child finds an old index
        known = check(folder, told, known, seed + number) if folder.exists() else {}
        if len(known) > 25:
            shutil.rmtree(folder)
            known = {}
    print(json.dumps({"killed": times, "finished": finished}))


if __name__ == "__main__":
    main()
