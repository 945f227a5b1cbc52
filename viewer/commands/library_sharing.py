"""``loomlight library export``, ``import``, ``verify``, ``add-starter``: what concerns many entries."""

import argparse
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from loomlight.sample_captures.starter import add_starter
from loomlight.signal.errors import LoomlightError
from loomlight.storage.library_export import export
from loomlight.storage.library_import import Incoming, arriving, take
from loomlight.storage.library_verify import verify
from loomlight.viewer.answers import entries_answer
from loomlight.viewer.commands.sources import library_of
from loomlight.viewer.commands.text_output import print_answer
from loomlight.viewer.entry_words import LABELS, one_line


def add_sharing_options(actions: Any) -> list[Any]:
    """The parsers of these actions."""
    out = actions.add_parser("export", help="write chosen entries into one zip file to share")
    out.add_argument("entries", nargs="*", metavar="ENTRY", help="ids or exact titles")
    out.add_argument("out", type=Path, metavar="OUT.zip")
    out.add_argument("--all", action="store_true", help="every entry")
    out.add_argument(
        "--private", action="store_true", help="with VIN, owner, serials, who judged it, source files and histories"
    )
    into = actions.add_parser("import", help="take entries from a zip file or another library's folder")
    into.add_argument("source", type=Path, metavar="ZIP-or-FOLDER")
    into.add_argument("--only-look", action="store_true", help="say what is new, the same or different; take nothing")
    into.add_argument(
        "--different",
        choices=("keep", "take", "both"),
        default="keep",
        help="where an entry stands here in another state: keep this one (usual), take theirs (this one goes to the bin), "
        "or have both",
    )
    verifying = actions.add_parser("verify", help="check every file, the bin and the index")
    starter = actions.add_parser("add-starter", help="add a few simulated entries, marked as such, to begin with")
    return [out, into, verifying, starter]


def _export(arguments: argparse.Namespace) -> int:
    library = library_of(arguments)
    if arguments.out.suffix.lower() != ".zip":
        raise LoomlightError(
            f"{arguments.out} does not end in .zip. Name the zip file last: library export ENTRY OUT.zip"
        )
    if bool(arguments.entries) == arguments.all:
        raise LoomlightError("Say which entries: ids or exact titles before OUT.zip, or --all.")
    entries = library.all() if arguments.all else [library.resolve(name) for name in arguments.entries]
    if not entries:
        raise LoomlightError(f"The library in {library.folder} is empty; there is nothing to export.")
    done = export(library, tuple(dict.fromkeys(entries)), arguments.out, private=arguments.private)
    if arguments.json:
        print_answer(entries_answer(done.entries) | {"file": str(done.path)})
    else:
        kept_back = "" if arguments.private else "; personal data left out"
        print(f"{done.path}: {len(done.entries)} {'entry' if len(done.entries) == 1 else 'entries'}{kept_back}")
    return 0


def _import(arguments: argparse.Namespace) -> int:
    library = library_of(arguments)
    if not arguments.source.exists():
        raise LoomlightError(f"{arguments.source}: there is no such file or folder.")
    with arriving(library, arguments.source) as incoming:
        if not arguments.json:
            print("\n".join(_incoming_line(one) for one in incoming))
        taken = None if arguments.only_look else take(library, incoming, different=arguments.different)
    if arguments.json:
        told = [
            {
                "id": one.id,
                "title": one.entry.title if one.entry is not None else None,
                "kind": one.entry.kind if one.entry is not None else None,
                "state": one.state,
                "fields": list(one.fields),
                "note": one.note,
            }
            for one in incoming
        ]
        print_answer({"incoming": told, "taken": asdict(taken) if taken is not None else None})
    elif taken is None:
        print("Only looked; nothing was taken.")
    else:
        print(f"{taken.new} new, {taken.replaced} replaced, {taken.beside} put beside, {taken.left} left as it was")
    refused = any(one.state == "refused" for one in incoming)
    open_ones = any(one.state == "different" for one in incoming) and (taken is None or arguments.different == "keep")
    return 1 if refused or open_ones else 0


def _incoming_line(one: Incoming) -> str:
    title = one.entry.title if one.entry is not None else one.path.name
    fields = ", ".join(LABELS.get(name, name).lower() for name in one.fields)
    return f"{one.state:10} {title}{f'  ({fields})' if fields else ''}{f'  {one.note}' if one.note else ''}"


def _verify(arguments: argparse.Namespace) -> int:
    found = verify(library_of(arguments))
    if arguments.json:
        print_answer({"files": [asdict(one) for one in found.files], "index_was_wrong": found.index_was_wrong})
    else:
        for one in found.files:
            if one.state != "sound":
                print(f"{one.state:13} {one.file}  {one.title}{f': {one.note}' if one.note else ''}")
        sound = sum(one.state == "sound" for one in found.files)
        print(f"{sound} of {len(found.files)} files are sound, {len(found.wrong)} damaged or no entries.")
        if found.index_was_wrong:
            print("The index said something else than the files, and is made anew.")
    return 1 if found.wrong else 0


def _add_starter(arguments: argparse.Namespace) -> int:
    added = add_starter(library_of(arguments))
    if arguments.json:
        print_answer(entries_answer(added))
    else:
        print("\n".join(one_line(one) for one in added) or "The starter entries are there already.")
    return 0


SHARING: dict[str, Callable[[argparse.Namespace], int]] = {
    "export": _export,
    "import": _import,
    "verify": _verify,
    "add-starter": _add_starter,
}
