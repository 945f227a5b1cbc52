"""A library entry in words."""

from collections.abc import Sequence
from datetime import datetime

from loomlight.signal.capture import Capture
from loomlight.signal.entry import Edit, Entry, Value
from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.listing import listed_kind
from loomlight.signal.recipe import Recipe
from loomlight.storage.library_bin import Binned

FIELDS = (
    ("title", "Title"),
    ("kind", "Signal kind"),
    ("vehicle", "Vehicle"),
    ("make", "Make"),
    ("model", "Model"),
    ("year", "Year"),
    ("engine", "Engine"),
    ("system", "System"),
    ("component", "Component"),
    ("connector", "Connector"),
    ("pin", "Pin"),
    ("wire_colour", "Wire colour"),
    ("probe_place", "Place of the probe"),
    ("conditions", "Conditions"),
    ("probe_factor", "Probe factor"),
    ("instrument", "Instrument"),
    ("date", "Date of the capture"),
    ("note", "Note"),
    ("tags", "Tags"),
    ("ground", "Good because"),
    ("recipe", "To capture it again"),
    ("judged_by", "Judged good by"),
    ("vin", "VIN"),
    ("owner", "Owner"),
    ("instrument_serial", "Instrument's serial"),
)
"""Every field that a person may fill in, in the order in which it is asked and told; the last ones are private."""
LABELS = dict(FIELDS)


def kind_title(key: str) -> str:
    """Title of a kind; the key itself where this version does not know it."""
    try:
        return listed_kind(key).title
    except LoomlightError:
        return key


def value_text(name: str, value: Value) -> str:
    """A field's value as it is read."""
    if name == "kind":
        return kind_title(str(value))
    if isinstance(value, tuple):
        return ", ".join(value)
    if isinstance(value, float):
        return f"×{value:g}"
    return "" if value is None else str(value)


def typed_value(name: str, text: str) -> Value:
    """A field's value as it was typed into one line.

    Raises
    ------
    LoomlightError
        If it is a number and none was typed.
    """
    if name in ("conditions", "tags"):
        return tuple(dict.fromkeys(one.strip() for one in text.split(",") if one.strip()))
    if name != "probe_factor":
        return text.strip()
    plain = text.strip().lower().lstrip("x×").replace(",", ".")
    if not plain:
        return None
    try:
        factor = float(plain)
    except ValueError:
        factor = 0.0
    if not 0 < factor < 1e6:
        raise LoomlightError(f"“{text.strip()}” is no probe factor. Give a number above 0, such as 1 or 10.")
    return factor


def one_line(entry: Entry) -> str:
    """An entry in a list of a terminal."""
    vehicle = f", {entry.vehicle_text}" if entry.vehicle_text else ""
    return f"{entry.id}  {entry.title}  ({entry.kind}{vehicle}{', simulated' if entry.simulated else ''})"


def where_line(entry: Entry) -> str:
    """Kind, vehicle and place: the second line in a list."""
    parts = (entry.vehicle_text, entry.component, entry.connector, entry.pin and f"pin {entry.pin}")
    where = ", ".join(one for one in parts if one)
    simulated = "simulated · " if entry.simulated else ""
    return f"{simulated}{kind_title(entry.kind)}{' – ' + where if where else ''}"


def meant_sentence(meant: Sequence[tuple[str, tuple[str, ...]]]) -> str:
    """What was looked for in the place of misspelt words."""
    return " ".join(f"Nothing holds “{word}”; shown is {' or '.join(instead[:3])}." for word, instead in meant)


def entry_lines(entry: Entry) -> list[tuple[str, str]]:
    """All that is known about an entry: label and text."""
    lines = [("Id", entry.id)]
    for name, label in FIELDS:
        if name == "vehicle" and not entry.vehicle:
            continue
        lines.append((label, value_text(name, getattr(entry, name))))
    lines += [
        ("Channel", entry.channel),
        ("From", "made by calculation" if entry.simulated else entry.source_name),
        ("Kept", day_of(entry.added)),
    ]
    if entry.more:
        confirmed = sum(one.confirmed for one in entry.more)
        lines.append(("Captures", f"{1 + len(entry.more)}, {1 + confirmed} of them confirmed for the envelope"))
    lines += [("Edited" if place == 0 else "", edit_text(one)) for place, one in enumerate(entry.history)]
    return [(label, text) for label, text in lines if text]


def edit_text(edit: Edit) -> str:
    """One edit: when, and what it changed."""
    changed = "; ".join(
        f"{LABELS.get(one.field, one.field)}: {value_text(one.field, one.before) or '–'} → "
        f"{value_text(one.field, one.after) or '–'}"
        for one in edit.changes
    )
    return f"{day_of(edit.at)}  {changed}{'  (taken back)' if edit.undone else ''}"


def day_of(at: str) -> str:
    """Day and minute of an ISO time."""
    return at[:16].replace("T", " ")


def binned_line(one: Binned, now: datetime) -> str:
    """An entry in the bin: what it was, and how long it is kept."""
    title = one.entry.title if one.entry is not None else f"{one.path.name} (cannot be read)"
    return f"{title}  ({days_text(one, now)})"


def days_text(one: Binned, now: datetime) -> str:
    """How long an entry stays in the bin."""
    left = one.days_left(now)
    return "kept for ever" if left is None else f"kept for {left} more {'day' if left == 1 else 'days'}"


def fit_text(fit: float, sureness: float, *, lined_up: bool) -> str:
    """How alike an entry is to what was asked for."""
    text = f"fit {fit:.2f}, sureness {sureness:.2f}"
    if lined_up:
        return text
    return f"{text}, where it fits is open" if sureness >= 0.5 else f"{text}, alike in kind at best"


def recipe_lines(recipe: Recipe) -> list[str]:
    """How to capture a kind of signal, one line each."""
    lines = [
        f"Where: {recipe.where}",
        f"Switched on: {recipe.switched_on}",
        f"Length: {span_text(recipe.length_s)} · at least {rate_text(recipe.samples_per_s)} · {recipe.coupling}",
    ]
    return [*lines, *recipe.notes]


def entry_recipe_lines(entry: Entry, capture: Capture | None) -> list[str]:
    """How one entry was captured, to do it again in the same way."""
    lines = []
    if capture is not None:
        channel = capture.channel(entry.channel)
        rate = rate_text(1.0 / channel.step_s) if channel.step_s else "uneven"
        lines.append(f"This one: {span_text(channel.stop_s - channel.start_s)} at {rate}")
    place = ", ".join(one for one in (entry.component, entry.connector, entry.pin and f"pin {entry.pin}") if one)
    told = (
        ("At", ", ".join(one for one in (place, entry.probe_place) if one)),
        ("With", ", ".join(entry.conditions)),
        ("Probe", value_text("probe_factor", entry.probe_factor)),
        ("Mind", entry.recipe),
    )
    return [*lines, *(f"{name}: {text}" for name, text in told if text)]


def span_text(seconds: float) -> str:
    """A length of time with a fitting unit."""
    for factor, unit in ((1.0, "s"), (1e3, "ms"), (1e6, "µs")):
        if seconds * factor >= 1:
            return f"{seconds * factor:.3g} {unit}"
    return f"{seconds * 1e9:.3g} ns"


def rate_text(samples_per_s: float) -> str:
    """A sample rate with a fitting prefix."""
    for factor, unit in ((1e6, "million samples/s"), (1e3, "thousand samples/s")):
        if samples_per_s >= factor:
            return f"{samples_per_s / factor:.3g} {unit}"
    return f"{samples_per_s:.3g} samples/s"
