"""``loomlight library``: keep, find, change, share and check known-good waveforms."""

import argparse
import sys
from pathlib import Path

from loomlight.signal.entry import CONDITIONS, Entry, Value
from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import listed_kind
from loomlight.storage.library_match import like
from loomlight.storage.library_search import Wanted
from loomlight.viewer.answers import entries_answer, entry_answer
from loomlight.viewer.commands.library_changes import CHANGES, add_change_options
from loomlight.viewer.commands.library_sharing import SHARING, add_sharing_options
from loomlight.viewer.commands.reading_options import add_reading_options, open_said
from loomlight.viewer.commands.sources import add_library_option, library_of
from loomlight.viewer.commands.text_output import print_answer
from loomlight.viewer.entry_words import FIELDS, entry_lines, fit_text, meant_sentence, one_line

REPEATED = {"conditions": "condition", "tags": "tag"}
"""Fields with any number of words: the option is given once for each."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of ``library`` and its actions."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    add = actions.add_parser("add", help="keep one channel as a known-good; prints the entry's id")
    add.add_argument("file", type=Path, metavar="FILE")
    add.add_argument("--channel", required=True, metavar="NAME")
    add.add_argument("--kind", required=True, metavar="KIND")
    add.add_argument("--title", required=True, metavar="TEXT")
    add_field_options(add)
    add_reading_options(add)
    find = actions.add_parser("find", help="entries that hold all the words, newest first; all of them without words")
    find.add_argument("words", nargs="*", metavar="WORD")
    find.add_argument("--kind", metavar="KIND")
    find.add_argument("--vehicle", metavar="TEXT", help="only entries of this vehicle, as they write it")
    find.add_argument("--system", metavar="TEXT", help="only entries of this system")
    match = actions.add_parser("match", help="what in the library is like a channel, best first")
    match.add_argument("file", type=Path, metavar="FILE")
    match.add_argument("--channel", required=True, metavar="NAME")
    match.add_argument("--kind", metavar="KIND", help="only entries of this kind")
    match.add_argument("--most", type=int, default=5, metavar="N", help="how many at most (5)")
    add_reading_options(match)
    show = actions.add_parser("show", help="all that is known about one entry")
    show.add_argument("entry", metavar="ENTRY", help="its id or its exact title")
    own = [add, find, match, show]
    for action in (*own, *add_change_options(actions, add_field_options), *add_sharing_options(actions)):
        add_library_option(action)
        action.add_argument("--json", action="store_true", help="answer as JSON")


def add_field_options(parser: argparse.ArgumentParser) -> None:
    """An option for each thing that can be known about a waveform, beside title and kind."""
    for name, label in FIELDS:
        if name in REPEATED:
            known = f": {', '.join(CONDITIONS)}" if name == "conditions" else ""
            text = f"{label.lower()}{known}; once for each"
            parser.add_argument(f"--{REPEATED[name]}", dest=name, action="append", metavar="TEXT", help=text)
        elif name == "probe_factor":
            parser.add_argument("--probe-factor", type=_factor, metavar="FACTOR", help="already in the samples: 10")
        elif name not in ("title", "kind"):
            parser.add_argument(f"--{name.replace('_', '-')}", metavar="TEXT", help=label.lower())


def _factor(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        factor = float(text.lower().lstrip("x×").replace(",", "."))
    except ValueError:
        factor = 0.0
    if not 0 < factor < 1e6:
        raise argparse.ArgumentTypeError(f"{text!r} is no probe factor. Give a number above 0: 1, 10")
    return factor


def known_of(arguments: argparse.Namespace) -> dict[str, Value]:
    """What was said about an entry on the command line."""
    names = [name for name, _ in FIELDS]
    said = {name: getattr(arguments, name, None) for name in names}
    found: dict[str, Value] = {}
    for name, value in said.items():
        if value is not None:
            found[name] = tuple(one for one in value if one.strip()) if name in REPEATED else value
    if "kind" in found:
        found["kind"] = listed_kind(str(found["kind"])).key
    return found


def run(arguments: argparse.Namespace) -> int:
    """Run one action."""
    own = {"add": _add, "find": _find, "show": _show, "match": _match}
    if arguments.action in CHANGES:
        return CHANGES[arguments.action](arguments, known_of)
    return {**own, **SHARING}[arguments.action](arguments)


def _add(arguments: argparse.Namespace) -> int:
    entry = Entry(id="", channel="", **known_of(arguments))  # type: ignore[arg-type]
    added = library_of(arguments).add(open_said(arguments.file, arguments), arguments.channel, entry)
    if arguments.json:
        print_answer(entries_answer((added,)))
    else:
        print(added.id)
    return 0


def _find(arguments: argparse.Namespace) -> int:
    kind = listed_kind(arguments.kind).key if arguments.kind is not None else None
    library = library_of(arguments)
    found = library.search(Wanted(" ".join(arguments.words), kind, arguments.vehicle, arguments.system))
    for problem in library.problems:
        sys.stderr.write(f"loomlight: {problem}\n")
    entries = tuple(one.entry for one in found.listed)
    if arguments.json:
        meant = {"meant": {word: list(instead) for word, instead in found.meant}} if found.meant else {}
        print_answer(entries_answer(entries) | meant)
    else:
        if found.meant and entries:
            print(meant_sentence(found.meant))
        for entry in entries:
            print(one_line(entry))
        if not entries:
            print(f"No entry in {library.folder} holds these words.")
    return 0 if entries else 1


def _match(arguments: argparse.Namespace) -> int:
    kind = listed_kind(arguments.kind).key if arguments.kind is not None else ""
    if not 1 <= arguments.most <= 100:
        raise LoomlightError(f"--most {arguments.most} is no number of entries. Give 1 to 100.")
    channel = open_said(arguments.file, arguments).channel(arguments.channel)
    library = library_of(arguments)
    found = like(library, channel, kind=kind, most=arguments.most)
    if arguments.json:
        answers = [
            entry_answer(one.entry, fit=one.match.fit, sureness=one.match.sureness)
            | {"lined_up": one.match.lined_up, "lag_s": one.match.lag_s, "stretch": one.match.stretch}
            for one in found
        ]
        print_answer({"entries": answers})
    else:
        for one in found:
            how = fit_text(one.match.fit, one.match.sureness, lined_up=one.match.lined_up)
            print(f"{one_line(one.entry)}\n    {how}")
        if not found:
            print(f"Nothing in {library.folder} is like it.")
    return 0 if found else 1


def _show(arguments: argparse.Namespace) -> int:
    entry = library_of(arguments).resolve(arguments.entry)
    if arguments.json:
        print_answer(entries_answer((entry,)))
    else:
        print("\n".join(f"{name:18} {value}" for name, value in entry_lines(entry)))
    return 0
