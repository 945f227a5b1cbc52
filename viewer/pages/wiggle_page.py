"""Wiggle test: the loom is moved, the instrument saves, and the verdict is read from two metres."""

from datetime import datetime

from PySide6.QtCore import QTimer, Signal
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from loomlight.signal.wire_sketch import Stop
from loomlight.viewer.choice_box import ChoiceBox
from loomlight.viewer.desk import Desk
from loomlight.viewer.empty_page import empty_page
from loomlight.viewer.large_verdict import LargeVerdict
from loomlight.viewer.push_button import push_button
from loomlight.viewer.theme import Theme
from loomlight.viewer.tick_button import TickButton
from loomlight.viewer.watched_folder import WatchedFolder, watch_text
from loomlight.viewer.watching import Watching
from loomlight.viewer.wiggle_record import Told, quiet_sentence
from loomlight.viewer.wiggle_strip import WiggleStrip

NOTHING_COMPARED = (
    "A wiggle test needs something to hold each new capture against. Compare the suspect with a known-good one once; then "
    "come back, move the loom bit by bit, and let the instrument save a capture at each touch."
)
TROUBLE = ("gone", "silent", "back", "left", "writing")
SHORT_QUIET_S = 3


class WigglePage(QWidget):
    """Shows the wiggle test; what it judges comes from the watched folder."""

    compare_wanted = Signal()
    shown_changed = Signal(bool)
    said = Signal(str)

    def __init__(self, desk: Desk, watching: Watching, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk, self._watching, self._wiggle = desk, watching, watching.wiggle
        self._folder: WatchedFolder = watching.folder
        self.title = QLabel()
        self.title.setObjectName("pageTitle")
        self.title.setWordWrap(True)
        self.large = LargeVerdict(theme)
        self.strip = WiggleStrip(theme)
        self.quiet = QLabel()
        self.quiet.setObjectName("large")
        self.quiet.setWordWrap(True)
        self.quiet.setAccessibleName("How long nothing has arrived")
        self.sentence = QLabel()
        self.sentence.setWordWrap(True)
        self.sentence.setAccessibleName("The chosen verdict")
        self.held = ChoiceBox()
        self.held.setEditable(True)
        self.held.setAccessibleName("Held or moved now")
        self.sound = TickButton("Sound at a change", "One short tone of the system whenever the verdict changes")
        self._tick = QTimer(self)
        self._tick.setInterval(1000)
        self._tick.timeout.connect(self._show_quiet)
        self._build()
        self._wiggle.changed.connect(self.show_record)
        self._wiggle.turned.connect(self._turned)
        self._folder.state_changed.connect(self._show_quiet)
        self.strip.picked.connect(lambda _: self._show_sentence())
        self.show_record()

    def _build(self) -> None:
        top = QHBoxLayout()
        top.addWidget(self.title, 1)
        top.addWidget(self.sound)
        self.end_button = push_button(
            "End the test", "Watch on, and compare each export on the Compare page again", self.end
        )
        self.begin_button = push_button("Begin again", "Pin the comparison at hand and begin a new strip", self.begin)
        top.addWidget(self.begin_button)
        top.addWidget(self.end_button)
        held = QHBoxLayout()
        label = QLabel("&Held or moved now")
        label.setBuddy(self.held)
        edit = self.held.lineEdit()
        assert isinstance(edit, QLineEdit)
        edit.setPlaceholderText("such as: plug behind the glove box; stands under the verdicts that follow")
        edit.setAccessibleName("Held or moved now")
        self.held.editTextChanged.connect(self._hold)
        held.addWidget(label)
        held.addWidget(self.held, 1)
        steps = QHBoxLayout()
        self.back_button = push_button(
            "◀ Change", "The change before (Page up on the strip)", lambda: self.strip.step(-1, changes=True)
        )
        self.on_button = push_button(
            "Change ▶", "The next change (Page down on the strip)", lambda: self.strip.step(1, changes=True)
        )
        self.open_button = push_button(
            "Show in Compare", "Open this capture and compare it; with a job open it is kept there", self._open
        )
        steps.addWidget(self.sentence, 1)
        for button in (self.back_button, self.on_button, self.open_button):
            steps.addWidget(button)
        filled = QWidget()
        column = QVBoxLayout(filled)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top)
        column.addWidget(self.large, 1)
        column.addWidget(self.quiet)
        column.addLayout(held)
        column.addWidget(self.strip)
        column.addLayout(steps)
        self._pages = QStackedWidget()
        offer = ("Go to Compare", "Choose suspect and known-good, and press Compare", self.compare_wanted.emit)
        self._pages.addWidget(empty_page(NOTHING_COMPARED, (offer,)))
        self._pages.addWidget(filled)
        page = QVBoxLayout(self)
        page.setContentsMargins(8, 6, 8, 8)
        page.addWidget(self._pages)

    # The test

    def begin(self) -> None:
        """Pin what is compared, and watch the folder."""
        if self._wiggle.begin() and not self._folder.is_on:
            self._watching.turn_on()
        self.held.clear()
        self.held.addItems(["", *(f"{one.name} {one.pin}".strip() for one in self._stops())])
        self.held.setCurrentIndex(0)
        self.show_record()

    def end(self) -> None:
        """Judge no more here; the strip stays."""
        self._wiggle.end()

    def _stops(self) -> tuple[Stop, ...]:
        return self._desk.job.wire.stops if self._desk.job is not None else ()

    def _hold(self, text: str) -> None:
        self._wiggle.held = text.strip()

    def _turned(self, told: Told) -> None:
        if self.sound.isChecked():
            QApplication.beep()
        self.said.emit(self._wiggle.record.sentence(told))

    def _open(self) -> None:
        one = self._looked_at()
        if one is not None and one.answer != "not read":
            self._watching.show_told(one)

    # What is shown

    def show_record(self) -> None:
        """Show what was told so far."""
        wiggle = self._wiggle
        self._pages.setCurrentIndex(1 if wiggle.pinned is not None else 0)
        if wiggle.pinned is None:
            return
        self.title.setText(f"Wiggle test: {wiggle.pinned.title}   ({wiggle.record.summary()})")
        self.end_button.setVisible(wiggle.is_on)
        self.begin_button.setVisible(not wiggle.is_on)
        newest = next((one for one in reversed(wiggle.record.told) if one.answer != "not read"), None)
        if newest is not None:
            self.large.show_answer(newest.answer, f"{newest.words}   {newest.clock}")
        else:
            self.large.show_answer(None, "Move the loom, then save a capture.")
        self.strip.show_record(wiggle.record)
        has_changes = any(map(wiggle.record.is_change, wiggle.record.shown))
        self.back_button.setEnabled(has_changes)
        self.on_button.setEnabled(has_changes)
        self._show_sentence()
        self._show_quiet()

    def _looked_at(self) -> Told | None:
        shown = self._wiggle.record.shown
        return self.strip.chosen or (shown[-1] if shown else None)

    def _show_sentence(self) -> None:
        one = self._looked_at()
        self.sentence.setText(self._wiggle.record.sentence(one) if one is not None else "")
        self.open_button.setEnabled(one is not None and one.answer != "not read")

    def _show_quiet(self) -> None:
        """What the newest file came to where it was not read, what waits, how the folder stands, and for how long it is quiet."""
        wiggle, state = self._wiggle, self._folder.state
        told = wiggle.record.told
        if not wiggle.is_on or not self._folder.is_on:
            self._tick.stop()
            self.quiet.setText("The test has ended: what is saved now is not judged here.")
            return
        if self.isVisible() and not self._tick.isActive():
            self._tick.start()
        lines = []
        if told and told[-1].answer == "not read":
            lines.append(f"–  {told[-1].clock}  {told[-1].detail}")
        if wiggle.waiting:
            lines.append(f"{wiggle.waiting} being judged …")
        elif state.kind in TROUBLE:
            lines.append(watch_text(state, self._folder.folder))
        else:
            since = told[-1].when if told else wiggle.began
            seconds = (datetime.now().astimezone() - since).total_seconds()
            if seconds >= SHORT_QUIET_S or not told:
                lines.append(quiet_sentence(seconds, str(self._folder.folder), is_first=not told))
        self.quiet.setText("\n".join(lines) or "Ready for the next capture.")

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._show_quiet()
        self.shown_changed.emit(True)

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._tick.stop()
        self.shown_changed.emit(False)

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.large.set_theme(theme)
        self.strip.set_theme(theme)

    def close_work(self) -> None:
        """Stop what runs aside."""
        self._tick.stop()
        self._wiggle.close_work()
