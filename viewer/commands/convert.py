"""``loomlight convert``: a capture into our own file, or into a plain CSV."""

import argparse
from pathlib import Path

from loomlight.signal.capture import Capture
from loomlight.signal.errors import FileProblem
from loomlight.storage.capture_file import write_capture
from loomlight.storage.exact_counts import with_exact_counts
from loomlight.storage.plain_csv import write_csv
from loomlight.viewer.commands.reading_options import add_reading_options, open_said

OWN, PLAIN = (".h5", ".hdf5"), (".csv",)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of ``convert``."""
    parser.add_argument("source", type=Path, metavar="IN", help="any capture that can be opened")
    parser.add_argument(
        "target", type=Path, metavar="OUT", help="OUT.h5 for a Loomlight capture, OUT.csv for a plain table"
    )
    parser.add_argument("--replace", action="store_true", help="write over OUT where there is such a file already")
    add_reading_options(parser)


def run(arguments: argparse.Namespace) -> int:
    """Read the one, write the other."""
    source, target = arguments.source, arguments.target
    ending = target.suffix.lower()
    if ending not in (*OWN, *PLAIN):
        raise FileProblem(
            f"the ending {ending or 'is missing, which'} does not tell what to write",
            file=target,
            do="Name it OUT.h5 for a Loomlight capture or OUT.csv for a plain table",
        )
    _refuse_to_lose(source, target, replace=arguments.replace)
    capture = open_said(source, arguments)
    if ending in OWN:
        write_capture(target, with_exact_counts(capture))
    else:
        write_csv(target, capture)
    print(_said(capture, target))
    return 0


def _refuse_to_lose(source: Path, target: Path, *, replace: bool) -> None:
    if not target.exists():
        return
    if source.exists() and target.samefile(source):
        raise FileProblem("it would be written over itself", file=target, do="Choose another name for OUT")
    if not replace and target.is_file():
        raise FileProblem("there is such a file already", file=target, do="Choose another name, or add --replace")


def _said(capture: Capture, target: Path) -> str:
    count = len(capture.channels)
    lines = [f"{target}: {count} {'channel' if count == 1 else 'channels'} from {capture.source_name}"]
    clipped = [channel.name for channel in capture.channels if channel.clipped]
    if target.suffix.lower() in PLAIN and clipped:
        lines.append(f"  - {', '.join(clipped)}: what is beyond the range is written as the rail.")
    return "\n".join([*lines, *(f"  - {note}" for note in capture.notes)])
