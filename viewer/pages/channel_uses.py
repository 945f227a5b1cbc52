"""What the chosen channel is for, and what else can be done with it: the buttons under the channels."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from loomlight.viewer.choice import Opened
from loomlight.viewer.empty_page import make_main
from loomlight.viewer.icon import set_icon
from loomlight.viewer.push_button import push_button

SUSPECT = ("■ Suspect", "Use this channel as the suspect")
GOOD = ("● Known-good", "Use this channel as the known-good")
AFTER = ("▲ After repair", "Use this channel as the one after the repair")
KEEP = ("Keep in library", "Keep this channel as a known-good waveform")
SET_UP = ("Set up channel", "Name, probe, current clamp, upside down, offset")
READING = ("Change reading", "Look at the file's first rows, and say how they are to be read")


class ChannelUses(QWidget):
    """Six buttons; `use_wanted` tells what the channel is to be used as, in the words of `Desk.choose`."""

    use_wanted = Signal(str)
    keep_wanted = Signal()
    set_up_wanted = Signal()
    reading_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.suspect_button = push_button(*SUSPECT, lambda: self.use_wanted.emit("suspect"))
        self.good_button = push_button(*GOOD, lambda: self.use_wanted.emit("good"))
        self.after_button = push_button(*AFTER, lambda: self.use_wanted.emit("after"))
        self.keep_button = push_button(*KEEP, self.keep_wanted.emit)
        self.setup_button = push_button(*SET_UP, self.set_up_wanted.emit)
        self.reading_button = push_button(*READING, self.reading_wanted.emit)
        for button, icon in (
            (self.keep_button, "keep"),
            (self.setup_button, "set-up"),
            (self.reading_button, "reading"),
        ):
            set_icon(button, icon)
        rows = QVBoxLayout(self)
        rows.setContentsMargins(0, 0, 0, 0)
        for pair in (
            (self.suspect_button, self.good_button),
            (self.after_button, self.keep_button),
            (self.setup_button, self.reading_button),
        ):
            row = QHBoxLayout()
            for button in pair:
                row.addWidget(button, 1)
            rows.addLayout(row)

    def show_questions(self, shown: Opened) -> None:
        """What is open about the reading stands on the button that answers it."""
        open_ones = len(shown.capture.questions) if shown.sort == "text" else 0
        text = {0: READING[0], 1: "Answer 1 question"}.get(open_ones, f"Answer {open_ones} questions")
        self.reading_button.setText(text)
        self.reading_button.setEnabled(shown.sort != "own")
        make_main(self.reading_button, bool(open_ones))
