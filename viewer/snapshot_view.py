"""Bring back what a snapshot shows: the channels, the settings, the view."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.kinds.listing import listed_kind
from loomlight.signal.limit_curve import LimitCurve, OwnLimits
from loomlight.signal.lineup import WAYS, WantedBy
from loomlight.viewer.ask import Ask
from loomlight.viewer.choice import Choice
from loomlight.viewer.desk import Desk
from loomlight.viewer.lanes.cursors import NONE, Pair
from loomlight.viewer.snapshot_data import snapshot_inside


@dataclass(frozen=True)
class SeenView:
    """What a snapshot was made from, and how it was looked at.

    Attributes
    ----------
    files : tuple of str
        Name of the suspect's file; of a proof also of the one after.
    channels : tuple of str
        One each.
    sha256 : dict
        Of the files, by name.
    good_source, good_channel : str
        The known-good's file or entry, empty: beside the suspect; its channel, empty: none.
    ask : Ask
        What was given for judging.
    view : tuple of float or None
        Stretch of time.
    cursors : tuple
        A and B.
    levels : dict
        C and D by lane.
    picked, provoked : bool
        What was said for the proof.
    """

    files: tuple[str, ...]
    channels: tuple[str, ...]
    sha256: dict[str, str]
    good_source: str
    good_channel: str
    ask: Ask
    view: tuple[float, float] | None = None
    cursors: Pair = NONE
    levels: dict[str, Pair] = field(default_factory=dict)
    picked: bool = False
    provoked: bool = False

    @property
    def is_proof(self) -> bool:
        """Whether it shows before and after."""
        return len(self.files) == 2


def seen_view(path: Path) -> SeenView | None:
    """What a picture was made from; None where it is no snapshot of ours that tells it.

    Raises
    ------
    FileProblem
        If it cannot be read.
    """
    try:
        inside = snapshot_inside(path.read_bytes())
    except OSError as error:
        raise FileProblem(
            f"it cannot be read ({error.strerror or error})", file=path, do="Look for it in the job's folder"
        ) from error
    if inside is None:
        return None
    try:
        return _seen(inside)
    except (KeyError, TypeError, ValueError, AttributeError, LoomlightError):
        return None  # of a version that told less, or knew other kinds; the picture itself can still be looked at


def _seen(inside: dict[str, Any]) -> SeenView:
    settings = inside["settings"]
    by = str(inside.get("by", "auto"))
    ask = Ask(
        kind=listed_kind(str(settings["kind"])).key,
        **{name: _volts(settings[name]) for name in ("supply_v", "upper_v", "lower_v", "within_v")},
        by=_way(by),
        limits=_limits(settings),
        settings=tuple((str(key), float(value)) for key, value in settings.get("figures", {}).items()),
        besides=tuple((str(role), str(name)) for role, name in settings.get("besides", {}).items()),
    )
    files = tuple(map(str, inside["files"]))
    channels = tuple(map(str, inside["channels"])) if len(files) == 2 else (str(inside["channel"]),)
    said = inside.get("said") or {}
    view = inside["shown"] if len(files) == 2 else inside["view"]
    if len(files) not in (1, 2) or len(channels) != len(files):
        raise ValueError("one or two captures")
    return SeenView(
        files,
        channels,
        {str(name): str(one) for name, one in inside["sha256"].items()},
        str(inside["good_source"]),
        str(inside["good_channel"] or ""),
        ask,
        _stretch(view),
        _pair(inside.get("cursors", NONE)),
        {str(key): _pair(pair) for key, pair in inside.get("levels", {}).items()},
        bool(said.get("picked")),
        bool(said.get("provoked")),
    )


def _limits(settings: dict[str, Any]) -> OwnLimits | None:
    """The curves of own limits; their levels stand in the ask itself."""
    curves = {side: settings.get(f"{side}_curve") for side in ("upper", "lower")}
    if not any(curves.values()):
        return None
    made = {
        side: LimitCurve(tuple((float(at_s), float(level)) for at_s, level in points)) if points else None
        for side, points in curves.items()
    }
    return OwnLimits(upper=made["upper"], lower=made["lower"], on_good=bool(settings.get("curves_on_good")))


def _way(by: str) -> WantedBy:
    return next((one for one in WAYS if one == by), "auto")


def _volts(value: Any) -> float | None:
    return None if value is None else float(value)


def _pair(values: Any) -> Pair:
    first, second = values
    return _volts(first), _volts(second)


def _stretch(values: Any) -> tuple[float, float] | None:
    if values is None:
        return None
    start_s, stop_s = map(float, values)
    return (start_s, stop_s) if start_s < stop_s else None


def choose_as_seen(desk: Desk, seen: SeenView) -> None:
    """Put the snapshot's channels and settings on the desk.

    Raises
    ------
    LoomlightError
        If a capture or an entry is not there: which.
    """
    suspect = _choice(desk, seen, 0)
    after = _choice(desk, seen, 1) if seen.is_proof else None
    good = _good(desk, seen, suspect)
    if good is not None and isinstance(good.source, str):
        desk.use_entry(good)
    desk.choose(suspect=suspect, good=good, after=after)
    if good is None:
        desk.without_good()
    desk.chosen.ask = seen.ask
    desk.choice_changed.emit()


def _choice(desk: Desk, seen: SeenView, number: int) -> Choice:
    file, channel = seen.files[number], seen.channels[number]
    found = _of_file(desk, file, seen.sha256.get(file, ""), channel)
    if found is None:
        raise LoomlightError(
            f"The snapshot shows {channel} in {file}, which is not open. Open that file (or its job) first, then the "
            "snapshot again."
        )
    return found


def _of_file(desk: Desk, file: str, sha256: str, channel: str) -> Choice | None:
    """A channel of an open capture: of the one with that content, else with that name."""
    own = [one for one in desk.choices() if isinstance(one.source, Path) and one.channel.name == channel]
    for one in own:
        kept = desk.job_capture(one.source)
        if sha256 and kept is not None and kept.sha256 == sha256:
            return one
    return next((one for one in own if one.source_name == file), None)


def _good(desk: Desk, seen: SeenView, suspect: Choice) -> Choice | None:
    if not seen.good_channel:
        return None
    if not seen.good_source:
        beside = [one for one in desk.choices() if one.is_beside(suspect) and one.channel.name == seen.good_channel]
        if beside:
            return beside[0]
        raise LoomlightError(
            f"{suspect.file} has no channel {seen.good_channel!r} any more. Choose a known-good by hand."
        )
    found = _of_file(desk, seen.good_source, seen.sha256.get(seen.good_source, ""), seen.good_channel)
    if found is not None:
        return found
    try:
        return desk.entry_choice(desk.library.resolve(seen.good_source.removesuffix(".h5")))
    except LoomlightError as error:
        raise LoomlightError(
            f"The snapshot's known-good, {seen.good_channel} of {seen.good_source}, is neither open nor in the library. Open "
            "it first, then the snapshot again."
        ) from error
