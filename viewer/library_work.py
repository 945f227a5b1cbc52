"""What the Library page has worked out aside: an entry's lanes, two entries laid over one another, what is alike."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.comparison import compare
from loomlight.signal.entry import EDITABLE, Entry
from loomlight.signal.entry_envelope import EntryEnvelope, envelope_for, with_one_to_confirm
from loomlight.signal.errors import LoomlightError
from loomlight.signal.examination import Conditions
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, part
from loomlight.signal.pyramid import pyramid_of
from loomlight.storage.library import Library
from loomlight.storage.library_files import confirmed_channels
from loomlight.storage.library_match import Like, like
from loomlight.viewer.entry_words import LABELS, fit_text, value_text
from loomlight.viewer.lanes.specs import Lane, Trace, laid_over
from loomlight.viewer.library_list import Row
from loomlight.viewer.roles import RoleKey
from loomlight.viewer.wording import lineup_sentence

NO_LIMIT_V = 1e9
"""Own limits need one; here nothing is judged."""


@dataclass(frozen=True, eq=False)
class Seen:
    """An entry that was opened: its lanes, its first capture, and what is told of its envelope."""

    lanes: tuple[Lane, ...]
    capture: Capture
    told: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class BesideOther:
    """Two entries: their lanes, how they line up, and what is said otherwise of them."""

    lanes: tuple[Lane, ...]
    text: str


def seen(library: Library, entry: Entry, progress: Progress) -> Seen:
    """Open an entry: a lane for each of its captures, the envelope of those that were confirmed over the first."""
    captures = library.captures(entry, part(progress, 0.0, 0.2))
    names = [entry.channel, *(one.channel for one in entry.more)]
    channels = [capture.channel(name) for capture, name in zip(captures, names, strict=False)]
    lanes = []
    for number, channel in enumerate(channels):
        share = part(progress, 0.2 + 0.3 * number / len(channels), 0.2 + 0.3 * (number + 1) / len(channels))
        title = entry.title if number == 0 else f"{number + 1}: {_further_title(entry, number - 1)}"
        role: RoleKey = "known-good" if number == 0 or entry.more[number - 1].confirmed else "other"
        trace = Trace(channel, pyramid_of(channel.samples, share), role, title)
        lanes.append(Lane(title, (trace,), unit=channel.unit or ""))
    known = _envelope(entry, captures, part(progress, 0.5, 1.0))
    if known.envelope is not None:
        ends = ((known.envelope.lower, "envelope, lower end"), (known.envelope.upper, "envelope, upper end"))
        band = tuple(Trace(one, pyramid_of(one.samples), "other", words) for one, words in ends)
        lanes[0] = replace(lanes[0], traces=(*band, *lanes[0].traces))
    return Seen(tuple(lanes), captures[0], known.told)


def _envelope(entry: Entry, captures: Sequence[Capture], progress: Progress) -> EntryEnvelope:
    """The entry's envelope, and what its newest capture would change where it is not confirmed yet."""
    confirmed, conditions = confirmed_channels(entry, captures), Conditions(upper_v=NO_LIMIT_V)
    known = envelope_for(confirmed, entry.kind, conditions, part(progress, 0.0, 0.5))
    if not entry.more or entry.more[-1].confirmed:
        return known
    newest = captures[-1].channel(entry.more[-1].channel)
    more = with_one_to_confirm(confirmed, newest, entry.kind, conditions, part(progress, 0.5, 1.0))
    return replace(known, told=(*known.told, more))


def _further_title(entry: Entry, place: int) -> str:
    one = entry.more[place]
    told = one.note or one.source_name or "further capture"
    return told if one.confirmed else f"{told} (not confirmed)"


def beside_other(library: Library, first: Entry, second: Entry, progress: Progress) -> BesideOther:
    """Lay one entry over another, where that can be done; else one under the other, with the reason."""
    one, other = (library.open(entry).channel(entry.channel) for entry in (first, second))
    lineup, told = _lined_up(one, other, first.kind if first.kind == second.kind else "own-limits", progress)
    titles = (first.title, second.title if second.title != first.title else f"{second.title} (2)")
    traces = [
        Trace(one, pyramid_of(one.samples), "other", f"1: {titles[0]}"),
        laid_over(other, pyramid_of(other.samples), lineup, role="known-good", label=titles[1]),
    ]
    unit = one.unit or ""
    if lineup is not None and lineup.accepted and one.unit == other.unit:
        lanes: tuple[Lane, ...] = (Lane(titles[0], tuple(traces), unit=unit),)
    else:
        lanes = (
            Lane(titles[0], (traces[0],), unit=unit),
            Lane(titles[1], (traces[1],), unit=other.unit or ""),
        )
    return BesideOther(lanes, "\n".join([told, *_differences(first, second)]))


def _lined_up(one: Channel, other: Channel, kind: str, progress: Progress) -> tuple[LineUp | None, str]:
    try:
        found = compare(one, other, kind=kind, conditions=Conditions(upper_v=NO_LIMIT_V), progress=progress)
    except LoomlightError as error:
        return None, f"Not laid over one another. {error}"
    return found.lineup, lineup_sentence(found.lineup)


def _differences(first: Entry, second: Entry) -> list[str]:
    names = [name for name in EDITABLE if getattr(first, name) != getattr(second, name)]
    if not names:
        return ["Both say the same."]
    rows = [
        f"{LABELS.get(name, name)}: {value_text(name, getattr(first, name)) or '–'}  |  "
        f"{value_text(name, getattr(second, name)) or '–'}"
        for name in names
    ]
    return [f"Said otherwise ({first.title} | {second.title}):", *rows]


def rows_like(library: Library, channel: Channel, progress: Progress, *, but: str = "") -> tuple[Row, ...]:
    """What in the library is like a channel, best first; the entry with the id ``but`` is not told of itself."""
    found = [one for one in like(library, channel, most=9, progress=progress) if one.entry.id != but]
    return tuple(Row(one.entry, one.listed, _fit_words(one)) for one in found)


def _fit_words(one: Like) -> str:
    return fit_text(one.match.fit, one.match.sureness, lined_up=one.match.lined_up)
