"""``loomlight compare``: line up, find, judge."""

import argparse
import importlib
from pathlib import Path

from loomlight.signal.comparison import compare
from loomlight.signal.entry_envelope import envelope_for
from loomlight.signal.lineup import WAYS
from loomlight.viewer.answers import comparison_answer
from loomlight.viewer.commands.kinds import kind_of
from loomlight.viewer.commands.reading_options import add_reading_options, open_said, said_for_other
from loomlight.viewer.commands.sources import (
    add_channel_option,
    add_judging_options,
    add_library_option,
    add_picture_option,
    check_picture_place,
    conditions_of,
    good_besides_of,
    is_same_file,
    known_good,
    library_of,
    refuse_itself,
)
from loomlight.viewer.commands.tables import add_table_options, print_measures, save_frames
from loomlight.viewer.commands.text_output import comparison_text, print_answer


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of ``compare``."""
    parser.add_argument("file", type=Path, metavar="FILE")
    add_channel_option(parser)
    parser.add_argument(
        "--good", required=True, metavar="FILE-or-ENTRY", help="the known-good: a file, an entry's id or title"
    )
    parser.add_argument("--good-channel", metavar="NAME", help="its channel, where the file has several")
    parser.add_argument(
        "--by",
        choices=WAYS,
        default="auto",
        help="how to line up: by the shape of the whole, frame by frame (buses), cycle by cycle (what turns or repeats), or "
        "as the signal kind wants (auto)",
    )
    add_judging_options(parser)
    add_table_options(parser)
    add_library_option(parser)
    add_picture_option(parser, "an annotated picture")
    add_reading_options(parser, also="a known-good file that is laid out the same")


def run(arguments: argparse.Namespace) -> int:
    """Print the verdict; 0 where nothing is wrong."""
    check_picture_place(arguments.picture)
    capture = open_said(arguments.file, arguments)
    suspect = capture.channel(arguments.channel)
    reading = said_for_other(arguments.file, Path(arguments.good), arguments)
    good = known_good(arguments.good, arguments.good_channel, library_of(arguments), reading=reading)
    taken = kind_of(arguments, good.channel, good)
    kind = taken.key
    same_file = is_same_file(arguments.file, good.path)
    refuse_itself(suspect, good.channel, same_file=same_file)
    conditions = conditions_of(arguments, capture, kind=kind, same_moment=same_file)
    good_besides = good_besides_of(arguments, good, kind)
    envelope = envelope_for((good.channel, *good.further), kind, conditions)
    found = compare(
        suspect,
        good.channel,
        kind=kind,
        conditions=conditions,
        by=arguments.by,
        good_besides=good_besides,
        envelope=envelope.envelope,
    )
    if arguments.picture is not None:
        snapshot = importlib.import_module("loomlight.viewer.snapshot")
        picture = snapshot.comparison_of_files(
            found, file=arguments.file, good=good.heading, good_file=good.path, by=arguments.by
        )
        snapshot.save_picture(arguments.picture, picture, snapshot.size_of(arguments.picture_size))
    save_frames(arguments, found)
    if arguments.json:
        print_answer(comparison_answer(found, str(arguments.file)))
    else:
        # What the envelope rests on stands among the verdict's reasons; what is odd about it does not.
        odd = [one for one in envelope.told if not any(one in reason for reason in found.verdict.reasons)]
        print("\n".join(part for part in (comparison_text(found), taken.told, *odd) if part))
        print_measures(arguments, found)
    return 0 if found.verdict.state == "clean" else 1
