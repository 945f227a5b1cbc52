"""A capture that is looked at before it is compared: a lane for each of its first channels."""

import time

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QProgressBar

from loomlight.signal.capture import Capture
from loomlight.signal.progress import Progress, part
from loomlight.signal.pyramid import pyramid_of, reach
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Opened
from loomlight.viewer.lanes.specs import Lane, Trace
from loomlight.viewer.wording import reach_text

MOST_LANES = 8
SHORT_S = 0.3
"""Shorter work shows no bar."""
WIDEST_PIXELS = 260


def progress_bar(name: str) -> QProgressBar:
    """A bar that tells how far something is, hidden at first; ``name`` is read out."""
    bar = QProgressBar()
    bar.setRange(0, 100)
    bar.setMaximumWidth(WIDEST_PIXELS)
    bar.setAccessibleName(name)
    bar.hide()
    return bar


class ChannelPreview(QObject):
    """Prepares lanes aside; its bar shows how far a long capture is, the first time that it is seen.

    `ready` gives the lanes, and of each channel how far it reaches.
    """

    ready = Signal(object, object)
    failed = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._aside = Aside(self)
        self._began_s = 0.0
        self.bar = progress_bar("How far the lanes are prepared")
        self.bar.setFormat("Preparing the lanes: %p %")
        self._aside.progressed.connect(self._show_progress)
        self._aside.busy_changed.connect(lambda _busy: self.bar.hide())

    def show_capture(self, opened: Opened) -> None:
        """Prepare another capture's lanes."""
        self._began_s = time.monotonic()
        self._aside.run(
            lambda progress: _preview(opened, progress), lambda found: self.ready.emit(*found), self.failed.emit
        )

    def cancel(self) -> None:
        """Give up what is being prepared."""
        self._aside.cancel()

    def close_work(self) -> None:
        """Stop what runs aside."""
        self._aside.close()

    def _show_progress(self, ticket: int, share: float) -> None:
        """A short capture is there before the bar could be read."""
        if ticket == self._aside.ticket and self._aside.is_busy:
            self.bar.setValue(round(100 * share))
            if time.monotonic() - self._began_s > SHORT_S:
                self.bar.show()


def coarse_lanes(capture: Capture) -> list[Lane]:
    """Lanes of what is known of a long file that is still being read."""
    return [
        Lane(
            one.name,
            (Trace(one, pyramid_of(one.samples), "other", f"{number}: {one.name}, coarse"),),
            unit=one.unit or "",
        )
        for number, one in enumerate(capture.channels[:MOST_LANES], start=1)
    ]


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
