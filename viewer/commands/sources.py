"""What the judging commands share: files, channels, known-goods and conditions from their options."""

import argparse
from dataclasses import dataclass
from pathlib import Path

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.entry import Entry
from loomlight.signal.errors import LoomlightError
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.listing import KINDS, kind_named
from loomlight.signal.supply import supply_of_channel
from loomlight.storage.capture_file import is_capture_file, read_entry
from loomlight.storage.library import Library
from loomlight.storage.open_capture import open_capture
from loomlight.storage.places import library_folder


@dataclass(frozen=True, eq=False)
class KnownGood:
    """The channel to lay the suspect over, and where it comes from.

    Attributes
    ----------
    channel : Channel
        The known-good channel.
    path : Path or None
        Its file; None for a library entry.
    kind : str or None
        Key of the signal kind, where an entry tells it.
    title : str
        How to name it to a person.
    """

    channel: Channel
    path: Path | None
    kind: str | None
    title: str


def add_channel_option(parser: argparse.ArgumentParser) -> None:
    """``--channel``."""
    parser.add_argument(
        "--channel",
        required=True,
        metavar="NAME",
        help="the suspect channel: its exact name, else the only one alike but for case, else #1 by number",
    )


def add_judging_options(parser: argparse.ArgumentParser) -> None:
    """Signal kind, supply, own limits, output."""
    parser.add_argument("--kind", metavar="KIND", help=f"what the wire carries: {' '.join(kind.key for kind in KINDS)}")
    parser.add_argument(
        "--supply",
        metavar="VOLTS-or-CHANNEL",
        help="supply voltage at the node, in volts or as a channel of the same file",
    )
    parser.add_argument("--upper", type=float, metavar="V", help="own limits: no sample above this")
    parser.add_argument("--lower", type=float, metavar="V", help="own limits: no sample below this")
    parser.add_argument("--within", type=float, metavar="V", help="own limits: at most this far from the known-good")
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def add_library_option(parser: argparse.ArgumentParser) -> None:
    """``--library``."""
    parser.add_argument("--library", type=Path, metavar="FOLDER", help="another library than your own")


def library_of(arguments: argparse.Namespace) -> Library:
    """The library that was asked for."""
    return Library(arguments.library or library_folder())


def known_good(name: str, channel_name: str | None, library: Library) -> KnownGood:
    """A path that exists comes first; else an entry's id or exact title.

    Raises
    ------
    LoomlightError
        If it is neither, or the file has several channels and none was named.
    """
    path = Path(name)
    if path.exists():
        capture = open_capture(path)
        entry = read_entry(path) if is_capture_file(path) else None
        return KnownGood(_chosen(capture, channel_name, entry), path, entry.kind if entry else None, path.name)
    entry = library.resolve(name)
    return KnownGood(_chosen(library.open(entry), channel_name, entry), None, entry.kind, entry.title)


def _chosen(capture: Capture, channel_name: str | None, entry: Entry | None) -> Channel:
    if channel_name is not None:
        return capture.channel(channel_name)
    if entry is not None:
        return capture.channel(entry.channel)
    if len(capture.channels) == 1:
        return capture.channels[0]
    names = ", ".join(channel.name for channel in capture.channels)
    raise LoomlightError(f"{capture.source_name} has several channels ({names}). Name one with --good-channel.")


def kind_of(arguments: argparse.Namespace, good: KnownGood | None = None) -> str:
    """The signal kind that was asked for, else the entry's.

    Raises
    ------
    LoomlightError
        If neither is known, naming the kinds there are.
    """
    if arguments.kind is not None:
        return kind_named(arguments.kind).key
    if good is not None and good.kind:
        return kind_named(good.kind).key
    known = ", ".join(kind.key for kind in KINDS)
    raise LoomlightError(f"Say what the wire carries with --kind: {known}.")


def conditions_of(arguments: argparse.Namespace, capture: Capture, *, same_moment: bool) -> Conditions:
    """What is known beside the samples."""
    return Conditions(
        supply_v=_supply(arguments.supply, capture),
        same_moment=same_moment,
        upper_v=arguments.upper,
        lower_v=arguments.lower,
        within_v=arguments.within,
    )


def _supply(text: str | None, capture: Capture) -> float | None:
    if text is None:
        return None
    try:
        volts = float(text)
    except ValueError:
        return supply_of_channel(capture.channel(text))
    if not 5.0 <= volts <= 40.0:
        raise LoomlightError(f"A supply of {text} V is none that a vehicle has. Give 5 to 40 V, or a channel's name.")
    return volts


def is_same_file(one: Path, other: Path | None) -> bool:
    """Whether two paths are one file: its channels were recorded together."""
    return other is not None and other.exists() and one.exists() and one.samefile(other)
