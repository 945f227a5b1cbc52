"""What the judging commands share: files, channels, known-goods and conditions from their options."""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from loomlight.signal.beside import Beside, role_named
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.entry import Entry
from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.listing import KINDS, OWN_LIMITS, kind_named
from loomlight.signal.limit_curve import OwnLimits
from loomlight.signal.setting import setting_named
from loomlight.storage.limits_store import LimitsStore, read_limits
from loomlight.storage.picture_data import NoPicture, data_of
from loomlight.storage.reading import Reading
from loomlight.storage.reading_memory import open_remembered
from loomlight.viewer.library_place import own_library_folder

if TYPE_CHECKING:
    from loomlight.storage.library import Library

LEAST_PIXELS, MOST_PIXELS = (900, 800), 8000
SVG_TITLE = b"<title>Loomlight snapshot</title>"
"""What our drawings begin with."""


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
    capture : Capture or None
        All of its file or entry.
    further : tuple of Channel
        Of an entry: its other captures that were confirmed, for the envelope.
    """

    channel: Channel
    path: Path | None
    kind: str | None
    title: str
    capture: Capture | None = None
    further: tuple[Channel, ...] = ()

    @property
    def heading(self) -> str:
        """Title and channel, for a picture's title block."""
        return f"{self.title} ({self.channel.name})"


def add_channel_option(parser: argparse.ArgumentParser) -> None:
    """``--channel``."""
    parser.add_argument(
        "--channel",
        required=True,
        metavar="NAME",
        help="the suspect channel: its exact name, else the only one alike but for case, else #1 by number",
    )


def add_judging_options(parser: argparse.ArgumentParser, *, with_good: bool = True) -> None:
    """Signal kind, supply, own limits, output."""
    parser.add_argument("--kind", metavar="KIND", help=f"what the wire carries: {' '.join(kind.key for kind in KINDS)}")
    parser.add_argument(
        "--supply",
        metavar="VOLTS-or-CHANNEL",
        help="voltage at the node's supply pin, in volts or as a channel of the same file; the limits of LIN are "
        "shares of what is left behind the node's reverse-polarity diode, taken as 0.7 V less",
    )
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="KEY=VALUE",
        help="a figure of the signal kind that you know better, in its base unit; may be given several times",
    )
    parser.add_argument(
        "--beside",
        action="append",
        default=[],
        metavar="ROLE=CHANNEL",
        help="a channel of the same file that stands beside the judged one, such as a current clamp or the other wire",
    )
    if with_good:
        parser.add_argument(
            "--good-beside",
            action="append",
            default=[],
            metavar="ROLE=CHANNEL",
            help="the same for the known-good's file",
        )
    parser.add_argument("--upper", type=_level, metavar="V", help="own limits: no sample above this")
    parser.add_argument("--lower", type=_level, metavar="V", help="own limits: no sample below this")
    parser.add_argument(
        "--limits", metavar="NAME-or-FILE", help="own limits that were kept under a name, curves among them"
    )
    if with_good:
        parser.add_argument(
            "--within", type=_level, metavar="V", help="own limits: at most this far from the known-good"
        )
    parser.add_argument("--json", action="store_true", help="answer as JSON")


def _level(text: str) -> float:
    """A finite number, with a decimal point or a decimal comma."""
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise argparse.ArgumentTypeError(f"{text!r} is no level. Give a number")
    return value


def add_picture_option(parser: argparse.ArgumentParser, which: str) -> None:
    """``--picture`` and its size."""
    parser.add_argument("--picture", type=Path, metavar="OUT.png", help=f"save {which} as well; OUT.svg for a drawing")
    parser.add_argument(
        "--picture-size",
        type=_picture_size,
        default=(0, 0),
        metavar="SIZE",
        help="print (300 dots an inch), or WIDTHxHEIGHT in pixels (1600x1130)",
    )


def _picture_size(text: str) -> tuple[int, int] | None:
    """Width and height in pixels; None for print."""
    if text == "print":
        return None
    width, _, height = text.partition("x")
    found = (int(width), int(height)) if width.isdecimal() and height.isdecimal() else (0, 0)
    if not all(least <= one <= MOST_PIXELS for least, one in zip(LEAST_PIXELS, found, strict=True)):
        raise argparse.ArgumentTypeError(
            f"{text!r} is no size. Give print, or a size from {LEAST_PIXELS[0]}x{LEAST_PIXELS[1]} to "
            f"{MOST_PIXELS}x{MOST_PIXELS}"
        )
    return found


def check_picture_place(path: Path | None) -> None:
    """Refuse a place for a picture before the work is done, and so that nothing of the person's is written over.

    Raises
    ------
    FileProblem
        If it is no ``.png`` or ``.svg``, its folder is missing, or a file stands there that is no snapshot of ours.
    """
    if path is None:
        return
    if path.suffix.lower() not in (".png", ".svg"):
        raise FileProblem("pictures are saved as PNG or SVG", file=path, do="Choose a name that ends in .png or .svg")
    if not path.parent.is_dir():
        raise FileProblem(f"the folder {path.parent} is not there", file=path, do="Create it or choose another place")
    if path.exists() and not _is_snapshot(path):
        raise FileProblem("something else stands there, and is kept", file=path, do="Choose another name")


def _is_snapshot(path: Path) -> bool:
    try:
        if path.suffix.lower() == ".svg":
            with path.open("rb") as file:
                return SVG_TITLE in file.read(4096)
        return data_of(path.read_bytes()) is not None
    except (OSError, NoPicture):
        return False


def add_library_option(parser: argparse.ArgumentParser) -> None:
    """``--library``."""
    parser.add_argument(
        "--library",
        type=Path,
        metavar="FOLDER",
        help="another library than your own, which is in the folder of LOOMLIGHT_LIBRARY, else of the window's settings",
    )


def library_of(arguments: argparse.Namespace) -> Library:
    """The library that was asked for."""
    from loomlight.storage.library import Library

    return Library(arguments.library or own_library_folder())


def known_good(name: str, channel_name: str | None, library: Library, *, reading: Reading | None = None) -> KnownGood:
    """A path that exists comes first, read as was said; else an entry's id or exact title.

    Raises
    ------
    LoomlightError
        If it is neither, or the file has several channels and none was named.
    """
    path = Path(name)
    if path.exists():
        from loomlight.storage.capture_file import is_capture_file, read_entry

        capture = open_remembered(path, reading=reading)
        entry = read_entry(path) if is_capture_file(path) else None
        return KnownGood(_chosen(capture, channel_name, entry), path, entry.kind if entry else None, path.name, capture)
    from loomlight.storage.library_files import confirmed_channels

    entry = library.resolve(name)
    library.note_used(entry)
    captures = library.captures(entry)
    further = confirmed_channels(entry, captures)[1:]
    channel = _chosen(captures[0], channel_name, entry)
    return KnownGood(channel, None, entry.kind, entry.title, captures[0], further)


def _chosen(capture: Capture, channel_name: str | None, entry: Entry | None) -> Channel:
    if channel_name is not None:
        return capture.channel(channel_name)
    if entry is not None:
        return capture.channel(entry.channel)
    if len(capture.channels) == 1:
        return capture.channels[0]
    names = ", ".join(channel.name for channel in capture.channels)
    raise LoomlightError(f"{capture.source_name} has several channels ({names}). Name one with --good-channel.")


def conditions_of(arguments: argparse.Namespace, capture: Capture, *, kind: str, same_moment: bool) -> Conditions:
    """What is known beside the samples.

    Raises
    ------
    LoomlightError
        If own limits were given for a kind that has its own, or the supply is none.
    """
    own = {name: getattr(arguments, name, None) for name in ("upper", "lower", "within")}
    kept = limits_of(arguments)
    given = [f"--{name}" for name, value in own.items() if value is not None]
    given += ["--limits"] if kept is not None else []
    if given and kind != OWN_LIMITS.key:
        raise LoomlightError(
            f"{' and '.join(given)} would not be used: {kind} brings its own limits. Leave it out, or give --kind own-limits."
        )
    return Conditions(
        settings=_settings(arguments.set, kind),
        besides=besides_of(arguments.beside, capture, kind),
        supply_v=_supply(arguments.supply, capture),
        same_moment=same_moment,
        upper_v=own["upper"] if own["upper"] is not None or kept is None else kept.upper_level,
        lower_v=own["lower"] if own["lower"] is not None or kept is None else kept.lower_level,
        within_v=own["within"] if own["within"] is not None or kept is None else kept.within,
        upper_curve=kept.upper if kept is not None else None,
        lower_curve=kept.lower if kept is not None else None,
        curves_on_good=kept is not None and kept.on_good,
    )


def limits_of(arguments: argparse.Namespace) -> OwnLimits | None:
    """The own limits that were named: a path that exists comes first, else a name in the library.

    Raises
    ------
    LoomlightError
        If there are none.
    """
    if arguments.limits is None:
        return None
    path = Path(arguments.limits)
    if path.is_file():
        return read_limits(path)
    folder = getattr(arguments, "library", None) or own_library_folder()
    return LimitsStore(folder).named(arguments.limits)


def _settings(given: list[str], kind: str) -> tuple[tuple[str, float], ...]:
    found = {}
    for one in given:
        key, _, text = one.partition("=")
        setting = setting_named(kind_named(kind).settings, key.strip(), kind)
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            raise LoomlightError(f"--set {one}: {text!r} is no number. Write {setting.key}=VALUE.") from None
        found[setting.key] = setting.checked(value)
    return tuple(found.items())


def besides_of(given: list[str], capture: Capture, kind: str) -> tuple[Beside, ...]:
    """Channels beside, as given in ``ROLE=CHANNEL``.

    Raises
    ------
    LoomlightError
        If the kind has no such role, the file no such channel, its unit is another, or a role was given twice.
    """
    found: dict[str, Beside] = {}
    for one in given:
        key, _, name = one.partition("=")
        role = role_named(kind_named(kind).roles, key.strip(), kind)
        channel = capture.channel(name)
        if channel.unit not in (None, role.unit):
            raise LoomlightError(f"{role.title} is in {role.unit}, but {channel.name!r} is in {channel.unit}.")
        if role.key in found:
            raise LoomlightError(f"{role.title} was given twice. Give it once.")
        found[role.key] = Beside(role.key, channel)
    return tuple(found.values())


def good_besides_of(arguments: argparse.Namespace, good: KnownGood, kind: str) -> tuple[Beside, ...]:
    """What stands beside the known-good, from its own file or entry."""
    if not arguments.good_beside:
        return ()
    if good.capture is None:
        raise LoomlightError(f"{good.title} has no channels beside. Leave --good-beside out.")
    return besides_of(arguments.good_beside, good.capture, kind)


def _supply(text: str | None, capture: Capture) -> float | None:
    if text is None:
        return None
    try:
        volts = float(text.replace(",", "."))
    except ValueError:
        from loomlight.signal.supply import supply_of_channel

        return supply_of_channel(capture.channel(text))
    if not 5.0 <= volts <= 40.0:
        raise LoomlightError(f"A supply of {text} V is none that a vehicle has. Give 5 to 40 V, or a channel's name.")
    return volts


def refuse_itself(suspect: Channel, good: Channel, *, same_file: bool) -> None:
    """A channel laid over itself says nothing.

    Raises
    ------
    LoomlightError
        If both are one channel of one file.
    """
    if same_file and suspect.name == good.name:
        raise LoomlightError(
            f"{suspect.name!r} would be compared with itself. Choose another channel or another file as the known-good."
        )


def is_same_file(one: Path, other: Path | None) -> bool:
    """Whether two paths are one file: its channels were recorded together."""
    return other is not None and other.exists() and one.exists() and one.samefile(other)
