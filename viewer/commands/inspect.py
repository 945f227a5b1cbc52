"""``loomlight inspect``: what is in a file and how it was read."""

import argparse
from pathlib import Path

from loomlight.signal.capture import Capture
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import finite_range
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.answers import capture_answer
from loomlight.viewer.commands.text_output import print_answer
from loomlight.viewer.wording import channel_summary


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of ``inspect``."""
    parser.add_argument("file", type=Path, metavar="FILE")
    parser.add_argument(
        "--json", action="store_true", help="answer as JSON; gaps and clipped are ranges of sample indices"
    )


def run(arguments: argparse.Namespace) -> int:
    """Print what is in the file."""
    capture = open_capture(arguments.file)
    if arguments.json:
        print_answer(capture_answer(capture, str(arguments.file)))
    else:
        print(_text(capture))
    return 0


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
