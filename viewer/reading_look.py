"""A file as it is read with the answers given so far, ready to be shown: for aside."""

from dataclasses import dataclass
from pathlib import Path

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, part
from loomlight.signal.pyramid import pyramid_of
from loomlight.storage.open_capture import is_text, open_capture
from loomlight.storage.reading import Reading
from loomlight.storage.reading_preview import MOST_ROWS, PreviewRow, ReadingPreview, preview
from loomlight.storage.reading_questions import OpenQuestion, Question
from loomlight.storage.text_head import head_of
from loomlight.viewer.lanes.specs import Lane, Trace

MOST_LANES = 4
MOST_SIGNS = 400


@dataclass(frozen=True, eq=False)
class Looked:
    """What the reading panel shows of a file."""

    preview: ReadingPreview
    lanes: tuple[Lane, ...]


def looked(path: Path, reading: Reading, progress: Progress) -> Looked:
    """The first rows as they are read with these answers, ready to be drawn."""
    if is_text(path):
        try:
            shown = preview(path, reading)
        except FileProblem as error:
            shown = _without_table(reading, problem=str(error), rows=_first_rows(path))
    else:
        shown = _as_a_whole(path, reading, part(progress, 0.0, 0.5))
    progress(0.5)
    channels = shown.capture.channels[:MOST_LANES] if shown.capture is not None else ()
    lanes = []
    for number, channel in enumerate(channels, start=1):
        pyramid = pyramid_of(channel.samples, part(progress, 0.5, 1.0))
        trace = Trace(channel, pyramid, "other", f"{number}: {channel.name}")
        lanes.append(Lane(f"{number}", (trace,), unit=channel.unit or ""))
    return Looked(shown, tuple(lanes))


def _first_rows(path: Path) -> tuple[PreviewRow, ...]:
    """The first rows uncut, where no table was recognised: a person may still see where the data begin."""
    head = head_of(path)
    numbers = head.line_numbers(MOST_ROWS)
    return tuple(
        PreviewRow(number, (line[:MOST_SIGNS],), False) for number, line in zip(numbers, head.lines, strict=False)
    )


def _as_a_whole(path: Path, reading: Reading, progress: Progress) -> ReadingPreview:
    """A file without rows to look at: read as a whole, which for these is quick."""
    try:
        capture = open_capture(path, progress, reading=reading)
    except OpenQuestion as error:
        return _without_table(reading, problem=str(error), questions=(error.question,))
    except FileProblem as error:
        return _without_table(reading, problem=str(error))
    return _without_table(reading, capture=capture)


def _without_table(
    reading: Reading,
    *,
    problem: str = "",
    rows: tuple[PreviewRow, ...] = (),
    questions: tuple[Question, ...] = (),
    capture: Capture | None = None,
) -> ReadingPreview:
    return ReadingPreview(
        rows=rows,
        first_data_row=0,
        columns=(),
        time_column=0,
        questions=questions,
        layout=capture.layout if capture is not None else "rows as they stand in the file" if rows else "",
        notes=capture.notes if capture is not None else (),
        capture=capture,
        problem=problem,
        fingerprint="",
        reading=reading,
        options=reading.options(),
    )
