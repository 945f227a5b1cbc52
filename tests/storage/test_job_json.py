"""The job file: all of it comes back, what a newer version added stays, what cannot be used is told with its place."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlight.signal.errors import FileProblem
from loomlight.signal.finding import Finding
from loomlight.signal.job import Job, JobCapture, JobVerdict, Note
from loomlight.signal.job_records import CostLine, FaultCode, ListedCause, MeterReading, Photo
from loomlight.signal.verdict import Verdict
from loomlight.signal.wire_sketch import ProbePoint, Stop, WireSketch
from loomlight.storage.job_json import DamagedJob, from_json, to_json

TEXT = st.text(max_size=20)
ANY_TEXT = st.text(st.characters(), max_size=20)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
NAMES = st.text(st.characters(categories=("L", "N")), min_size=1, max_size=12)
NOTES = st.lists(st.builds(Note, TEXT, NUMBERS, NUMBERS, ANY_TEXT), max_size=2).map(tuple)
FINDINGS = st.builds(
    Finding,
    kind=st.sampled_from(["dropout", "weak dominant"]),
    channel=TEXT,
    start_s=NUMBERS,
    stop_s=NUMBERS,
    size=NUMBERS,
    unit=st.sampled_from(["V", "s", ""]),
    rule=TEXT,
    severity=st.sampled_from(["severe", "mild"]),
)
VERDICTS = st.builds(
    Verdict,
    state=st.just("faulty"),
    fault=st.sampled_from(["open", "short", "resistive", "unknown"]),
    reasons=st.lists(TEXT, min_size=1, max_size=3).map(tuple),
    next_step=TEXT,
    short_to=st.sampled_from([None, "ground", "battery"]),
    intermittent=st.booleans(),
    series_ohm=st.none() | NUMBERS,
)
CAPTURES = st.builds(
    JobCapture,
    file=NAMES,
    source_name=ANY_TEXT,
    sha256=TEXT,
    added=TEXT,
    stage=st.sampled_from(["suspect", "known-good", "after repair", "other"]),
    notes=NOTES,
)
JOBS = st.builds(
    Job,
    title=TEXT,
    vehicle=ANY_TEXT,
    complaint=ANY_TEXT,
    repair=ANY_TEXT,
    captures=st.lists(CAPTURES, max_size=2).map(tuple),
    verdicts=st.lists(
        st.builds(JobVerdict, TEXT, TEXT, TEXT, TEXT, TEXT, VERDICTS, st.lists(FINDINGS, max_size=2).map(tuple)),
        max_size=2,
    ).map(tuple),
    snapshots=st.lists(NAMES, max_size=2).map(tuple),
    state=st.sampled_from(["open", "proven", "not proven", "cannot tell"]),
    cautions_seen=st.booleans(),
    fault_codes=st.lists(
        st.builds(
            FaultCode, TEXT, TEXT, TEXT, st.sampled_from(["", "stored"]), st.just((ListedCause("wire", "wire"),))
        ),
        max_size=2,
    ).map(tuple),
    readings=st.lists(
        st.builds(MeterReading, TEXT, TEXT, TEXT, from_stop=st.none() | st.integers(0, 9)), max_size=2
    ).map(tuple),
    photos=st.lists(st.builds(Photo, NAMES, ANY_TEXT), max_size=2).map(tuple),
    costs=st.lists(st.builds(CostLine, ANY_TEXT, st.sampled_from(["part", "labour"]), TEXT, TEXT), max_size=2).map(
        tuple
    ),
    wire=st.builds(
        WireSketch,
        st.lists(st.builds(Stop, st.sampled_from(["splice", "connector"]), TEXT, TEXT), max_size=3).map(tuple),
        st.lists(st.builds(ProbePoint, st.integers(0, 3), TEXT, TEXT), max_size=2).map(tuple),
        st.none() | st.integers(0, 5),
    ),
)
FILE = Path("job.json")


@given(job=JOBS)
def test_a_job_comes_back_as_it_was(job: Job) -> None:
    assert from_json(to_json(job, {}), FILE) == (job, {})


def test_the_file_is_plain_text_for_a_person() -> None:
    content = to_json(Job(title="Gebläse läuft voll"), {}).decode("utf-8")
    assert content.startswith('{\n "format": "loomlight job",\n "version": 2,\n "title": "Gebläse läuft voll"')
    assert content.endswith("}\n")


def test_half_a_sign_in_a_file_name_is_kept() -> None:
    job = Job(title="x", vehicle="old stick \udcff")
    assert from_json(to_json(job, {}), FILE)[0] == job


def test_a_byte_order_mark_is_no_damage() -> None:
    assert from_json(b"\xef\xbb\xbf" + to_json(Job(title="x"), {}), FILE)[0].title == "x"


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_no_number_without_a_word_in_json_is_written(value: float) -> None:
    note = Note("bus", value, 0.0, "here")
    with pytest.raises(ValueError, match="JSON"):
        to_json(Job(title="x", captures=(JobCapture("a", "a", "", "", notes=(note,)),)), {})


# What a newer version added

FULL = Job(
    title="x",
    captures=(
        JobCapture("a.csv", "a.csv", "aa", "", notes=(Note("bus", 1.0, 2.0, "one"), Note("bus", 3.0, 4.0, "two"))),
        JobCapture("b.csv", "b.csv", "bb", ""),
    ),
    verdicts=(
        JobVerdict(
            "a.csv",
            "bus",
            "good",
            "lin",
            "",
            Verdict("faulty", "open", ("why",)),
            (Finding("dropout", "bus", 0.0, 1.0, 5.0, "V", "rule", "severe"),),
        ),
    ),
    snapshots=("a.png",),
)


def newer() -> dict[str, Any]:
    """The full job with an entry that we do not know in every place."""
    content: dict[str, Any] = json.loads(to_json(FULL, {}))
    content["parts"] = ["pin"]
    content["captures"][0]["probe"] = {"factor": 10}
    content["captures"][1]["probe"] = {"factor": 1}
    content["captures"][0]["notes"][1]["colour"] = "red"
    content["verdicts"][0]["checked_by"] = "someone"
    content["verdicts"][0]["verdict"]["sure"] = 0.9
    content["verdicts"][0]["findings"][0]["frame"] = 12
    return content


def saved(change: Job) -> dict[str, Any]:
    _, read = from_json(json.dumps(newer()).encode(), FILE)
    content: dict[str, Any] = json.loads(to_json(change, read))
    return content


def test_what_a_newer_version_added_is_kept_wherever_it_stands() -> None:
    assert saved(FULL) == newer()
    assert saved(replace(FULL, repair="pin renewed")) == newer() | {"repair": "pin renewed"}


def test_it_stays_with_what_it_belongs_to() -> None:
    a, b = FULL.captures
    moved = saved(replace(FULL, captures=(b, replace(a, stage="suspect", notes=a.notes[1:]))))["captures"]
    assert [one["probe"]["factor"] for one in moved] == [1, 10]
    assert moved[1]["notes"] == [
        {"channel": "bus", "time_s": 3.0, "value": 4.0, "text": "two", "until_s": None, "colour": "red"}
    ]


def test_it_does_not_stick_to_what_is_new() -> None:
    verdict = replace(FULL.verdicts[0], verdict=Verdict("clean", "none", ("fine",)), findings=())
    (kept,) = saved(replace(FULL, verdicts=(verdict,)))["verdicts"]
    assert "checked_by" not in kept
    assert "sure" not in kept["verdict"]


# What cannot be used

HEAD = b'{"format": "loomlight job", "version": 1, "title": "x"'


@pytest.mark.parametrize(
    ("content", "about"),
    [
        (b"", "line 1, column 1: it is damaged"),
        (b"{", "line 1, column 2: it is damaged"),
        (HEAD + b',\n "vehicle": "cut', "line 2, column 13: it is damaged"),
        (HEAD + b',\n "vehicle": "\xff"}', "line 2: it is damaged .not UTF-8"),
        (b"\0" * 4096, "line 1, column 1: it is damaged"),
        (b"[" * 200_000, "nesting without end"),
        (HEAD + b', "odometer": NaN}', "damaged"),
        (HEAD + b', "odometer": ' + b"9" * 5000 + b"}", "damaged"),
    ],
)
def test_damage_is_told_with_its_place(content: bytes, about: str) -> None:
    with pytest.raises(DamagedJob, match=about) as told:
        from_json(content, FILE)
    assert "job.previous.json" in str(told.value)
    assert "\n" not in str(told.value)


def with_capture(entry: str) -> bytes:
    return HEAD + b', "captures": [{"source_name": "", "sha256": "", "added": "", %s}]}' % entry.encode()


@pytest.mark.parametrize(
    ("content", "about"),
    [
        (b"[]", "no Loomlight job"),
        (b'{"format": "other"}', "no Loomlight job"),
        (b'{"format": "loomlight job", "version": 9, "title": "x"}', "version 9, this one reads 1 to 2"),
        (b'{"format": "loomlight job", "version": true, "title": "x"}', "version True"),
        (b'{"format": "loomlight job", "title": "x"}', "version None"),
        (b'{"format": "loomlight job", "version": 1}', "the job lacks one of title"),
        (b'{"format": "loomlight job", "version": 1, "title": 5}', "title is 5, no str"),
        (HEAD + b', "state": "odd"}', "state is 'odd', none of 'open'"),
        (HEAD + b', "state": [1]}', "none of 'open'"),
        (HEAD + b', "cautions_seen": 1}', "cautions_seen is 1, no bool"),
        (HEAD + b', "captures": {}}', "captures is no list"),
        (HEAD + b', "captures": [5]}', r"captures\[0\] is no JobCapture"),
        (HEAD + b', "captures": [{}]}', r"captures\[0\] lacks one of file"),
        (with_capture('"file": "../../a"'), "'../../a' is no plain file name"),
        (with_capture('"file": "/etc/hosts"'), "no plain file name"),
        (with_capture(r'"file": "C:\\a"'), "no plain file name"),
        (with_capture('"file": ".."'), "no plain file name"),
        (with_capture('"file": ""'), "no plain file name"),
        (HEAD + b', "snapshots": ["../a.png"]}', "no plain file name"),
        (
            with_capture('"file": "a", "notes": [{"channel": "", "time_s": 1e999, "value": 0, "text": ""}]'),
            "time_s is not finite",
        ),
        (
            with_capture('"file": "a", "notes": [{"channel": "", "time_s": true, "value": 0, "text": ""}]'),
            "time_s is True, no number",
        ),
        (
            with_capture(f'"file": "a", "notes": [{{"channel": "", "time_s": {"9" * 400}, "value": 0, "text": ""}}]'),
            "time_s is not finite",
        ),
    ],
)
def test_an_entry_that_cannot_be_used_is_told(content: bytes, about: str) -> None:
    with pytest.raises(FileProblem, match=about) as told:
        from_json(content, FILE)
    assert not isinstance(told.value, DamagedJob)


def test_a_verdict_that_contradicts_itself_is_told() -> None:
    content = to_json(FULL, {}).replace(b'"faulty"', b'"clean"')
    with pytest.raises(FileProblem, match="contradict"):
        from_json(content, FILE)


@given(cut=st.integers(0, 2000), sign=st.binary(min_size=0, max_size=3))
def test_a_spoilt_file_gives_a_line_or_a_job(cut: int, sign: bytes) -> None:
    content = to_json(FULL, {})
    place = cut % len(content)
    spoilt = content[:place] + sign + content[place + 1 :]
    try:
        told = from_json(spoilt, FILE)[0].title
    except FileProblem as error:
        told = str(error)
    assert "\n" not in told


def test_fault_codes_of_version_1_become_records_and_nothing_is_lost() -> None:
    old = b'{"format": "loomlight job", "version": 1, "title": "x", "codes": "U1118 no answer\\nlamp on", "more": 5}'
    job, read = from_json(old, FILE)
    assert [(one.code, one.text) for one in job.fault_codes] == [("U1118", "no answer"), ("", "lamp on")]
    again = to_json(job, read)
    assert json.loads(again)["more"] == 5
    assert from_json(again, FILE)[0] == job


def test_a_photo_may_not_lie_outside_the_job() -> None:
    with pytest.raises(FileProblem, match="no plain file name"):
        from_json(HEAD + b', "photos": [{"file": "../x.jpg"}]}', FILE)
