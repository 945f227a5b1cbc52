"""``loomlight inspect``: what is in a file and how it was read."""

import argparse
import shlex
import textwrap
from pathlib import Path

from loomlight.signal.capture import Capture
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import finite_range
from loomlight.storage.open_capture import is_text
from loomlight.storage.reading import Reading
from loomlight.storage.reading_memory import open_remembered, remembered_for
from loomlight.storage.reading_preview import preview
from loomlight.viewer.answers import capture_answer
from loomlight.viewer.commands.reading_options import add_reading_options, new_options, reading_of
from loomlight.viewer.commands.text_output import WIDTH, print_answer
from loomlight.viewer.wording import channel_summary

INDENT, FURTHER = " " * 4, " " * 6


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of ``inspect``."""
    parser.add_argument("file", type=Path, metavar="FILE")
    parser.add_argument(
        "--json", action="store_true", help="answer as JSON; gaps and clipped are ranges of sample indices"
    )
    add_reading_options(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print what is in the file."""
    reading = reading_of(arguments, arguments.file)
    capture = open_remembered(arguments.file, reading=reading)
    if arguments.json:
        print_answer(capture_answer(capture, str(arguments.file)))
        return 0
    lines = [_text(capture)]
    if capture.questions and is_text(arguments.file):
        lines += _open_questions(arguments.file, reading)
    if not reading.is_empty:
        lines.append(f"Read as you said: {shlex.join(reading.options())}")
    print("\n".join(lines))
    return 0


def _open_questions(path: Path, reading: Reading) -> list[str]:
    """What the file leaves open, with the options that answer it."""
    said = reading if not reading.is_empty else remembered_for(path)
    lines = []
    for question in preview(path, said).questions:
        answers = [shlex.join(new_options(offer.reading, said)) for offer in question.offers]
        lines.append(f"  ? {question.text} Taken: {question.guess or 'nothing'}.")
        lines.append(
            textwrap.fill(f"Answer: {' | '.join(answers)}", WIDTH, initial_indent=INDENT, subsequent_indent=FURTHER)
        )
    return lines


def _text(capture: Capture) -> str:
    lines = [f"{capture.source_name}: {capture.layout}"]
    for number, channel in enumerate(capture.channels, start=1):
        reach = finite_range(channel.samples)
        levels = (
            f", from {in_words(reach[0], channel.unit or '')} to {in_words(reach[1], channel.unit or '')}"
            if reach
            else ""
        )
        lines.append(f"  #{number} {channel_summary(channel)}{levels}")
    return "\n".join([*lines, *(f"  - {note}" for note in capture.notes)])
