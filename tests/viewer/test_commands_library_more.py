"""``library``: all that can be known about an entry, edits, the bin, matching, sharing, verifying, the starter set."""

import json
from pathlib import Path
from typing import Any

import pytest

from loomlight.storage.library import Library
from loomlight.viewer.command_line import main


class Asked:
    """Runs ``library`` commands on one folder."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self._capsys = folder, capsys

    def text(self, *words: str, status: int = 0) -> str:
        assert main(["library", *words, "--library", str(self.folder)]) == status
        out, err = self._capsys.readouterr()
        assert "Traceback" not in err
        return str(err if status == 2 else out)

    def answer(self, *words: str, status: int = 0) -> Any:
        return json.loads(self.text(*words, "--json", status=status))


@pytest.fixture
def asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Asked:
    return Asked(tmp_path / "library", capsys)


@pytest.fixture
def flap(asked: Asked, stick: Path) -> str:
    more = ["--make", "Coachling", "--model", "9 seat", "--year", "2019", "--condition", "idle", "--condition", "load"]
    more += ["--probe-factor", "x10", "--tag", "heater", "--vin", "ZZZ00000000123456", "--judged-by", "A. Technician"]
    wanted = ["--channel", "flap LIN", "--kind", "lin", "--title", "Flap LIN", *more]
    return asked.text("add", str(stick / "after.csv"), *wanted).strip()


def test_all_fields_go_in_and_come_out(asked: Asked, flap: str) -> None:
    (entry,) = asked.answer("show", flap)["entries"]
    assert entry["vehicle"] == "Coachling 9 seat 2019"
    assert (entry["conditions"], entry["probe_factor"], entry["tags"]) == (["idle", "load"], 10.0, ["heater"])
    told = asked.text("show", "Flap LIN")
    for text in ("Coachling", "idle, load", "×10", "ZZZ00000000123456", "after.csv"):
        assert text in told
    assert asked.answer("find", "--vehicle", "coachling 9 SEAT 2019")["entries"][0]["id"] == flap
    assert asked.answer("find", "--system", "brakes", status=1) == {"entries": []}


def test_an_edit_is_made_and_taken_back(asked: Asked, flap: str) -> None:
    assert "Pin: – → 7" in asked.text("edit", flap, "--pin", "7", "--tag", "")
    (entry,) = asked.answer("show", flap)["entries"]
    assert (entry["pin"], entry["tags"]) == ("7", [])
    assert "nothing was changed" in asked.text("edit", flap, "--pin", "7")
    assert "taken back" in asked.text("edit", flap, "--undo")
    assert asked.answer("show", flap)["entries"][0]["tags"] == ["heater"]
    assert "nothing to take back" in asked.text("edit", flap, "--undo", status=2)
    assert "Say what" in asked.text("edit", flap, status=2)
    assert "alone" in asked.text("edit", flap, "--undo", "--pin", "7", status=2)
    assert "probe factor" in asked.text("edit", flap, "--probe-factor", "ten", status=2)
    assert "no signal kind" in asked.text("edit", flap, "--kind", "nonsense", status=2)


def test_further_captures_are_kept_and_confirmed(asked: Asked, flap: str, stick: Path) -> None:
    asked.text("add-capture", flap, str(stick / "before.csv"), "--channel", "flap LIN", "--note", "colder")
    assert asked.answer("show", flap)["entries"][0]["captures"] == 2
    assert "2 of 2" in asked.text("confirm", flap, "2")
    assert "1 of 2" in asked.text("confirm", flap, "2", "--take-back")
    for number in ("1", "3", "-1"):
        assert "2 captures" in asked.text("confirm", flap, number, status=2) or number == "-1"


def test_misspelt_words_find_and_say_so(asked: Asked, flap: str) -> None:
    told = asked.text("find", "coachlign")
    assert "Nothing holds “coachlign”; shown is coachling." in told
    assert asked.answer("find", "haeter")["meant"] == {"haeter": ["heater"]}


def test_deleted_entries_come_back(asked: Asked, flap: str) -> None:
    assert "30 days" in asked.text("delete", "Flap LIN")
    asked.text("show", flap, status=2)
    (binned,) = asked.answer("bin")["entries"]
    assert (binned["id"], binned["title"], binned["days_left"]) == (flap, "Flap LIN", 30)
    assert "holds no entry" in asked.text("restore", "other", status=2)
    assert "back in the library" in asked.text("restore", flap[:8])
    assert asked.text("bin") == "The bin is empty.\n"
    assert asked.answer("show", flap)["entries"][0]["title"] == "Flap LIN"


def test_what_is_alike_is_found(asked: Asked, flap: str, stick: Path) -> None:
    asked.text("add-starter")
    found = asked.answer("match", str(stick / "known_good.h5"), "--channel", "#1")["entries"]
    assert flap in [one["id"] for one in found[:2]]  # the simulated bus of the starter set is much like it
    assert 0.5 < found[0]["fit"] <= 1.0
    assert found[0]["sureness"] is not None
    assert "fit" in asked.text("match", str(stick / "known_good.h5"), "--channel", "#1", "--kind", "lin", "--most", "1")
    asked.text("match", str(stick / "known_good.h5"), "--channel", "#1", "--kind", "own-limits", status=1)
    asked.text("match", str(stick / "known_good.h5"), "--channel", "#1", "--most", "0", status=2)


def test_entries_are_shared(asked: Asked, flap: str, stick: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.zip"
    assert "personal data left out" in asked.text("export", flap, str(out))
    assert "already" in asked.text("export", flap, str(out), status=2)
    for words in (("export", str(tmp_path / "b.zip")), ("export", "--all", flap, str(tmp_path / "b.zip"))):
        assert "Say which" in asked.text(*words, status=2)
    assert ".zip" in asked.text("export", flap, str(tmp_path / "b.tar"), status=2)
    other = Asked(tmp_path / "other", asked._capsys)
    assert other.answer("import", str(out), "--only-look")["taken"] is None
    assert not other.folder.exists()
    answer = other.answer("import", str(out))
    assert [(one["state"], one["title"]) for one in answer["incoming"]] == [("new", "Flap LIN")]
    assert answer["taken"] == {"new": 1, "replaced": 0, "beside": 0, "left": 0}
    assert other.answer("show", flap)["entries"][0]["vin"] == ""
    other.text("edit", flap, "--pin", "9")
    assert "different" in asked.text("import", str(other.folder), status=1)
    assert "1 replaced" in asked.text("import", str(other.folder), "--different", "take")
    assert asked.answer("show", flap)["entries"][0]["pin"] == "9"
    (tmp_path / "bad.zip").write_bytes(b"PK")
    assert "no zip file" in asked.text("import", str(tmp_path / "bad.zip"), status=2)
    assert "no such" in asked.text("import", str(tmp_path / "none.zip"), status=2)


def test_verify_says_what_is_damaged(asked: Asked, flap: str) -> None:
    assert "1 of 1 files are sound" in asked.text("verify")
    path = asked.folder / f"{flap}.h5"
    content = bytearray(path.read_bytes())
    content[-1000] ^= 1
    path.write_bytes(content)
    told = asked.text("verify", status=1)
    assert "damaged" in told
    assert "Flap LIN" in told
    assert asked.answer("verify", status=1)["files"][0]["state"] == "damaged"


def test_the_starter_set_is_marked_and_added_once(asked: Asked) -> None:
    added = asked.answer("add-starter")["entries"]
    assert len(added) >= 3
    assert all(one["simulated"] and "calculation" in one["ground"] for one in added)
    assert "simulated" in asked.text("find", "simulated")
    asked.text("delete", added[0]["id"])
    assert asked.answer("add-starter")["entries"] == []
    assert len(Library(asked.folder).all()) == len(added) - 1
