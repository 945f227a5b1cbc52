"""What the cursors read, under the lanes: the times at once, values and pulses as soon as they were read aside."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QVBoxLayout, QWidget

from loomlight.signal.errors import LoomlightError
from loomlight.signal.progress import Progress, part
from loomlight.signal.pulses import Pulses, pulses
from loomlight.signal.readings import Readings, readings
from loomlight.viewer.aside import Aside
from loomlight.viewer.lanes.lane_canvas import LaneCanvas
from loomlight.viewer.lanes.specs import Trace
from loomlight.viewer.log import logged
from loomlight.viewer.readings_text import all_text

LEAST_LINES = 5
MOST_SHARE = 0.18
"""Of the height of lanes and readings together; what is longer can be scrolled."""


class ReadingsBar(QWidget):
    """Reads the captured samples at the cursors of some lanes; holds only the last answers."""

    def __init__(self, lanes: LaneCanvas, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lanes = lanes
        self._reading, self._measuring = Aside(self), Aside(self)
        self._rows: list[tuple[Trace, Readings]] = []
        self._between: dict[int, Pulses] = {}
        self._asked: object = None
        self._text = QLabel()
        self._text.setAccessibleName("Readings of the cursors")
        self._text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._text.setTextFormat(Qt.TextFormat.PlainText)
        self._text.setWordWrap(True)
        self._text.setAlignment(Qt.AlignmentFlag.AlignTop)
        self._area = QScrollArea()
        self._area.setWidgetResizable(True)
        self._area.setFrameShape(QFrame.Shape.NoFrame)
        self._area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._area.setWidget(self._text)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._area)
        self.hide()
        self._share: float | None = None
        self._measuring.progressed.connect(self._show_share)
        lanes.cursors_changed.connect(self.read)

    def read(self) -> None:
        """Read anew where the cursors stand now."""
        first_s, second_s = self._lanes.cursors()
        levels = self._lanes.level_cursors()
        if not self._lanes.lanes or (not levels and (first_s is None or second_s is None)):
            self._give_up()
            self.hide()
            return
        # The uppermost trace of a lane first: it is what is asked about.
        traces = [trace for lane in self._lanes.lanes for trace in reversed(lane.all_traces)]
        asked = (first_s, second_s, [id(trace) for trace in traces])
        if asked != self._asked:  # a level cursor moves nothing that has to be read
            self._give_up()
            self._asked = asked
            if first_s is not None and second_s is not None:
                self._start(traces, (first_s, second_s))
        self._show()

    def _give_up(self) -> None:
        self._reading.cancel()
        self._measuring.cancel()
        self._rows, self._between, self._asked, self._share = [], {}, None, None

    def _start(self, traces: list[Trace], cursors_s: tuple[float, float]) -> None:
        # A long capture has many samples between its cursors: they are read aside, the newest place wins. Pulses take
        # several walks of them, so the values come first.
        self._reading.run(lambda progress: _read(traces, cursors_s, progress), self._take_rows, self._say_trouble)
        self._measuring.run(
            lambda progress: _measured(traces, cursors_s, progress), self._take_pulses, self._say_trouble
        )

    def _take_rows(self, rows: list[tuple[Trace, Readings]]) -> None:
        self._rows = rows
        self._show()

    def _take_pulses(self, found: dict[int, Pulses]) -> None:
        self._between, self._share = found, None
        self._show()

    def _show_share(self, ticket: int, share: float) -> None:
        if ticket == self._measuring.ticket and self._measuring.is_busy:
            self._share = share
            self._show()

    def _say_trouble(self, error: Exception) -> None:
        self._say(str(error) if isinstance(error, LoomlightError) else logged(error))

    def _show(self) -> None:
        levels = self._lanes.level_cursors()
        pairs = [
            (layer, levels[layer.key]) for lane in self._lanes.lanes for layer in lane.layers if layer.key in levels
        ]
        text = all_text(self._lanes.cursors(), pairs, self._rows, self._between)
        self._say(
            text if self._share is None else f"{text}\nReading what lies between A and B … {100 * self._share:.0f} %"
        )

    def renew(self) -> None:
        """Say it again: units were changed, or the letters."""
        if not self.isHidden():
            self._show()

    def lines(self) -> tuple[str, ...]:
        """What is shown now, a line each; nothing without cursors."""
        return () if self.isHidden() else tuple(map(str.strip, self._text.text().splitlines()))

    def _say(self, text: str) -> None:
        self._text.setText(text)
        spacing = self._text.fontMetrics().lineSpacing()
        most = max(int(MOST_SHARE * (self._lanes.height() + self._area.height())), LEAST_LINES * spacing)
        words = max(self._text.heightForWidth(self._area.viewport().width()), spacing)
        self._area.setFixedHeight(min(words, most // spacing * spacing) + 6)
        self.setVisible(not self._lanes.isHidden())

    def close_work(self) -> None:
        """Stop what runs aside."""
        self._reading.close()
        self._measuring.close()


def _own(trace: Trace, cursors_s: tuple[float, float]) -> tuple[float, float]:
    first_s, second_s = (trace.lag_s + trace.stretch * at_s for at_s in cursors_s)
    return first_s, second_s


def _read(traces: list[Trace], cursors_s: tuple[float, float], progress: Progress) -> list[tuple[Trace, Readings]]:
    rows = []
    for number, trace in enumerate(traces):
        share = part(progress, number / len(traces), (number + 1) / len(traces))
        rows.append((trace, readings(trace.channel, *_own(trace, cursors_s), share)))
    return rows


def _measured(traces: list[Trace], cursors_s: tuple[float, float], progress: Progress) -> dict[int, Pulses]:
    found = {}
    for number, trace in enumerate(traces):
        share = part(progress, number / len(traces), (number + 1) / len(traces))
        found[number] = pulses(trace.channel, *_own(trace, cursors_s), share)
    return found
