"""The Job page's parts: what is typed by hand stands in the job's folder, and comes back."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication, QLineEdit, QPushButton
from pytestqt.qtbot import QtBot

from loomlight.signal.job import Job, JobVerdict
from loomlight.signal.job_records import CostLine, FaultCode, ListedCause, MeterReading
from loomlight.signal.verdict import Verdict
from loomlight.signal.wire_sketch import ProbePoint, Stop, WireSketch
from loomlight.storage.job_folder import JobFolder
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.desk import Desk
from loomlight.viewer.pages.job_page import JobPage

SLOW_MS = 10_000
STOPS = (Stop("control unit", "panel", "12"), Stop("splice", "splice"), Stop("connector", "bulkhead", "7"))


@pytest.fixture
def page(desk: Desk, own_home: Path, tmp_path: Path, qtbot: QtBot) -> Iterator[JobPage]:
    shown = JobPage(desk)
    shown.resize(1200, 700)
    shown.show()
    qtbot.addWidget(shown)
    desk.take_job(JobFolder.create(tmp_path / "job", title="Blower"))
    yield shown
    shown.close_work()


def stored(page: JobPage) -> Job:
    folder = page._desk.folder
    assert folder is not None
    return JobFolder.open(folder.path).job


def keep(page: JobPage, **changes: object) -> None:
    """Change the job as another part of the program would."""

    assert page._desk.job is not None
    page._desk.save_job(replace(page._desk.job, **changes))  # type: ignore[arg-type]


def field(page: JobPage, name: str) -> QLineEdit:
    return next(one for one in page.findChildren(QLineEdit) if one.accessibleName() == name)


def box(page: JobPage, name: str) -> ChoiceBox:
    return next(one for one in page.findChildren(ChoiceBox) if one.accessibleName() == name)


def button(page: JobPage, name: str) -> QPushButton:
    QApplication.processEvents()  # what was just put into a layout is shown with the next event
    return next(one for one in page.findChildren(QPushButton) if one.accessibleName() == name and one.isVisible())


def choose(chosen: ChoiceBox, words: str) -> None:
    chosen.setCurrentIndex(chosen.findText(words))
    chosen.activated.emit(chosen.currentIndex())


def press(qtbot: QtBot, button: QPushButton) -> None:
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def test_vehicle_and_a_number_that_is_looked_at_while_typing(page: JobPage, qtbot: QtBot) -> None:
    lines = page.parts.vehicle_form.lines
    qtbot.keyClicks(lines["customer"], "van 12")
    qtbot.keyClicks(lines["vin"], "1" * 16)
    assert "16 signs" in page.parts.vehicle_form.vin_checked.text()
    qtbot.keyClicks(lines["vin"], "1")
    assert page.parts.vehicle_form.vin_checked.text().startswith("✓")
    page.save()
    assert (stored(page).customer, stored(page).vin) == ("van 12", "1" * 17)


def test_a_fault_code_with_its_listed_causes(page: JobPage, qtbot: QtBot) -> None:
    page.parts.go_to(1)
    press(qtbot, page.parts.codes_form.add_button)
    qtbot.keyClicks(field(page, "Code, fault code 1"), "B1A41")
    qtbot.keyClicks(field(page, "What it stands for, fault code 1"), "no answer")
    choose(box(page, "Status, fault code 1"), "stored")
    press(qtbot, next(one for one in page.findChildren(QPushButton) if one.text() == "Add a listed cause"))
    qtbot.keyClicks(field(page, "cause of code 1 1: Listed cause"), "bus wire")
    page.save()
    assert stored(page).fault_codes == (
        FaultCode("B1A41", "no answer", "", "stored", (ListedCause("bus wire", "wire"),)),
    )
    press(qtbot, button(page, "Remove, fault code 1"))
    assert stored(page).fault_codes == ()


def test_verdicts_raise_and_lower_the_three_suspects(page: JobPage) -> None:
    folder = page._desk.folder
    assert folder is not None
    folder.keep_verdict(JobVerdict("b.csv", "LIN", "", "lin", "", Verdict("faulty", "resistive", ("lifted",)), ()))
    page._desk.job_changed.emit()
    told = page.parts.codes_form.standings.text().splitlines()
    assert told[0].startswith("▲ raised: wire.")
    assert told[1].startswith("▼ lowered: component.")


def test_meter_readings_keep_their_figure_and_the_time_they_were_taken(page: JobPage, qtbot: QtBot) -> None:
    keep(page, wire=WireSketch(STOPS))
    page.parts.go_to(2)
    press(qtbot, page.parts.measured_form.rows.add_button)
    qtbot.keyClicks(field(page, "meter reading 1: Where the leads were"), "over the bulkhead")
    qtbot.keyClicks(field(page, "meter reading 1: Figure"), "1,8")
    choose(box(page, "meter reading 1: Unit"), "kΩ")
    choose(box(page, "meter reading 1: From this stop of the wire"), "splice")
    choose(box(page, "meter reading 1: To this stop of the wire"), "bulkhead 7")
    page.save()
    (reading,) = stored(page).readings
    assert (reading.figure, reading.unit, reading.from_stop, reading.to_stop) == ("1,8", "kΩ", 1, 2)
    assert reading.taken
    page.show_job()
    page.save()
    assert stored(page).readings == (reading,)
    assert "1.8 kΩ" in page.parts.wire_form.reasons.text()


def test_what_is_no_number_yet_is_kept_as_it_stands(page: JobPage, qtbot: QtBot) -> None:
    page.parts.go_to(2)
    press(qtbot, page.parts.measured_form.rows.add_button)
    qtbot.keyClicks(field(page, "meter reading 1: Figure"), "OL")
    page.save()
    assert stored(page).readings[0].figure == "OL"


def test_a_stop_that_goes_takes_its_probe_along_and_leaves_the_others(page: JobPage, qtbot: QtBot) -> None:
    readings = (MeterReading("x", "0.3", "Ω", from_stop=1, to_stop=2),)
    probes = (ProbePoint(1, "b.csv", "flap"), ProbePoint(2, "b.csv", "blower"))
    keep(page, wire=WireSketch(STOPS, probes, found_at=4), readings=readings)
    page.parts.go_to(3)
    press(qtbot, button(page, "Remove stop 1"))
    job = stored(page)
    assert [stop.name for stop in job.wire.stops] == ["splice", "bulkhead"]
    assert job.wire.probes == (ProbePoint(0, "b.csv", "flap"), ProbePoint(1, "b.csv", "blower"))
    assert job.wire.found_at == 2
    assert (job.readings[0].from_stop, job.readings[0].to_stop) == (0, 1)
    press(qtbot, button(page, "Move stop 2 up"))
    job = stored(page)
    assert [stop.name for stop in job.wire.stops] == ["bulkhead", "splice"]
    assert job.wire.found_at == 0
    assert (job.readings[0].from_stop, job.readings[0].to_stop) == (1, 0)


def test_stops_are_typed_and_drawn(page: JobPage, qtbot: QtBot) -> None:
    page.parts.go_to(3)
    for number, name in enumerate(("panel", "bulkhead"), start=1):
        press(qtbot, page.parts.wire_form.rows.add_button)
        qtbot.keyClicks(field(page, f"stop {number}: Name"), name)
    assert page.parts.wire_form.view.isVisible()
    choose(page.parts.wire_form.found, "wire from panel to bulkhead")
    job = stored(page)
    assert [stop.name for stop in job.wire.stops] == ["panel", "bulkhead"]
    assert job.wire.found_at == 1


def test_the_hatch_stands_where_the_fault_must_be(page: JobPage) -> None:
    keep(page, wire=WireSketch(STOPS), readings=(MeterReading("x", "900", "Ω", from_stop=1, to_stop=2),))
    page.parts.go_to(3)
    QApplication.processEvents()
    view = page.parts.wire_form.view
    image = QImage(view.size(), QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    view.render(image)
    hatch = QColor("#e69f00")
    rows = [
        any(
            abs(image.pixelColor(x, y).red() - hatch.red()) < 12 and image.pixelColor(x, y).blue() < 60
            for x in range(12, 70)
        )
        for y in range(image.height())
    ]
    assert not any(rows[: 10 + 52 + 33])
    assert any(rows[10 + 52 + 36 : 10 + 2 * 52 + 34])
    assert any(rows[10 + 2 * 52 + 2 * 34 :])
    assert "splice" in view.accessibleDescription()


def test_costs_add_up_while_typing(page: JobPage, qtbot: QtBot) -> None:
    page.parts.go_to(5)
    press(qtbot, page.parts.costs_form.rows.add_button)
    qtbot.keyClicks(field(page, "cost line 1: What it is"), "pin")
    qtbot.keyClicks(field(page, "cost line 1: Price for one"), "6,80")
    qtbot.keyClicks(page.parts.costs_form.tax, "19")
    assert "total 8.09" in page.parts.costs_form.sums.text()
    page.save()
    assert stored(page).costs == (CostLine("pin", "part", "1", "6,80"),)
    assert stored(page).tax_percent == "19"


def test_photos_come_in_with_a_caption_and_a_bad_one_is_told(page: JobPage, qtbot: QtBot, tmp_path: Path) -> None:
    image = QImage(40, 30, QImage.Format.Format_RGB32)
    image.fill(QColor("green"))
    assert image.save(str(tmp_path / "pin.jpg"))
    (tmp_path / "bad.jpg").write_text("no picture")
    with qtbot.waitSignal(page.failed, timeout=SLOW_MS) as failure:
        page.parts.photos_form.add([tmp_path / "pin.jpg", tmp_path / "bad.jpg"])
    assert "neither a JPEG nor a PNG" in str(failure.args)
    page.parts.go_to(2)
    caption = field(page, "Caption of pin.jpg")
    qtbot.keyClicks(caption, "pin 7")
    qtbot.keyClick(caption, Qt.Key.Key_Return)
    assert [(one.file, one.caption) for one in stored(page).photos] == [("pin.jpg", "pin 7")]
    press(qtbot, button(page, "Leave out pin.jpg"))
    assert stored(page).photos == ()


def test_parts_that_are_still_to_be_filled_lose_nothing(page: JobPage, qtbot: QtBot, tmp_path: Path) -> None:
    folder = JobFolder.create(tmp_path / "full", title="Full")
    notes = {"repair": "contact renewed", "costs": (CostLine("pin", "part", "1", "2"),)}
    full = replace(folder.job, **notes, fault_codes=(FaultCode("B1A41"),), wire=WireSketch(STOPS))  # type: ignore[arg-type]
    folder.save(full)
    page._desk.take_job(folder)
    qtbot.keyClicks(page.parts.vehicle_form.lines["customer"], "van 12")
    page.save()  # at once: no turn of the event loop has filled the other parts
    assert page.parts.costs_form.lines() == ()
    assert stored(page) == replace(full, customer="van 12")
    qtbot.waitUntil(lambda: page.parts.costs_form.lines() == full.costs, timeout=SLOW_MS)
    page.save()
    assert stored(page) == replace(full, customer="van 12")


def test_another_job_shows_its_own_notes(page: JobPage, qtbot: QtBot, tmp_path: Path) -> None:
    keep(page, costs=(CostLine("pin", "part", "1", "2"),), fault_codes=(FaultCode("B1A41"),), wire=WireSketch(STOPS))
    page._desk.take_job(JobFolder.create(tmp_path / "other", title="Other"))
    page.parts.go_to(5)
    assert page.parts.costs_form.lines() == ()
    assert page.parts.codes_form.codes() == ()
    page.save()
    assert stored(page) == page._desk.job
    assert not stored(page).wire.stops


def test_an_earlier_job_with_the_same_place_is_shown(page: JobPage, qtbot: QtBot, tmp_path: Path) -> None:
    earlier = JobFolder.create(tmp_path / "earlier", title="Last winter", vehicle="Coachling")

    earlier.save(replace(earlier.job, place="bulkhead, pin 7"))
    keep(page, place="Bulkhead, pin 7", vehicle="Coachling")
    qtbot.waitUntil(lambda: page.records.seen.count() == 1, timeout=SLOW_MS)
    assert "Last winter  (same vehicle, same place; bulkhead, pin 7" in page.records.seen.item(0).text()
    with qtbot.waitSignal(page.job_wanted) as wanted:
        page.records.seen.itemActivated.emit(page.records.seen.item(0))
    assert wanted.args == [earlier.path.resolve()]
