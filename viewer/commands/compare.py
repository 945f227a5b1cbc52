"""``loomlight compare``: line up, find, judge."""

import argparse
import importlib
from pathlib import Path

from loomlight.signal.comparison import Comparison, compare
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.answers import as_json, comparison_answer
from loomlight.viewer.commands.sources import (
    add_channel_option,
    add_judging_options,
    add_library_option,
    conditions_of,
    is_same_file,
    kind_of,
    known_good,
    library_of,
)
from loomlight.viewer.commands.text_output import comparison_text


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of ``compare``."""
    parser.add_argument("file", type=Path, metavar="FILE")
    add_channel_option(parser)
    parser.add_argument(
        "--good", required=True, metavar="FILE-or-ENTRY", help="the known-good: a file, an entry's id or title"
    )
    parser.add_argument("--good-channel", metavar="NAME", help="its channel, where the file has several")
    add_judging_options(parser)
    add_library_option(parser)
    parser.add_argument("--picture", type=Path, metavar="OUT.png", help="save an annotated picture as well")


def run(arguments: argparse.Namespace) -> int:
    """Print the verdict; 0 where nothing is wrong."""
    capture = open_capture(arguments.file)
    good = known_good(arguments.good, arguments.good_channel, library_of(arguments))
    kind = kind_of(arguments, good)
    conditions = conditions_of(arguments, capture, same_moment=is_same_file(arguments.file, good.path))
    found = compare(capture.channel(arguments.channel), good.channel, kind=kind, conditions=conditions)
    if arguments.picture is not None:
        _save_picture(arguments.picture, found, arguments.file.name, good.title)
    print(as_json(comparison_answer(found, str(arguments.file))) if arguments.json else comparison_text(found))
    return 0 if found.verdict.state == "clean" else 1


def _save_picture(path: Path, found: Comparison, file: str, good_title: str) -> None:
    snapshot = importlib.import_module("loomlight.viewer.snapshot")
    snapshot.save_comparison(path, found, file=file, good=good_title)
