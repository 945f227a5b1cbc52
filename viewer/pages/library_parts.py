"""What is told about the chosen entry under its picture: details, recipe, history, captures, where it was used."""

from collections.abc import Sequence

from loomlight.signal.capture import Capture
from loomlight.signal.entry import Entry
from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import kind_named
from loomlight.storage.library_rows import Listed
from loomlight.viewer.entry_words import day_of, edit_text, entry_lines, entry_recipe_lines, recipe_lines
from loomlight.viewer.library_uses import Use

PARTS = ("Details", "Recipe", "History", "Captures", "Where used")
TOLD_ELSEWHERE = ("Id", "Title", "Edited", "")
"""Of `entry_lines`: what stands at the head, or under another part."""


def details_text(entry: Entry, listed: Listed | None = None) -> str:
    """All that is known about an entry, one line each."""
    lines = [f"{label}: {text}" for label, text in entry_lines(entry) if label not in TOLD_ELSEWHERE]
    if listed is not None and listed.problem:
        lines.insert(0, listed.problem)
    if listed is not None and listed.copy_of:
        lines.insert(
            0,
            "This is another state of an entry, as a program that keeps two places alike leaves it. “Keep this one” puts it in "
            "the place of the entry, which goes to the bin; “Delete” leaves the entry as it is.",
        )
    return "\n".join(lines)


def recipe_text(entry: Entry, capture: Capture | None) -> str:
    """How to capture this kind of signal, and how this one was captured."""
    lines = entry_recipe_lines(entry, capture)
    try:
        kind = kind_named(entry.kind)
    except LoomlightError:
        return "\n".join(lines) or "Nothing is known about how it was captured."
    return "\n".join([*lines, "", f"In general, {kind.title}:", *recipe_lines(kind.recipe), *kind.cautions]).strip()


def history_text(entry: Entry) -> str:
    """When it was kept and what was changed since, newest first."""
    lines = [edit_text(one) for one in reversed(entry.history)]
    return "\n".join([*lines, f"{day_of(entry.added)}  kept"])


def captures_text(entry: Entry, told: Sequence[str] = ()) -> str:
    """What is told of the envelope, then the captures of an entry and which of them make it."""
    lines = [f"1: {entry.source_name or 'the first'}, kept {day_of(entry.added)}"]
    for number, one in enumerate(entry.more, start=2):
        state = "confirmed" if one.confirmed else "not confirmed: it does not widen the envelope yet"
        known = ", ".join(part for part in (one.source_name, one.note, f"kept {day_of(one.added)}") if part)
        lines.append(f"{number}: {known} ({state})")
    if not entry.more:
        lines.append("Further good captures of the same signal make an envelope: “Add capture” takes one that is open.")
    return "\n".join([*told, *lines])


def uses_text(uses: tuple[Use, ...] | None) -> str:
    """The jobs in which it was the known-good; None while they are looked for."""
    if uses is None:
        return "Looking through the jobs …"
    return "\n".join(one.text for one in uses) or "It was not used in any job in the jobs' folder."
