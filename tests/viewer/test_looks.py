"""Icons, themes, figures in tables: what is seen is ours, and stays readable."""

import xml.etree.ElementTree as Tree
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QStyleHints
from PySide6.QtWidgets import QAbstractButton, QApplication, QPushButton
from pytestqt.qtbot import QtBot

from loomlight.viewer.figure_cells import alignment_of
from loomlight.viewer.icon import FOLDER, NAME, begin_icons, dress_icons, set_icon
from loomlight.viewer.looks import theme_of
from loomlight.viewer.new_job_dialog import NewJobDialog
from loomlight.viewer.page_stack import PageScroll
from loomlight.viewer.settings import CONTRAST_CHOICES
from loomlight.viewer.theme import DAYLIGHT, NIGHT, Theme, with_more_contrast
from loomlight.viewer.units import in_table, on_screen, prefix_for, use_units
from loomlight.viewer.window import PLACES, Window

ICONS = sorted(FOLDER.glob("*.svg"))
STROKES_ONLY = {"path", "circle", "svg"}


@pytest.mark.parametrize("file", ICONS, ids=lambda file: file.stem)
def test_an_icon_is_a_few_strokes_of_one_weight(file: Path) -> None:
    root = Tree.fromstring(file.read_text(encoding="utf-8"))
    assert {one.tag.rpartition("}")[2] for one in root.iter()} <= STROKES_ONLY
    assert (root.get("viewBox"), root.get("stroke-width"), root.get("fill")) == ("0 0 24 24", "2", "none")
    assert file.stat().st_size < 800


def test_every_icon_is_used_and_every_used_one_is_there() -> None:
    source = "".join(one.read_text(encoding="utf-8") for one in Path(FOLDER.parent).rglob("*.py"))
    unused = [one.stem for one in ICONS if f'"{one.stem}"' not in source]
    assert not unused


@pytest.mark.parametrize("theme", [DAYLIGHT, NIGHT])
def test_icons_take_the_themes_colour(qtbot: QtBot, theme: Theme) -> None:
    button = QPushButton("Open")
    qtbot.addWidget(button)
    set_icon(button, "open")
    begin_icons(theme)
    dress_icons(button)
    image = button.icon().pixmap(button.iconSize()).toImage()
    colours = {
        image.pixelColor(x, y).name() for x in range(20) for y in range(20) if image.pixelColor(x, y).alpha() > 250
    }
    assert colours == {theme.text}


def contrast(first: str, second: str) -> float:
    """WCAG 2.2, "contrast ratio": relative luminance from sRGB."""

    def luminance(colour: str) -> float:
        parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", [DAYLIGHT, NIGHT])
def test_more_contrast_is_the_most_there_is(theme: Theme) -> None:
    strong = with_more_contrast(theme)
    assert contrast(strong.text, strong.ground) == pytest.approx(21.0)
    assert strong.quiet_text == strong.text == strong.rule
    for colour in (*strong.traces.values(), strong.accent):
        assert contrast(colour, strong.ground) >= 3.0
    assert strong.width_factor > theme.width_factor


def test_contrast_follows_the_system_unless_it_is_fixed(window: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system's wish is put in its place: no platform of the tests tells one."""

    class Wish:
        def contrastPreference(self) -> Qt.ContrastPreference:
            return Qt.ContrastPreference.HighContrast

    monkeypatch.setattr(QStyleHints, "accessibility", lambda _: Wish())
    grounds = {}
    for choice in CONTRAST_CHOICES:
        window.settings.contrast = choice
        grounds[choice] = theme_of(window.settings).rule
    assert grounds["system"] == grounds["more"] == "#000000"
    assert grounds["usual"] == DAYLIGHT.rule


def test_every_page_follows_a_change_of_the_looks(window: Window, qtbot: QtBot) -> None:
    for place in range(len(PLACES)):
        window.go_to(place)
        QApplication.processEvents()
    window.change_theme()
    window.go_to(1)  # before the pages behind had their turn
    qtbot.waitUntil(window.pages.updatesEnabled, timeout=5_000)
    sheets = {window.pages.widget(number).styleSheet() for number in (0, 1)}
    assert NIGHT.panel in window.pages.widget(1).styleSheet()
    qtbot.waitUntil(lambda: len({window.pages.widget(at).styleSheet() for at in range(5)}) == 1, timeout=5_000)
    assert window.rail.styleSheet() in sheets
    assert window.palette().window().color().name() == NIGHT.panel
    sheet = NewJobDialog(window)
    sheet.show()
    assert sheet.styleSheet() == window.rail.styleSheet()
    window.change_theme()
    assert DAYLIGHT.panel in sheet.styleSheet()
    sheet.close()


def test_the_tools_stand_in_one_row_on_the_smallest_usual_screen(window: Window, qtbot: QtBot) -> None:
    window.resize(1280, 720)
    window.open_sample()
    qtbot.waitUntil(lambda: window.desk.drawn is not None and window.desk.proof is not None, timeout=60_000)
    window.go_to(2)
    QApplication.processEvents()
    tools = [one for one in window.compare_page.panel.tools.findChildren(QAbstractButton) if one.isVisible()]
    assert len(tools) > 12
    qtbot.waitUntil(lambda: len({one.y() for one in tools}) == 1, timeout=10_000)
    for place in range(len(PLACES)):  # no page needs more room than this screen has
        window.go_to(place)
        QApplication.processEvents()
        (scroll,) = window.findChildren(PageScroll)
        qtbot.waitUntil(lambda scroll=scroll: scroll.horizontalScrollBar().maximum() == 0, timeout=5_000)
        assert scroll.verticalScrollBar().maximum() == 0, PLACES[place]
    for one in window.findChildren(QAbstractButton):
        assert not one.property(NAME) or not one.icon().isNull()


@pytest.mark.parametrize(
    ("cell", "is_figure"),
    [
        ("-8.42 ms", True),
        ("51", True),
        ("1.93", True),
        ("! dropout", False),
        ("0x21 ok ok", False),
        ("24 93", False),
        ("✓ passed", False),
    ],
)
def test_figures_stand_at_the_right(cell: str, is_figure: bool) -> None:
    assert bool(alignment_of(cell) & Qt.AlignmentFlag.AlignRight) == is_figure


def test_a_chosen_unit_holds_for_the_whole_column() -> None:
    try:
        use_units(time="ms", volts="as fits")
        shown = [in_table(value, "s") for value in (-0.00842, 104e-6, 1.5)]
        assert shown == ["-8.4200 ms", "0.1040 ms", "1500.0000 ms"]
        assert len({len(one.rpartition(".")[2]) for one in shown}) == 1
        assert in_table(0.5, "V") == "500 mV"
        use_units(time="s", volts="V")
        assert (in_table(104e-6, "s"), in_table(0.5, "V")) == ("0.0001040 s", "0.500 V")
        assert [on_screen(one, "s", digits=4) for one in (1.23456e-6, 0.0, -12.5)] == [
            "0.000001235 s",
            "0 s",
            "-12.5 s",
        ]
        assert (on_screen(0.4567, "V"), on_screen(2200.0, "Ω"), on_screen(None, "s")) == (
            "0.457 V",
            "2.2 kΩ",
            "not known",
        )
        use_units(time="as fits", volts="mV")
        assert (on_screen(11.94, "V"), on_screen(104e-6, "s")) == ("11900 mV", "104 µs")
        assert (prefix_for("V"), prefix_for("s"), prefix_for("A")) == ("m", None, None)
    finally:
        use_units(time="", volts="")
