"""What the window offers in the list of actions: one row each, with the keys as delivered."""

from __future__ import annotations

from functools import partial
from operator import attrgetter
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QAbstractButton, QPushButton, QToolButton, QWidget

from loomlight.viewer.rail import HINTS, PLACES
from loomlight.viewer.window_pages import CAPTURES, COMPARE, JOB, LIBRARY, PROOF

if TYPE_CHECKING:
    from loomlight.viewer.actions import Actions
    from loomlight.viewer.lanes.lane_stack import LaneStack
    from loomlight.viewer.window import Window

BUTTONS = {
    JOB: (("next_button", "Ctrl+Return"), ("output.report_button", "Ctrl+R"), ("output.pack_button", "")),
    CAPTURES: (("compare_button", "Ctrl+Return"), ("setup_button", "Ctrl+E"), ("reading_button", "Ctrl+R")),
    COMPARE: (("run_button", "Ctrl+Return"), ("snapshot_button", "Ctrl+S"), ("export_button", "Ctrl+Shift+S")),
    PROOF: (("run_button", "Ctrl+Return"), ("snapshot_button", "Ctrl+S"), ("export_button", "Ctrl+Shift+S")),
    LIBRARY: (("use_button", "Ctrl+Return"),),
}
"""The pages' buttons that come first in the list, and have keys."""
NAMES = {"next_button": "The next step of this job", "reading_button": "Change reading"}
"""Of buttons whose words change."""


def offer_actions(window: Window, actions: Actions) -> None:
    """Everything that can be done wherever one is; what a page offers joins when it is made."""
    for number, name in enumerate(PLACES):
        actions.add(f"Go to {name}", partial(window.go_to, number), keys=f"Ctrl+{number + 1}", hint=HINTS[name])
    for name, act, keys, hint in (
        ("Open capture", window.files.ask, "Ctrl+O", "Open CSV or HDF5 files"),
        ("New job", window.jobs.new_job, "Ctrl+N", "Make a job folder"),
        ("Open job", window.jobs.ask_job, "Ctrl+J", "Find a job by any word"),
        ("Open the sample job", window.open_sample, "", "A fresh copy; nothing of yours is touched"),
        ("Open the capture after the repair", window.files.ask_after, "", "Open a file as “after repair”"),
        ("Wiggle test", window.begin_wiggle, "Ctrl+G", "A large verdict on each new export while the loom is moved"),
        ("Watch a folder", lambda: window.watching.turn_on(), "", "Open each new export, and compare it"),
        ("Stop watching", lambda: window.watching.stop(), "", "Open new exports by hand again"),
        ("Undo", partial(_undo, window), "Ctrl+Z", "Take back the last change on the page that is shown"),
        ("Redo", partial(_redo, window), "Ctrl+Shift+Z", "Make again what was taken back"),
        ("All actions", actions.ask, "F2", "This sheet"),
        ("Settings", window.ask_settings, "Ctrl+,", "Theme, text size, units, folders, business details"),
        ("Daylight or night", window.change_theme, "Ctrl+T", "Change the theme"),
        ("Close message", window.strip.hide, "Esc", "Put the message over the page away"),
        ("Keys and gestures on the lanes", window.show_keys, "F1", "What keys, mouse and fingers do on the lanes"),
    ):
        actions.add(name, act, keys=keys, hint=hint)
    for button, name in (
        (window.rail.actions_button, "All actions"),
        (window.rail.settings_button, "Settings"),
        (window.rail.theme_button, "Daylight or night"),
        *((button, f"Go to {name}") for button, name in zip(window.rail.places, PLACES, strict=True)),
    ):
        actions.show_keys_of(name, button)
    actions.add_lanes(lambda: _lanes_of(window.pages.currentWidget()))


def offer_page(window: Window, actions: Actions, place: int, page: QWidget) -> None:
    """What can be done on a page that was just made."""
    go = partial(window.go_to, place)
    known = []
    for name, keys in BUTTONS[place]:
        button = attrgetter(name)(page)
        actions.add_button(button, keys=keys, place=PLACES[place], name=NAMES.get(name, ""), go=go)
        known.append(button)
    if place == JOB:
        _offer_parts(window, actions, page)
    for button in page.findChildren(QPushButton) + page.findChildren(QToolButton):
        if button not in known and _is_offered(button):
            actions.add_button(button, place=PLACES[place], go=go)


def _is_offered(button: QAbstractButton) -> bool:
    """Whether a button stands for an action of its page: not one of a form's rows, of the lanes' tools or of an empty page."""
    name = button.accessibleName() or button.text()
    return (
        bool(name)
        and button.objectName() not in ("tool", "part", "row", "offer")
        and button.property("action") is not False
    )


def _offer_parts(window: Window, actions: Actions, page: QWidget) -> None:
    from loomlight.viewer.pages.job_page import JobPage
    from loomlight.viewer.pages.job_parts import PARTS

    assert isinstance(page, JobPage)
    for number, name in enumerate(PARTS):
        actions.add(
            f"{name} of this job",
            partial(_go_to_part, window, number),
            keys=f"Alt+{number + 1}",
            place=PLACES[JOB],
            hint=f"The part “{name}” of the job's notes",
            within=page.parts,
        )


def _go_to_part(window: Window, number: int) -> None:
    window.go_to(JOB)
    window.job_page.parts.go_to(number)


def _undo(window: Window) -> None:
    place = window.pages.currentIndex()
    if place == JOB:
        window.job_page.undo()
    elif place == CAPTURES:
        window.captures_page.undo()
    elif place == COMPARE and window.compare_page.hand.is_on:
        window.compare_page.hand.undo()
    else:
        lanes = _lanes_of(window.pages.currentWidget())
        if lanes is not None:
            lanes.undo()


def _redo(window: Window) -> None:
    lanes = _lanes_of(window.pages.currentWidget())
    if window.pages.currentIndex() == JOB:
        window.job_page.redo()
    elif lanes is not None:
        lanes.redo()


def _lanes_of(page: QWidget | None) -> LaneStack | None:
    panel = getattr(page, "panel", None)
    return panel.lanes if panel is not None and panel.lanes.lanes else None
