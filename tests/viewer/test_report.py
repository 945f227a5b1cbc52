"""The report: what its pages say, on both papers and as HTML, and that no text in a job can do more than be read."""

import base64
import io
import re
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from pypdf import PdfReader
from PySide6.QtGui import QColor, QImage

from loomlight.signal.errors import FileProblem
from loomlight.signal.job import Job
from loomlight.signal.job_records import CostLine, FaultCode, ListedCause, MeterReading
from loomlight.signal.wire_sketch import Stop
from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.business import business_of
from loomlight.viewer.command_line import main
from loomlight.viewer.report import Paper, evidence_of, report_bytes, save_report
from loomlight.viewer.report_blocks import Business, Heading, Report, Table
from loomlight.viewer.report_pdf import report_pdf
from loomlight.viewer.report_words import DID, FOOT, FOUND, HOW_WE_KNOW, TOLD_US
from loomlight.viewer.settings import Details
from loomlight.viewer.theme import DAYLIGHT

pytestmark = pytest.mark.usefixtures("qapp")

MakeJob = Callable[..., JobFolder]
POINTS = {"a4": (595, 842), "letter": (612, 792)}
"""ISO 216 A4 is 210 mm × 297 mm; ANSI Y14.1 A is 8.5 in × 11 in; 72 points an inch (ISO 32000-1, 8.3.2.3)."""
HOSTILE = '<script>alert("1")</script> & \'"><img src=x onerror=alert(2)> \x07\x00 </style></title> ﬀ Ω µ'


def page_texts(pdf: bytes) -> list[str]:
    """Words of each page, one space between them."""
    return [" ".join(page.extract_text().split(" ")) for page in PdfReader(io.BytesIO(pdf)).pages]


class Seen(HTMLParser):
    """What a browser would make of an HTML file: elements with their attributes, and the words."""

    def __init__(self, html: bytes) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""
        self.feed(html.decode("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words += data


def plain(text: str) -> str:
    """Without line ends: where a line breaks is the page's business."""
    return re.sub(r"\s+", " ", text)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, make_job: MakeJob) -> Iterator[JobFolder]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))
        yield make_job()


@pytest.fixture(scope="module")
def both(folder: JobFolder) -> dict[Paper, bytes]:
    return {paper: report_bytes(folder, Business(), paper=paper, form="pdf") for paper in ("a4", "letter")}


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_pages_have_the_papers_size_a_number_and_the_caution(both: dict[Paper, bytes], paper: Paper) -> None:
    reader = PdfReader(io.BytesIO(both[paper]))
    width, height = POINTS[paper]
    for page in reader.pages:
        assert float(page.mediabox.width) == pytest.approx(width, abs=1)
        assert float(page.mediabox.height) == pytest.approx(height, abs=1)
    texts = list(map(plain, page_texts(both[paper])))
    for number, text in enumerate(texts, start=1):
        assert f"Page {number} of {len(texts)}" in text
        assert FOOT in text


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_page_one_is_for_the_customer(both: dict[Paper, bytes], paper: Paper) -> None:
    first = plain(page_texts(both[paper])[0])
    places = [first.index(one) for one in (TOLD_US, FOUND, DID, HOW_WE_KNOW)]
    assert places == sorted(places)
    assert "Blower goes full blast as soon as the ignition is on" in first
    assert "Corroded pin in the bulkhead connector" in first
    assert "Pin 7 renewed" in first
    assert "Before: 51 short failures in 196 ms. After: none in 196 ms." in first
    assert "A fault as frequent as before would have shown with at least 95 %." in first
    assert all(number in first for number in "①②③")
    assert "total 122.33 €" in first
    for trade_word in ("0x21", "SHA", "responder", "kΩ"):
        assert trade_word not in first


def test_the_record_holds_what_another_technician_checks(both: dict[Paper, bytes], folder: JobFolder) -> None:
    record = plain(" ".join(page_texts(both["a4"])[1:]))
    tight = record.replace(" ", "")  # the reader sees a gap where a line goes from Latin to Greek letters
    for said in ("Series resistance about 2.3 kΩ", "234 µs", "LIN Specification Package 2.2A", "12.4 V", "300 mΩ"):
        assert said.replace(" ", "") in tight
    for one in folder.job.captures:
        assert one.sha256 in tight
    for row in ("dropouts 51 0 0 ✓ passed", "bit rate 19185 bit/s", "B1A41"):
        assert row in record
    assert "Never probe high-voltage wiring" in record


def test_fonts_are_inside_and_every_picture_too(both: dict[Paper, bytes]) -> None:
    reader = PdfReader(io.BytesIO(both["a4"]))
    used = [one.get_object() for page in reader.pages for one in page["/Resources"]["/Font"].values()]
    for font in used:
        inner = font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert {"/FontFile2", "/FontFile3"} & set(inner)
        assert "/ToUnicode" in font
    pictures = [len(page.images) for page in reader.pages]
    assert pictures[0] == 1
    assert sum(pictures) == 3, "customer's picture, drawn wire, snapshot"


def test_the_customers_picture_shows_both_captures_and_black_arrows(folder: JobFolder) -> None:
    evidence = evidence_of(folder)
    image = QImage.fromData(evidence.picture)
    upper, lower = (image.copy(0, top, image.width(), image.height() // 2) for top in (0, image.height() // 2))
    suspect, after = DAYLIGHT.traces["suspect"], DAYLIGHT.traces["after repair"]
    assert _count(upper, suspect) > 1000 > _count(lower, suspect)
    assert _count(lower, after) > 1000 > _count(upper, after)
    assert _count(upper, "#000000") > 2 * 400, "two discs"
    assert len(evidence.arrows) == 3
    assert "for 234 µs" in evidence.arrows[0]


def _count(image: QImage, colour: str) -> int:
    wanted = QColor(colour).rgb()
    return sum(image.pixel(x, y) == wanted for y in range(0, image.height(), 2) for x in range(0, image.width(), 2))


def test_html_holds_the_same_and_needs_nothing_beside_it(folder: JobFolder) -> None:
    html = report_bytes(folder, Business(), paper="letter", form="html")
    seen = Seen(html)
    assert "A fault as frequent as before would have shown with at least 95 %." in seen.words
    sources = [str(attributes["src"]) for tag, attributes in seen.elements if tag == "img"]
    assert len(sources) == 3
    for source in sources:
        assert not QImage.fromData(base64.b64decode(source.partition("base64,")[2])).isNull()
    assert not [tag for tag, _ in seen.elements if tag in ("link", "script", "iframe", "object")]
    assert b"http" not in html.replace(b"http-equiv", b"")
    assert "size: letter" in html.decode()


def test_hostile_text_in_every_field_is_only_read(tmp_path: Path) -> None:
    job = Job(
        **{
            one.name: HOSTILE
            for one in fields(Job)
            if one.type in ("str", str) and one.name not in ("created", "changed")
        }
    )
    folder = JobFolder.create(tmp_path / "job", title=HOSTILE)
    wire = replace(job.wire, stops=(Stop("connector", HOSTILE, HOSTILE), Stop("component", HOSTILE)))
    folder.save(
        replace(
            job,
            fault_codes=(FaultCode(HOSTILE, HOSTILE, HOSTILE, "active", (ListedCause(HOSTILE),)),),
            readings=(MeterReading(HOSTILE, HOSTILE, HOSTILE, note=HOSTILE),),
            costs=(CostLine(HOSTILE, "part", HOSTILE, HOSTILE),),
            wire=wire,
        )
    )
    folder.job = replace(folder.job, snapshots=("<b>.png",))
    business = Business(HOSTILE, HOSTILE, HOSTILE, HOSTILE)
    seen = Seen(report_bytes(folder, business, paper="a4", form="html"))
    kinds = {tag for tag, _ in seen.elements}
    assert not kinds & {"script", "iframe", "object", "embed", "a"}
    assert all(str(attributes["src"]).startswith("data:image/") for tag, attributes in seen.elements if tag == "img")
    assert not [name for _, attributes in seen.elements for name in attributes if name.startswith("on")]
    assert seen.words.count('<script>alert("1")</script>') > 20
    assert "<b>.png: the file is not in the folder" in seen.words
    text = plain(" ".join(page_texts(report_bytes(folder, business, paper="a4", form="pdf"))))
    assert text.count('<script>alert("1")</script>') > 20


def test_what_is_missing_is_left_out(tmp_path: Path) -> None:
    folder = JobFolder.create(tmp_path / "job", title="Blower")
    text = plain(" ".join(page_texts(report_bytes(folder, Business(), paper="a4", form="pdf"))))
    for heading in (
        TOLD_US,
        "What it cost",
        "Fault codes",
        "Meter readings",
        "The wire",
        "Verdicts",
        "Photos",
        "Files",
    ):
        assert heading not in text
    assert "There is no recording from after the repair yet" in text


def test_a_job_without_a_proof_shows_its_verdict_and_proves_nothing(own_home: Path, make_job: MakeJob) -> None:
    folder = make_job()
    verdicts = tuple(one for one in folder.job.verdicts if one.file == "before.csv")
    folder.job = replace(folder.job, verdicts=verdicts, snapshots=(), state="open")
    first = plain(page_texts(report_bytes(folder, Business(), paper="a4", form="pdf"))[0])
    assert "so the repair is not proven" in first
    assert "Faulty: series resistance in the bus wire, comes and goes" in first
    assert "95 %" not in first


@pytest.mark.parametrize("gone", ["captures/before.csv", "snapshots"])
def test_a_file_that_is_gone_costs_only_its_own_part(own_home: Path, make_job: MakeJob, gone: str) -> None:
    folder = make_job()
    path = folder.path / gone
    for one in [path] if path.is_file() else list(path.iterdir()):
        one.unlink()
    text = plain(" ".join(page_texts(report_bytes(folder, Business(), paper="a4", form="pdf"))))
    assert "Corroded pin" in text
    assert "①" not in text
    assert ("the file is not in the folder" in text) == (gone == "snapshots")


def test_a_damaged_picture_is_told_and_a_photo_stands_upright(own_home: Path, make_job: MakeJob) -> None:
    folder = make_job()
    (folder.path / "snapshots" / folder.job.snapshots[0]).write_bytes(b"\x89PNG\r\n\x1a\nno picture at all")
    text = plain(" ".join(page_texts(report_bytes(folder, Business(), paper="a4", form="pdf"))))
    assert folder.job.snapshots[0] in text


def test_tables_longer_than_a_page_repeat_their_head_and_lose_nothing() -> None:
    rows = tuple((f"row {number}", "word " * (number % 40)) for number in range(200))
    huge = (("one", "endless" * 3000),)
    report = Report("t", Business(), "made", (Heading("h"), Table(("Left", "Right"), rows + huge, (0.3, 0.7))))
    texts = list(map(plain, page_texts(report_pdf(report, "letter"))))
    whole = " ".join(texts)
    assert all(f"row {number}" in whole for number in range(200))
    assert whole.replace(" ", "").count("endless") > 2900, "only words broken at a page's end are not counted"
    assert all("Left Right" in text for text in texts[:-3])


def test_the_business_stands_at_the_head_with_its_logo(folder: JobFolder, tmp_path: Path) -> None:
    logo = QImage(200, 100, QImage.Format.Format_ARGB32)
    logo.fill(QColor(0, 0, 0, 0))
    logo.save(str(tmp_path / "logo.png"))
    details = Details("Van & Loom", "Lane 1\nTown", "phone 000", "tax 123", str(tmp_path / "logo.png"))
    business = business_of(details)
    pdf = report_bytes(folder, business, paper="a4", form="pdf")
    first = plain(page_texts(pdf)[0])
    assert first.startswith("Van & Loom Lane 1 Town phone 000 tax 123")
    assert len(PdfReader(io.BytesIO(pdf)).pages[0].images) == 2
    with pytest.raises(FileProblem, match="no PNG or JPEG picture"):
        business_of(replace(details, logo=__file__))


def test_the_command_writes_into_the_folder_and_keeps_an_older_report_whole(
    own_home: Path, make_job: MakeJob, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make_job(proven=False)
    assert main(["job", "report", str(folder.path), "--paper", "letter"]) == 0
    path = Path(capsys.readouterr().out.strip())
    assert path == folder.path / "report.pdf"
    old = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    assert main(["job", "report", str(folder.path)]) == 2
    assert "the disk is full" in capsys.readouterr().err
    assert path.read_bytes() == old
    assert not [one for one in folder.path.iterdir() if one.name.endswith(".partial")]


def test_html_is_written_beside_the_pdf(own_home: Path, make_job: MakeJob) -> None:
    folder = make_job(proven=False)
    assert save_report(folder, Business(), paper="a4", form="html").name == "report.html"
