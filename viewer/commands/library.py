"""``loomlight library``: keep and find known-good waveforms."""

import argparse
import sys
from dataclasses import fields
from pathlib import Path

from loomlight.signal.entry import Entry
from loomlight.signal.kinds.listing import kind_named
from loomlight.viewer.answers import entries_answer
from loomlight.viewer.commands.reading_options import add_reading_options, open_said
from loomlight.viewer.commands.sources import add_library_option, library_of
from loomlight.viewer.commands.text_output import print_answer

PLACE_FIELDS = ("vehicle", "system", "component", "connector", "pin", "note")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of ``library`` and its actions."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    add = actions.add_parser("add", help="keep one channel as a known-good; prints the entry's id")
    add.add_argument("file", type=Path, metavar="FILE")
    add.add_argument("--channel", required=True, metavar="NAME")
    add.add_argument("--kind", required=True, metavar="KIND")
    add.add_argument("--title", required=True, metavar="TEXT")
    for name in PLACE_FIELDS:
        add.add_argument(f"--{name}", default="", metavar="TEXT")
    add_reading_options(add)
    find = actions.add_parser("find", help="entries that hold all the words, newest first; all of them without words")
    find.add_argument("words", nargs="*", metavar="WORD")
    find.add_argument("--kind", metavar="KIND")
    show = actions.add_parser("show", help="all that is known about one entry")
    show.add_argument("entry", metavar="ENTRY", help="its id or its exact title")
    for action in (add, find, show):
        add_library_option(action)
        action.add_argument("--json", action="store_true", help="answer as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Run one action; ``find`` gives 1 where nothing was found."""
    return {"add": _add, "find": _find, "show": _show}[arguments.action](arguments)


def _add(arguments: argparse.Namespace) -> int:
    kind = kind_named(arguments.kind).key
    known = {name: getattr(arguments, name) for name in PLACE_FIELDS}
    entry = Entry(id="", title=arguments.title, kind=kind, channel="", **known)
    added = library_of(arguments).add(open_said(arguments.file, arguments), arguments.channel, entry)
    if arguments.json:
        print_answer(entries_answer((added,)))
    else:
        print(added.id)
    return 0


def _find(arguments: argparse.Namespace) -> int:
    kind = kind_named(arguments.kind).key if arguments.kind is not None else None
    library = library_of(arguments)
    found = library.find(" ".join(arguments.words), kind=kind)
    for problem in library.problems:
        sys.stderr.write(f"loomlight: {problem}\n")
    if arguments.json:
        print_answer(entries_answer(found))
    else:
        for entry in found:
            print(f"{entry.id}  {entry.title}  ({entry.kind}{', ' + entry.vehicle_text if entry.vehicle_text else ''})")
        if not found:
            print(f"No entry in {library.folder} holds these words.")
    return 0 if found else 1


def _show(arguments: argparse.Namespace) -> int:
    entry = library_of(arguments).resolve(arguments.entry)
    if arguments.json:
        print_answer(entries_answer((entry,)))
    else:
        for field in fields(Entry):
            value = getattr(entry, field.name)
            if value:
                print(f"{field.name.replace('_', ' '):12} {value}")
    return 0
