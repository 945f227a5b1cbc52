"""One known-good waveform in the library, with what it was taken from, and what was changed about that since."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

Value = str | tuple[str, ...] | float | bool | None
"""What a field of an entry that a person may change can hold."""

CONDITIONS = ("ignition on", "cranking", "idle", "engine warm", "under load", "engine off")
"""What is offered to tick; any other words are as good."""


@dataclass(frozen=True)
class Change:
    """One field that an edit changed."""

    field: str
    before: Value
    after: Value


@dataclass(frozen=True)
class Edit:
    """What was changed at one time; ``undone`` is when that was taken back, or empty."""

    at: str
    changes: tuple[Change, ...]
    undone: str = ""


@dataclass(frozen=True)
class FurtherCapture:
    """One more good capture of the same entry.

    Attributes
    ----------
    channel : str
        Name of its known-good channel.
    added : str
        ISO 8601 time with offset.
    source_name : str
        The file that it came from.
    note : str
        What was different this time.
    confirmed : bool
        Whether a person said that it may widen the envelope.
    """

    channel: str
    added: str = ""
    source_name: str = ""
    note: str = ""
    confirmed: bool = False


@dataclass(frozen=True)
class Entry:
    """What is known about a known-good waveform; empty where it is not.

    Attributes
    ----------
    id : str
        A UUID, also the file's name.
    title : str
        Never empty.
    kind : str
        Key of the signal kind.
    channel : str
        Name of the channel in the capture that is the known-good one.
    vehicle : str
        In free words; see `vehicle_text`.
    system, component, connector, pin, note : str
        Where it was taken.
    added, changed : str
        ISO 8601 times with offset; ``changed`` is empty until the first edit.
    source_name : str
        The file that it came from.
    make, model, year, engine, vin : str
        The vehicle, part by part.
    owner : str
        Whose vehicle it is; kept back with ``vin``, ``instrument_serial`` and ``judged_by`` from what is shared.
    wire_colour, probe_place : str
        The wire, and where along it the probe was.
    conditions, tags : tuple of str
        Ignition on, idle, warm, load…; words of one's own.
    probe_factor : float or None
        Of the probe; already in the samples.
    instrument, instrument_serial : str
        What it was captured with.
    date : str
        Day of the capture, ISO 8601.
    judged_by, ground : str
        Who says that the signal is good, and on what ground.
    recipe : str
        What to mind when it is captured again.
    simulated : bool
        Made by calculation, not captured.
    more : tuple of FurtherCapture
        Beside the first capture.
    history : tuple of Edit
        Oldest first.
    """

    id: str
    title: str
    kind: str
    channel: str
    vehicle: str = ""
    system: str = ""
    component: str = ""
    connector: str = ""
    pin: str = ""
    note: str = ""
    added: str = ""
    source_name: str = ""
    make: str = ""
    model: str = ""
    year: str = ""
    engine: str = ""
    vin: str = ""
    owner: str = ""
    wire_colour: str = ""
    conditions: tuple[str, ...] = ()
    probe_factor: float | None = None
    instrument: str = ""
    instrument_serial: str = ""
    date: str = ""
    probe_place: str = ""
    tags: tuple[str, ...] = ()
    judged_by: str = ""
    ground: str = ""
    recipe: str = ""
    simulated: bool = False
    changed: str = ""
    more: tuple[FurtherCapture, ...] = ()
    history: tuple[Edit, ...] = ()

    @property
    def vehicle_text(self) -> str:
        """The vehicle in one line: as it was written, else from its parts."""
        return self.vehicle or " ".join(one for one in (self.make, self.model, self.year, self.engine) if one)


FIXED = ("id", "channel", "added", "source_name", "simulated", "changed", "more", "history")
"""What no edit changes."""
EDITABLE = tuple(field.name for field in fields(Entry) if field.name not in FIXED)
SEVERAL = ("conditions", "tags")
"""Fields with any number of words."""
PRIVATE = ("vin", "owner", "instrument_serial", "judged_by")
"""Personal data: left out of what is shared unless asked for."""


def edited(entry: Entry, values: Mapping[str, Value], *, at: str) -> Entry:
    """The entry with other values, and the edit in its history; the entry itself where nothing would change.

    Parameters
    ----------
    entry : Entry
        As it stands.
    values : mapping
        New values by field; only of `EDITABLE` ones.
    at : str
        ISO 8601 time.

    Raises
    ------
    ValueError
        If a field is none that may be changed.
    """
    unknown = [name for name in values if name not in EDITABLE]
    if unknown:
        raise ValueError(f"no field to be edited: {', '.join(unknown)}")
    changes = tuple(
        Change(name, getattr(entry, name), value) for name, value in values.items() if getattr(entry, name) != value
    )
    if not changes:
        return entry
    new: dict[str, Value] = {one.field: one.after for one in changes}
    return replace(entry, **new, changed=at, history=(*entry.history, Edit(at, changes)))  # type: ignore[arg-type]


def last_edit(entry: Entry) -> Edit | None:
    """The edit that `undone` would take back."""
    return next((one for one in reversed(entry.history) if not one.undone), None)


def undone(entry: Entry, *, at: str) -> Entry:
    """The entry without its last edit that still stands; the history keeps it, marked as taken back."""
    edit = last_edit(entry)
    if edit is None:
        return entry
    old: dict[str, Value] = {one.field: one.before for one in edit.changes}
    history = tuple(replace(one, undone=at) if one is edit else one for one in entry.history)
    return replace(entry, **old, changed=at, history=history)  # type: ignore[arg-type]


def without_private(entry: Entry) -> Entry:
    """The entry as it may be shared: no personal data, no names of files, no history that could hold either."""
    plain: dict[str, Value] = dict.fromkeys(PRIVATE, "")
    more = tuple(replace(one, source_name="") for one in entry.more)
    return replace(entry, **plain, source_name="", more=more, history=())  # type: ignore[arg-type]


def differing(mine: Entry, theirs: Entry) -> tuple[str, ...]:
    """Fields in which two states of one entry differ; what was left out for privacy is no difference."""
    names = [name for name in (*EDITABLE, "simulated", "channel") if getattr(mine, name) != getattr(theirs, name)]
    if _plain(mine.more) != _plain(theirs.more):
        names.append("more")
    return tuple(name for name in names if not (name in PRIVATE and not getattr(theirs, name)))


def _plain(more: tuple[FurtherCapture, ...]) -> tuple[FurtherCapture, ...]:
    return tuple(replace(one, source_name="") for one in more)
