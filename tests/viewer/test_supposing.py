"""A supposed fault: asked for, drawn under the capture, gone with the next comparison."""

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from loomlight.signal.supposed import FAULTS
from loomlight.viewer.suppose_dialog import SupposeDialog, quantity_in
from loomlight.viewer.window import Window

SLOW_MS = 30_000


@pytest.mark.parametrize(
    ("text", "ohm"), [("2200", 2200.0), ("2,2 k", 2200.0), ("1 MΩ", 1e6), ("0.5 Ω", 0.5), ("", None), ("two", None)]
)
def test_ohms_as_typed(text: str, ohm: float | None) -> None:
    assert quantity_in(text, "Ω") == (pytest.approx(ohm) if ohm is not None else None)


def test_a_resistance_that_is_none_cannot_be_shown(qtbot: QtBot) -> None:
    dialog = SupposeDialog(FAULTS, ("response 0x21",), None)
    qtbot.addWidget(dialog)
    assert dialog.fault() is not None
    dialog.size_box.setText("x")
    assert dialog.fault() is None
    assert not dialog.show_button.isEnabled()
    assert "above 0" in dialog.problem.text()
    dialog.kind.setCurrentIndex(dialog.kind.findText("open"))
    dialog.kind.activated.emit(0)
    assert dialog.fault() is not None
    assert dialog.size_box.isHidden()


def test_it_is_drawn_under_the_capture(
    window: Window, qtbot: QtBot, stick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = window.compare_page
    assert not page.supposing.button.isEnabled()
    window.files.open([stick / "before.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    window.go_to(2)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        qtbot.mouseClick(page.run_button, Qt.MouseButton.LeftButton)
    before = page.panel.lanes.view()
    asked: list[str] = []

    def answered(dialog: SupposeDialog) -> SupposeDialog.DialogCode:
        asked.append(dialog.size_box.text())
        return SupposeDialog.DialogCode.Accepted

    monkeypatch.setattr(SupposeDialog, "exec", answered)
    qtbot.mouseClick(page.supposing.button, Qt.MouseButton.LeftButton)

    def keys() -> list[str]:
        return [lane.key for lane in page.panel.lanes.lanes]

    qtbot.waitUntil(lambda: any(key.startswith("supposed: series resistance") for key in keys()), timeout=SLOW_MS)
    assert asked[0].endswith("k")  # the verdict's own figure is offered
    assert page.panel.lanes.view() == pytest.approx(before)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        qtbot.mouseClick(page.run_button, Qt.MouseButton.LeftButton)
    assert not any(key.startswith("supposed") for key in keys())


def test_what_the_verdict_predicts_is_drawn_over_the_suspect(window: Window, qtbot: QtBot, stick: Path) -> None:
    page = window.compare_page
    assert not page.supposing.fitted_button.isEnabled()
    window.files.open([stick / "before.csv"])
    qtbot.waitUntil(lambda: len(window.desk.opened) == 1 and not window.opening.is_busy, timeout=SLOW_MS)
    window.go_to(2)
    with qtbot.waitSignal(window.desk.compared, timeout=SLOW_MS):
        qtbot.mouseClick(page.run_button, Qt.MouseButton.LeftButton)
    before, count = page.panel.lanes.view(), len(page.panel.lanes.lanes)
    assert page.supposing.fitted_button.isEnabled()
    qtbot.mouseClick(page.supposing.fitted_button, Qt.MouseButton.LeftButton)

    def names() -> list[str]:
        return [trace.label for trace in page.panel.lanes.lanes[0].traces]

    qtbot.waitUntil(
        lambda: any(name.startswith("as fitted: series resistance of") for name in names()), timeout=SLOW_MS
    )
    assert len(page.panel.lanes.lanes) == count  # over the capture, in no lane of its own
    assert page.panel.lanes.view() == pytest.approx(before)
