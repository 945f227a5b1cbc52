"""What lies on the desk and how it is looked at, as plain values: enough to lay it all out again."""

from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

from loomlight.signal.job import Note
from loomlight.viewer.ask import Ask
from loomlight.viewer.choice import Choice
from loomlight.viewer.desk import USES, Desk

VERSION = 1
Pinned = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Kept:
    """One capture that lay on the desk without being the job's: its path, stage and notes."""

    path: str
    stage: str
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True)
class SessionState:
    """One moment of the work.

    Attributes
    ----------
    job, library : str
        The open job's folder, empty for none; the library's folder.
    loose : tuple of Kept
        Captures that lie on the desk and are not the job's.
    chosen : tuple of (str, str, str, bool)
        Use, source (path, or entry id), channel, and whether the source is a library entry.
    ask : Ask
        What a comparison is asked with.
    is_compared, is_proven : bool
        Whether a comparison and a proof were shown.
    hand : tuple or None
        A line-up by hand: shift, stretch and pins; None where there is none.
    is_hand_judged : bool
        Whether the verdict that was shown rests on it.
    view, cursors : tuple or None
        Of the Compare page's lanes.
    page : int
        The place that was shown.
    """

    job: str = ""
    library: str = ""
    loose: tuple[Kept, ...] = ()
    chosen: tuple[tuple[str, str, str, bool], ...] = ()
    ask: Ask = field(default_factory=Ask)
    is_compared: bool = False
    is_proven: bool = False
    hand: tuple[float, float, Pinned] | None = None
    is_hand_judged: bool = False
    view: tuple[float, float] | None = None
    cursors: tuple[float | None, float | None] = (None, None)
    page: int = 0

    @property
    def is_empty(self) -> bool:
        """Whether nothing would be missed."""
        return not self.job and not self.loose

    def to_plain(self) -> dict[str, Any]:
        """As values that JSON holds."""
        return {"version": VERSION, **asdict(self)}


def state_from(plain: Any) -> SessionState | None:
    """Read one again; None where it is not whole, or of another version: then there is nothing to bring back."""
    try:
        if plain["version"] != VERSION:
            return None
        hand, view = plain["hand"], plain["view"]
        return SessionState(
            job=str(plain["job"]),
            library=str(plain["library"]),
            loose=tuple(
                Kept(str(one["path"]), str(one["stage"]), tuple(Note(**note) for note in one["notes"]))
                for one in plain["loose"]
            ),
            chosen=tuple((str(use), str(source), str(name), bool(kept)) for use, source, name, kept in plain["chosen"]),
            ask=_ask(plain["ask"]),
            is_compared=bool(plain["is_compared"]),
            is_proven=bool(plain["is_proven"]),
            hand=(float(hand[0]), float(hand[1]), tuple((float(a), float(b)) for a, b in hand[2])) if hand else None,
            is_hand_judged=bool(plain["is_hand_judged"]),
            view=(float(view[0]), float(view[1])) if view else None,
            cursors=tuple(None if one is None else float(one) for one in plain["cursors"]),  # type: ignore[arg-type]
            page=int(plain["page"]),
        )
    except (KeyError, TypeError, ValueError, IndexError):
        return None


def _ask(plain: dict[str, Any]) -> Ask:
    """Pairs come back from JSON as lists."""
    known = {one.name for one in fields(Ask)}
    return Ask(
        **{
            name: tuple(tuple(pair) for pair in value) if isinstance(value, list) else value
            for name, value in plain.items()
            if name in known
        }
    )


def desk_state(desk: Desk) -> SessionState:
    """What lies on the desk now; how it is looked at is the window's to add."""
    own = {opened.path for opened in desk.opened if desk.job_capture(opened.path) is not None}
    chosen = []
    for use in USES:
        choice: Choice | None = getattr(desk.chosen, use)
        if choice is not None:
            chosen.append((use, str(choice.source), choice.channel.name, isinstance(choice.source, str)))
    return SessionState(
        job=str(desk.folder.path) if desk.folder is not None else "",
        library=str(desk.library_folder),
        loose=tuple(
            Kept(str(one.path), one.stage, desk.notes_of(one.path)) for one in desk.opened if one.path not in own
        ),
        chosen=tuple(chosen),
        ask=desk.chosen.ask,
        is_compared=desk.drawn is not None,
        is_proven=desk.proof is not None,
    )


def choose_again(desk: Desk, state: SessionState) -> list[str]:
    """Choose what was chosen, from what lies on the desk; gives what was not found.

    Reads the heads of library entries.
    """
    missing: list[str] = []
    for use, source, name, is_entry in state.chosen:
        if is_entry:
            entry = next((one for one in desk.library.all() if one.id == source), None)
            if entry is None:
                missing.append(name)
                continue
            desk.use_entry(desk.entry_choice(entry))
            continue
        found = next((one for one in desk.choices() if one.source == Path(source) and one.channel.name == name), None)
        if found is None:
            missing.append(f"{name} ({Path(source).name})")
        else:
            desk.choose(**{use: found})
    if "good" not in [use for use, *_ in state.chosen]:
        desk.without_good()
    desk.chosen.ask = state.ask
    desk.choice_changed.emit()
    return missing
