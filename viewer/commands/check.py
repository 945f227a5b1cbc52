"""``loomlight check``: judge one channel against its kind's limits."""

import argparse
from pathlib import Path

from loomlight.signal.comparison import check
from loomlight.viewer.answers import comparison_answer
from loomlight.viewer.commands.kinds import kind_of
from loomlight.viewer.commands.reading_options import add_reading_options, open_said
from loomlight.viewer.commands.sources import add_channel_option, add_judging_options, conditions_of
from loomlight.viewer.commands.tables import add_table_options, print_measures, save_frames
from loomlight.viewer.commands.text_output import comparison_text, print_answer


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of ``check``."""
    parser.add_argument("file", type=Path, metavar="FILE")
    add_channel_option(parser)
    add_judging_options(parser, with_good=False)
    add_table_options(parser)
    add_reading_options(parser)


def run(arguments: argparse.Namespace) -> int:
    """Print the verdict; 0 where nothing is wrong."""
    capture = open_said(arguments.file, arguments)
    channel = capture.channel(arguments.channel)
    kind = kind_of(arguments, channel)
    conditions = conditions_of(arguments, capture, kind=kind.key, same_moment=False)
    found = check(channel, kind=kind.key, conditions=conditions)
    save_frames(arguments, found)
    if arguments.json:
        print_answer(comparison_answer(found, str(arguments.file)))
    else:
        print("\n".join(part for part in (comparison_text(found), kind.told) if part))
        print_measures(arguments, found)
    return 0 if found.verdict.state == "clean" else 1
