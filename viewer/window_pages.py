"""The window's pages, and what works with one page only: each is made, and joined with the rest, when it is first wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer, QUrl
from PySide6.QtGui import QDesktopServices

from loomlight.viewer.looks import theme_of
from loomlight.viewer.rail import PLACES

if TYPE_CHECKING:
    from pathlib import Path

    from loomlight.viewer.capture_actions import CaptureActions
    from loomlight.viewer.lane_panel import LanePanel
    from loomlight.viewer.pages.captures_page import CapturesPage
    from loomlight.viewer.pages.compare_page import ComparePage
    from loomlight.viewer.pages.job_page import JobPage
    from loomlight.viewer.pages.library_page import LibraryPage
    from loomlight.viewer.pages.proof_page import ProofPage
    from loomlight.viewer.pages.wiggle_page import WigglePage
    from loomlight.viewer.watching import Watching
    from loomlight.viewer.window import Window

    Page = JobPage | CapturesPage | ComparePage | ProofPage | LibraryPage | WigglePage

JOB, CAPTURES, COMPARE, PROOF, LIBRARY = range(len(PLACES))
WIGGLE = len(PLACES)
"""Opened from the five places, and none of them."""
NAMES = ("job_page", "captures_page", "compare_page", "proof_page", "library_page", "wiggle_page")
"""What the window calls them."""


def make_job_page(window: Window) -> JobPage:
    """The Job page."""
    from loomlight.viewer.pages.job_page import JobPage

    page = JobPage(window.desk, window.settings)
    page.set_theme(theme_of(window.settings))
    page.failed.connect(window.strip.say_error)
    page.new_wanted.connect(window.jobs.new_job)
    page.open_wanted.connect(window.jobs.ask_job)
    page.sample_wanted.connect(window.open_sample)
    page.captures_wanted.connect(window.files.ask)
    page.job_wanted.connect(window.jobs.open_job)
    page.file_wanted.connect(lambda path: window.files.open([path]))
    page.place_wanted.connect(lambda place: window.go_to(PLACES.index(place)))
    page.snapshot_wanted.connect(window.files.open_snapshot)
    page.output.said.connect(window.strip.say)
    page.output.made.connect(_show_outside)
    return page


def make_captures_page(window: Window) -> CapturesPage:
    """The Captures page; a file may be being read already."""
    from loomlight.viewer.pages.captures_page import CapturesPage

    page, opening = CapturesPage(window.desk, theme_of(window.settings), window.settings), window.opening
    page.failed.connect(window.strip.say_error)
    _join_panel(window, page.panel)
    page.open_wanted.connect(window.files.ask)
    page.sample_wanted.connect(window.open_sample)
    page.file_wanted.connect(lambda path: window.files.open([path]))
    page.job_wanted.connect(window.jobs.open_job)
    page.compare_wanted.connect(lambda: window.go_to(COMPARE))
    page.keep_wanted.connect(window.library_keeping.ask)
    page.wiggle_wanted.connect(window.begin_wiggle)
    page.watch_wanted.connect(lambda: window.watching.turn_on())
    page.stop_wanted.connect(window.files.stop)
    opening.progressed.connect(lambda share: page.progress.setValue(round(100 * share)))
    for shown in (page.progress, page.stop_button):
        opening.busy_changed.connect(shown.setVisible)
        shown.setVisible(opening.is_busy)
    # The answer itself is handed on right after the work has ended.
    opening.busy_changed.connect(lambda busy: None if busy else QTimer.singleShot(0, page.end_first_picture))
    return page


def make_capture_actions(window: Window) -> CaptureActions:
    """What the Captures page asks for, with the page."""
    from loomlight.viewer.capture_actions import CaptureActions

    page = make_captures_page(window)
    actions = CaptureActions(window.desk, window.opening, page, window.strip, window.settings, window)
    actions.page_wanted.connect(lambda: window.go_to(CAPTURES))
    return actions


def make_compare_page(window: Window) -> ComparePage:
    """The Compare page."""
    from loomlight.viewer.pages.compare_page import ComparePage

    page = ComparePage(window.desk, theme_of(window.settings), window.settings)
    page.failed.connect(window.strip.say_error)
    page.said.connect(window.strip.say)
    _join_panel(window, page.panel)
    page.captures_wanted.connect(window.files.ask)
    page.sample_wanted.connect(window.open_sample)
    page.keep_wanted.connect(window.library_keeping.ask)
    page.keeping.snapshot_taken.connect(window.snapshots.keep)
    page.keeping.export_wanted.connect(window.snapshots.export)
    window.recovery.follow(page)
    return page


def make_proof_page(window: Window) -> ProofPage:
    """The Proof page."""
    from loomlight.viewer.pages.proof_page import ProofPage

    page = ProofPage(window.desk, theme_of(window.settings))
    page.failed.connect(window.strip.say_error)
    page.said.connect(window.strip.say)
    _join_panel(window, page.panel)
    page.after_wanted.connect(window.files.ask_after)
    page.keeping.snapshot_taken.connect(window.snapshots.keep)
    page.keeping.export_wanted.connect(window.snapshots.export)
    return page


def make_library_page(window: Window) -> LibraryPage:
    """The Library page."""
    from loomlight.viewer.pages.library_page import LibraryPage

    page = LibraryPage(window.desk, theme_of(window.settings))
    page.failed.connect(window.strip.say_error)
    page.said.connect(window.strip.say)
    _join_panel(window, page.panel)
    page.captures_wanted.connect(lambda: window.go_to(CAPTURES))
    page.used.connect(lambda: window.go_to(COMPARE))
    page.offered.connect(lambda text, name, act: window.strip.say(text, offer=(name, act)))
    return page


def make_wiggle_page(window: Window) -> WigglePage:
    """The wiggle test in large letters."""
    from loomlight.viewer.pages.wiggle_page import WigglePage

    page, settings = WigglePage(window.desk, window.watching, theme_of(window.settings)), window.settings
    page.compare_wanted.connect(lambda: window.go_to(COMPARE))
    page.shown_changed.connect(window.watching.bar.hold_back)
    page.sound.setChecked(settings.wiggle_sound)
    page.sound.toggled.connect(lambda on: setattr(settings, "wiggle_sound", on))
    return page


def make_watching(window: Window) -> Watching:
    """The watched folder, with the Compare page that it compares on."""
    from loomlight.viewer.watching import Watching

    watching = Watching(window.desk, window.opening, window.compare_page, window.settings, window)
    watching.captures_wanted.connect(lambda: window.go_to(CAPTURES))
    watching.compare_wanted.connect(lambda: window.go_to(COMPARE))
    watching.bar.wiggle_wanted.connect(window.begin_wiggle)
    watching.folder.state_changed.connect(
        lambda: window.captures_page.watch_button.setVisible(not watching.folder.is_on)
    )
    return watching


def _join_panel(window: Window, panel: LanePanel) -> None:
    panel.said.connect(window.strip.say)
    panel.undo_offered.connect(lambda text: window.strip.say(text, offer=("Undo", panel.lanes.undo)))
    window.actions.changed.connect(panel.tools.renew_tips)


def _show_outside(path: Path) -> None:
    QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))
