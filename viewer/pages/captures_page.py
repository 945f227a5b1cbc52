"""Captures: open files, see how they were read, say what each channel is for."""

import time
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QProgressBar,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.capture import Capture
from loomlight.signal.job import Stage
from loomlight.signal.progress import Progress, part
from loomlight.signal.pyramid import pyramid_of, reach
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Choice, Opened
from loomlight.viewer.desk import Desk
from loomlight.viewer.empty_page import empty_page, make_main
from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.halves import Halves, Part
from loomlight.viewer.how_it_was_read import HowItWasRead
from loomlight.viewer.icon import set_icon
from loomlight.viewer.join_offer import JoinOffer
from loomlight.viewer.lane_panel import LanePanel
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.pages.reading_panel import ReadingPanel
from loomlight.viewer.push_button import push_button
from loomlight.viewer.recent_menu import RecentButton
from loomlight.viewer.settings import Settings
from loomlight.viewer.theme import Theme
from loomlight.viewer.wording import channel_summary, reach_text

EMPTY = (
    "No capture is open. Press “Open capture”, or drop a CSV or HDF5 file from any oscilloscope onto this window. Nothing has "
    "to be set: how the file was read is shown here."
)
MOST_LANES = 8
SHORT_S = 0.3


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
        self._preview = Aside(self)
        self._preview_began_s = 0.0
        self._shown: Opened | None = None
        self.is_coarse = False
        self.panel = LanePanel(theme, memory=settings)
        self.reading = ReadingPanel(desk, theme)
        self._build()
        desk.captures_changed.connect(self.show_captures)
        desk.choice_changed.connect(self._show_uses)
        desk.job_changed.connect(self._show_stages)
        self.show_captures()

    def _build(self) -> None:
        top = FlowRow(gap=6, fills=True)
        self.open_button = push_button("Open capture", "Open CSV or HDF5 files", self.open_wanted.emit)
        self.recent_button = RecentButton(self._settings)
        self.recent_button.file_wanted.connect(self.file_wanted)
        self.recent_button.job_wanted.connect(self.job_wanted)
        self.progress = QProgressBar()
        self.progress.setRange(0, 100)
        self.progress.setMaximumWidth(260)
        self.progress.hide()
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
        self.progress.setAccessibleName("How far the file is read")
        self.stop_button = push_button("Stop reading", "Give up the file that is being read", self.stop_wanted.emit)
        self.stop_button.hide()
        top.addWidget(self.progress)
        self.preparing = QProgressBar()
        self.preparing.setRange(0, 100)
        self.preparing.setMaximumWidth(260)
        self.preparing.setFormat("Preparing the lanes: %p %")
        self.preparing.setAccessibleName("How far the lanes are prepared")
        self.preparing.hide()
        top.addWidget(self.preparing)
        self._preview.progressed.connect(self._show_preparing)
        self._preview.busy_changed.connect(lambda _busy: self.preparing.hide())
        top.addWidget(self.stop_button)
        self._uses = QLabel()
        self._uses.setObjectName("quiet")
        self._uses.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self._uses.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self._uses.setMinimumHeight(44)
        top.addWidget(self._uses)
        top.addWidget(self.compare_button)
        for button, icon in (
            (self.open_button, "open"),
            (self.watch_button, "watch"),
            (self.wiggle_button, "wiggle"),
        ):
            set_icon(button, icon)
        self.files = QListWidget()
        self.files.setAccessibleName("Open captures")
        self.files.currentRowChanged.connect(lambda row: self._select(row))
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
        column.addLayout(self._use_buttons())
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

    def _use_buttons(self) -> QVBoxLayout:
        rows = QVBoxLayout()
        self._use = {
            "suspect": push_button("■ Suspect", "Use this channel as the suspect", lambda: self._choose("suspect")),
            "good": push_button("● Known-good", "Use this channel as the known-good", lambda: self._choose("good")),
            "after": push_button(
                "▲ After repair", "Use this channel as the one after the repair", lambda: self._choose("after")
            ),
            "keep": push_button("Keep in library", "Keep this channel as a known-good waveform", self._keep),
            "set up": push_button("Set up channel", "Name, probe, current clamp, upside down, offset", self._set_up),
        }
        self.setup_button = self._use["set up"]
        self._use["reading"] = self.reading_button = push_button(
            "Change reading",
            "Look at the file's first rows, and say how they are to be read",
            self._ask_reading,
        )
        for name, icon in (("keep", "keep"), ("set up", "set-up"), ("reading", "reading")):
            set_icon(self._use[name], icon)
        for names in (("suspect", "good"), ("after", "keep"), ("set up", "reading")):
            row = QHBoxLayout()
            for name in names:
                row.addWidget(self._use[name], 1)
            rows.addLayout(row)
        return rows

    def show_captures(self) -> None:
        """List what lies on the desk; the newest is selected."""
        names = [opened.path for opened in self._desk.opened]
        known = [self.files.item(row).data(Qt.ItemDataRole.UserRole) for row in range(self.files.count())]
        if names == known and self._is_read_again():
            self._select(self.files.currentRow(), channel=self.channels.currentRow())
        elif names != known or self._newest_changed():
            self.files.blockSignals(True)
            self.files.clear()
            for opened in self._desk.opened:
                item = QListWidgetItem()
                item.setToolTip(str(opened.path))
                item.setData(Qt.ItemDataRole.UserRole, opened.path)
                self.files.addItem(item)
            self.files.blockSignals(False)
            self.files.setCurrentRow(self.files.count() - 1)
        self._show_stages()
        has = bool(self._desk.opened)
        if self._pages.currentWidget() is not self.reading:
            self._pages.setCurrentIndex(1 if has else 0)
        self.open_button.setVisible(has)
        self.compare_button.setVisible(has)
        self.wiggle_button.setVisible(has)
        self._show_uses()

    def _show_stages(self) -> None:
        """With a job open, say what each capture is for."""
        for row in range(self.files.count()):
            path = self.files.item(row).data(Qt.ItemDataRole.UserRole)
            kept = self._desk.job_capture(path)
            self.files.item(row).setText(f"{path.name}   ({kept.stage})" if kept is not None else path.name)

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
        for channel in capture.channels:
            item = QListWidgetItem(channel_summary(channel))
            item.setToolTip(channel_summary(channel))
            self.channels.addItem(item)
        self.channels.setCurrentRow(channel if channel in range(len(capture.channels)) else 0)
        self.how.show_capture(capture)
        self._show_questions(self._shown)
        shown, self._preview_began_s = self._shown, time.monotonic()
        self._preview.run(lambda progress: _preview(shown, progress), self._show_preview, self.failed.emit)

    def _show_questions(self, shown: Opened) -> None:
        """What is open about the reading stands on the button that answers it."""
        open_ones = len(shown.capture.questions) if shown.sort == "text" else 0
        text = {0: "Change reading", 1: "Answer 1 question"}.get(open_ones, f"Answer {open_ones} questions")
        self.reading_button.setText(text)
        self.reading_button.setEnabled(shown.sort != "own")
        make_main(self.reading_button, bool(open_ones))

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
        self.files.blockSignals(True)
        self.files.setCurrentRow(-1)
        self.files.blockSignals(False)
        self._shown = None
        self.channels.clear()
        self.channels.addItems([f"{path.name}: {channel.name} …" for channel in coarse.channels])
        self.how.show_capture(coarse)
        lanes = [
            Lane(
                one.name,
                (Trace(one, pyramid_of(one.samples), "other", f"{number}: {one.name}, coarse"),),
                unit=one.unit or "",
            )
            for number, one in enumerate(coarse.channels[:MOST_LANES], start=1)
        ]
        view = self.panel.lanes.view() if self.is_coarse else None
        self.is_coarse = True
        self.panel.show_lanes(lanes, {}, view=view)

    def end_first_picture(self) -> None:
        """Back to a capture that lies on the desk, where the long file could not be read to its end."""
        if self.is_coarse:
            self.is_coarse = False
            if self._shown is None:
                self.files.setCurrentRow(self.files.count() - 1)
                self._select(self.files.currentRow())
                self.show_captures()

    def _show_preparing(self, ticket: int, share: float) -> None:
        """How far a long capture is, the first time that it is seen; a short one is there before this could be read."""
        if ticket == self._preview.ticket and self._preview.is_busy:
            self.preparing.setValue(round(100 * share))
            if time.monotonic() - self._preview_began_s > SHORT_S:
                self.preparing.show()

    def _show_preview(self, shown: tuple[tuple[Lane, ...], tuple[str, ...]]) -> None:
        lanes, reaches = shown
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
        self._uses.setText("    ".join(words))
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

    def _keep(self) -> None:
        self.keep_wanted.emit(self._current())

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
        self._preview.close()


def _preview(opened: Opened, progress: Progress) -> tuple[tuple[Lane, ...], tuple[str, ...]]:
    """A lane for each of the first channels, and how far each channel reaches. For aside."""
    channels = opened.capture.channels
    lanes, reaches = [], []
    for number, channel in enumerate(channels, start=1):
        share = part(progress, (number - 1) / len(channels), number / len(channels))
        pyramid = pyramid_of(channel.samples, share)
        if number <= MOST_LANES:
            trace = Trace(channel, pyramid, "other", f"{number}: {channel.name}")
            lanes.append(Lane(channel.name, (trace,), unit=channel.unit or ""))
        reaches.append(reach_text(reach(channel.samples, pyramid), channel.unit))
        share(1.0)
    return tuple(lanes), tuple(reaches)
