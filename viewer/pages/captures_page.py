"""Captures: open files, see how they were read, say what each channel is for."""

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QLabel,
    QListWidget,
    QListWidgetItem,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.capture import Capture
from loomlight.signal.job import Stage
from loomlight.viewer.channel_preview import ChannelPreview, coarse_lanes, progress_bar
from loomlight.viewer.choice import Choice, Opened
from loomlight.viewer.desk import Desk
from loomlight.viewer.empty_page import empty_page, make_main
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.how_it_was_read import HowItWasRead
from loomlight.viewer.icon import set_icon
from loomlight.viewer.join_offer import JoinOffer
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.pages.capture_list import CaptureList
from loomlight.viewer.pages.channel_uses import ChannelUses
from loomlight.viewer.pages.reading_panel import ReadingPanel
from loomlight.viewer.push_button import push_button
from loomlight.viewer.recent_menu import RecentButton
from loomlight.viewer.settings import Settings
from loomlight.viewer.theme import Theme
from loomlight.viewer.wording import channel_summary

EMPTY = (
    "No capture is open. Press “Open capture”, or drop a CSV or HDF5 file from any oscilloscope onto this window. Nothing has "
    "to be set: how the file was read is shown here."
)


class CapturesPage(QWidget):
    """Shows what was opened and takes what each channel is for."""

    open_wanted = Signal()
    file_wanted = Signal(object)
    job_wanted = Signal(object)
    compare_wanted = Signal()
    keep_wanted = Signal(object)
    set_up_wanted = Signal(object, int)
    undo_wanted = Signal()
    watch_wanted = Signal()
    wiggle_wanted = Signal()
    stop_wanted = Signal()
    sample_wanted = Signal()
    failed = Signal(object)

    def __init__(self, desk: Desk, theme: Theme, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk, self._settings = desk, settings
        self._preview = ChannelPreview(self)
        self.preparing = self._preview.bar
        self._shown: Opened | None = None
        self.is_coarse = False
        self.panel = LanePanel(theme, memory=settings)
        self.reading = ReadingPanel(desk, theme)
        self.uses = ChannelUses()
        self.setup_button, self.reading_button = self.uses.setup_button, self.uses.reading_button
        self._build()
        self._preview.ready.connect(self._show_preview)
        self._preview.failed.connect(self.failed)
        self.files.currentRowChanged.connect(lambda row: self._select(row))
        self.uses.use_wanted.connect(self._choose)
        self.uses.keep_wanted.connect(lambda: self.keep_wanted.emit(self._current()))
        self.uses.set_up_wanted.connect(self._set_up)
        self.uses.reading_wanted.connect(self._ask_reading)
        desk.captures_changed.connect(self.show_captures)
        desk.choice_changed.connect(self._show_uses)
        desk.job_changed.connect(self.files.show_stages)
        self.show_captures()

    def _build(self) -> None:
        top = FlowRow(gap=6, fills=True)
        self.open_button = push_button("Open capture", "Open CSV or HDF5 files", self.open_wanted.emit)
        self.recent_button = RecentButton(self._settings)
        self.recent_button.file_wanted.connect(self.file_wanted)
        self.recent_button.job_wanted.connect(self.job_wanted)
        self.progress = progress_bar("How far the file is read")
        self.compare_button = push_button(
            "Go on to Compare ▶", "Lay the suspect over the known-good", self.compare_wanted.emit
        )
        top.addWidget(self.open_button)
        top.addWidget(self.recent_button)
        self.watch_button = push_button(
            "Watch a folder", "Open each new export that is saved into a folder, and compare it", self.watch_wanted.emit
        )
        top.addWidget(self.watch_button)
        self.wiggle_button = push_button(
            "Wiggle test",
            "A verdict in large letters on each new export, while the loom is moved",
            self.wiggle_wanted.emit,
        )
        top.addWidget(self.wiggle_button)
        self.stop_button = push_button("Stop reading", "Give up the file that is being read", self.stop_wanted.emit)
        self.stop_button.hide()
        top.addWidget(self.progress)
        top.addWidget(self.preparing)
        top.addWidget(self.stop_button)
        self._used = QLabel()
        self._used.setObjectName("quiet")
        self._used.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self._used.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self._used.setMinimumHeight(44)
        top.addWidget(self._used)
        top.addWidget(self.compare_button)
        for button, icon in (
            (self.open_button, "open"),
            (self.watch_button, "watch"),
            (self.wiggle_button, "wiggle"),
        ):
            set_icon(button, icon)
        self.files = CaptureList(self._desk)
        self.channels = QListWidget()
        self.channels.setAccessibleName("Channels of this capture")
        self.channels.setWordWrap(True)
        self.channels.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.how = HowItWasRead()
        side = Part()
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        for label, widget, share in (("Captures", self.files, 2), ("Channels", self.channels, 2)):
            column.addWidget(QLabel(label))
            column.addWidget(widget, share)
        column.addWidget(self.uses)
        column.addWidget(QLabel("How it was read"))
        column.addWidget(self.how, 3)
        halves = Halves(side, self.panel, sizes=(420, 830))
        page = QVBoxLayout(self)
        page.setContentsMargins(8, 6, 8, 8)
        page.addLayout(top)
        self.join_offer = JoinOffer()
        page.addWidget(self.join_offer)
        self._pages = QStackedWidget()
        self._pages.addWidget(
            empty_page(
                EMPTY,
                (
                    ("Open capture", "Open CSV or HDF5 files", self.open_wanted.emit),
                    ("Open the sample job", "A fresh copy; nothing of yours is touched", self.sample_wanted.emit),
                ),
            )
        )
        self._pages.addWidget(halves)
        self._pages.addWidget(self.reading)
        page.addWidget(self._pages, 1)

    def show_captures(self) -> None:
        """List what lies on the desk; the newest is selected."""
        names, known = [opened.path for opened in self._desk.opened], self.files.paths()
        if names == known and self._is_read_again():
            self._select(self.files.currentRow(), channel=self.channels.currentRow())
        elif names != known or self._newest_changed():
            self.files.show_captures(self._desk.opened)
        self.files.show_stages()
        has = bool(self._desk.opened)
        if self._pages.currentWidget() is not self.reading:
            self._pages.setCurrentIndex(1 if has else 0)
        self.open_button.setVisible(has)
        self.compare_button.setVisible(has)
        self.wiggle_button.setVisible(has)
        self._show_uses()

    def _newest_changed(self) -> bool:
        return bool(self._desk.opened) and self._shown not in self._desk.opened

    def _is_read_again(self) -> bool:
        """Whether the capture that is shown lies there with another reading or set-up."""
        row = self.files.currentRow()
        shown, there = self._shown, self._desk.opened[row] if 0 <= row < len(self._desk.opened) else None
        return shown is not None and there is not None and there is not shown and there.path == shown.path

    def _select(self, row: int, channel: int = 0) -> None:
        self._shown = self._desk.opened[row] if 0 <= row < len(self._desk.opened) else None
        self.channels.clear()
        if self._shown is None:
            self.how.show_capture(None)
            self.panel.show_lanes((), {})
            return
        capture = self._shown.capture
        for words in map(channel_summary, capture.channels):
            item = QListWidgetItem(words)
            item.setToolTip(words)
            self.channels.addItem(item)
        self.channels.setCurrentRow(channel if channel in range(len(capture.channels)) else 0)
        self.how.show_capture(capture)
        self.uses.show_questions(self._shown)
        self._preview.show_capture(self._shown)

    def ask_reading(self, path: Path, stage: Stage) -> None:
        """Show how a text file is read, and let the user say it otherwise."""
        self.reading.ask(path, stage=stage)
        self._pages.setCurrentWidget(self.reading)

    def undo(self) -> None:
        """Take back the last answer about the reading, or the last set-up."""
        if self._pages.currentWidget() is self.reading:
            self.reading.undo()
        else:
            self.undo_wanted.emit()

    def end_reading(self) -> None:
        """Back to the captures."""
        self._pages.setCurrentIndex(1 if self._desk.opened else 0)

    def _ask_reading(self) -> None:
        if self._shown is not None and self._shown.sort != "own":
            self.ask_reading(self._shown.path, self._shown.stage)

    def show_first_picture(self, path: Path, coarse: Capture) -> None:
        """Show what is known of a long file that is still being read."""
        if self._pages.currentWidget() is self.reading:
            return
        self._preview.cancel()
        self._pages.setCurrentIndex(1)
        self.files.choose_none()
        self._shown = None
        self.channels.clear()
        self.channels.addItems([f"{path.name}: {channel.name} …" for channel in coarse.channels])
        self.how.show_capture(coarse)
        view = self.panel.lanes.view() if self.is_coarse else None
        self.is_coarse = True
        self.panel.show_lanes(coarse_lanes(coarse), {}, view=view)

    def end_first_picture(self) -> None:
        """Back to a capture that lies on the desk, where the long file could not be read to its end."""
        if self.is_coarse:
            self.is_coarse = False
            if self._shown is None:
                self.files.setCurrentRow(self.files.count() - 1)
                self._select(self.files.currentRow())
                self.show_captures()

    def _show_preview(self, lanes: tuple[Lane, ...], reaches: tuple[str, ...]) -> None:
        name = f"captures {self._shown.path.name}" if self._shown is not None else ""
        self.panel.show_lanes(lanes, {}, name=name)
        for row, words in enumerate(reaches):
            item = self.channels.item(row)
            item.setText(f"{item.text()}, {words}")
            item.setToolTip(item.text())

    def _show_uses(self) -> None:
        chosen = self._desk.chosen
        words = [
            f"{marker} {one.channel.name}"
            for marker, one in (("■", chosen.suspect), ("●", chosen.good), ("▲", chosen.after))
            if one is not None
        ]
        self._used.setText("    ".join(words))
        self.compare_button.setEnabled(chosen.suspect is not None)
        make_main(self.compare_button, chosen.suspect is not None)
        make_main(self.open_button, chosen.suspect is None)

    def _current(self) -> Choice | None:
        row = self.channels.currentRow()
        if self._shown is None or not 0 <= row < len(self._shown.capture.channels):
            return None
        return self._shown.choices()[row]

    def _choose(self, use: str) -> None:
        choice = self._current()
        if choice is not None:
            self._desk.choose(**{use: choice})
            self._desk.note_stage(choice, use)

    def _set_up(self) -> None:
        if self._shown is not None and self._current() is not None:
            self.set_up_wanted.emit(self._shown, self.channels.currentRow())

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.panel.set_theme(theme)
        self.reading.set_theme(theme)

    def close_work(self) -> None:
        """Stop what runs aside."""
        self.panel.close_work()
        self.reading.close_work()
        self._preview.close_work()
