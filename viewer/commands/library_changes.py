"""``loomlight library edit``, ``add-capture``, ``confirm``, ``delete``, ``bin``, ``restore``: what changes an entry."""

import argparse
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from loomlight.signal.entry import Entry, Value
from loomlight.signal.errors import LoomlightError
from loomlight.storage.library import Library
from loomlight.storage.library_bin import Binned
from loomlight.viewer.answers import Answer, entries_answer, entry_answer
from loomlight.viewer.commands.reading_options import add_reading_options, open_said
from loomlight.viewer.commands.sources import library_of
from loomlight.viewer.commands.text_output import print_answer
from loomlight.viewer.entry_words import binned_line, edit_text

Known = Callable[[argparse.Namespace], dict[str, Value]]


def add_change_options(actions: Any, add_field_options: Callable[[argparse.ArgumentParser], None]) -> list[Any]:
    """The parsers of these actions."""
    edit = actions.add_parser("edit", help="change what is known about an entry; an empty text clears a field")
    edit.add_argument("entry", metavar="ENTRY", help="its id or its exact title")
    edit.add_argument("--undo", action="store_true", help="take the last edit back instead")
    edit.add_argument("--title", metavar="TEXT")
    edit.add_argument("--kind", metavar="KIND")
    add_field_options(edit)
    further = actions.add_parser("add-capture", help="keep one more good capture of an entry, for its envelope")
    further.add_argument("entry", metavar="ENTRY")
    further.add_argument("file", type=Path, metavar="FILE")
    further.add_argument("--channel", required=True, metavar="NAME")
    further.add_argument("--note", default="", metavar="TEXT", help="what was different this time")
    further.add_argument("--confirmed", action="store_true", help="it may widen the envelope")
    add_reading_options(further)
    confirm = actions.add_parser("confirm", help="say that a further capture may widen the envelope")
    confirm.add_argument("entry", metavar="ENTRY")
    confirm.add_argument("number", type=int, metavar="NUMBER", help="2 is the first one after the entry's own")
    confirm.add_argument("--take-back", action="store_true", help="say that it may not")
    delete = actions.add_parser("delete", help="move an entry to the bin, where it is kept for 30 days")
    delete.add_argument("entry", metavar="ENTRY")
    binned = actions.add_parser("bin", help="what was deleted, and how long it is kept")
    restore = actions.add_parser("restore", help="bring a deleted entry back")
    restore.add_argument("entry", metavar="ENTRY", help="its id, the begin of it, or its exact title")
    return [edit, further, confirm, delete, binned, restore]


def _edit(arguments: argparse.Namespace, known: Known) -> int:
    library = library_of(arguments)
    entry, values = library.resolve(arguments.entry), known(arguments)
    if arguments.undo and values:
        raise LoomlightError("--undo takes the last edit back; give it alone.")
    if not arguments.undo and not values:
        raise LoomlightError("Say what is to be changed: --pin 7, --note TEXT…, or --undo.")
    changed = library.undo(entry) if arguments.undo else library.edit(entry, values)
    if changed.history == entry.history:
        return _told(arguments, changed, "It says so already; nothing was changed.")
    last = next((one for one in reversed(changed.history) if bool(one.undone) == arguments.undo), changed.history[-1])
    return _told(arguments, changed, edit_text(last))


def _add_capture(arguments: argparse.Namespace, known: Known) -> int:
    library = library_of(arguments)
    entry = library.resolve(arguments.entry)
    capture = open_said(arguments.file, arguments)
    changed = library.add_capture(entry, capture, arguments.channel, note=arguments.note)
    if arguments.confirmed:
        changed = library.confirm(changed, len(changed.more) - 1)
    return _told(arguments, changed, f"{changed.title}: {1 + len(changed.more)} captures")


def _confirm(arguments: argparse.Namespace, known: Known) -> int:
    library = library_of(arguments)
    entry = library.resolve(arguments.entry)
    if not 2 <= arguments.number <= 1 + len(entry.more):
        raise LoomlightError(
            f"“{entry.title}” has {1 + len(entry.more)} captures; only those after the first are confirmed, by number."
        )
    changed = library.confirm(entry, arguments.number - 2, confirmed=not arguments.take_back)
    confirmed = 1 + sum(one.confirmed for one in changed.more)
    return _told(arguments, changed, f"{changed.title}: {confirmed} of {1 + len(changed.more)} captures are confirmed")


def _delete(arguments: argparse.Namespace, known: Known) -> int:
    library = library_of(arguments)
    entry = library.resolve(arguments.entry)
    library.delete(entry)
    return _told(
        arguments, entry, f"{entry.title} is in the bin, and kept there for 30 days: library restore {entry.id}"
    )


def _told(arguments: argparse.Namespace, entry: Entry, text: str) -> int:
    if arguments.json:
        print_answer(entries_answer((entry,)))
    else:
        print(text)
    return 0


def _bin(arguments: argparse.Namespace, known: Known) -> int:
    found, now = library_of(arguments).binned(), datetime.now(UTC)
    if arguments.json:
        print_answer({"entries": [_binned_answer(one, now) for one in found]})
    else:
        print("\n".join(f"{one.stem}  {binned_line(one, now)}" for one in found) or "The bin is empty.")
    return 0


def _binned_answer(one: Binned, now: datetime) -> Answer:
    entry = one.entry or Entry(id="", title="", kind="", channel="")
    deleted = one.deleted.isoformat() if one.deleted is not None else None
    return entry_answer(entry) | {"id": one.stem, "deleted": deleted, "days_left": one.days_left(now)}


def _restore(arguments: argparse.Namespace, known: Known) -> int:
    library = library_of(arguments)
    one = _in_bin(library, arguments.entry)
    library.restore(one)
    title = one.entry.title if one.entry is not None else one.stem
    if arguments.json:
        print_answer({"entries": [_binned_answer(one, datetime.now(UTC))]})
    else:
        print(f"{title} is back in the library.")
    return 0


def _in_bin(library: Library, name: str) -> Binned:
    found = library.binned()
    titled = [one for one in found if one.entry is not None and one.entry.title == name]
    begun = [one for one in found if len(name) >= 8 and one.stem.startswith(name.lower())]
    matching = begun or titled
    if not matching:
        raise LoomlightError(f"The bin holds no entry {name!r}. See: loomlight library bin")
    if len({one.stem for one in matching}) > 1:
        raise LoomlightError(f"Several go by {name!r}. Use an id: {', '.join(one.stem for one in matching)}.")
    return matching[0]


CHANGES: dict[str, Callable[[argparse.Namespace, Known], int]] = {
    "edit": _edit,
    "add-capture": _add_capture,
    "confirm": _confirm,
    "delete": _delete,
    "bin": _bin,
    "restore": _restore,
}
