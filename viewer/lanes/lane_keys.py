"""What the keys do on the lanes: one table, for the keyboard and for the list of keys."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QKeyCombination, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence

if TYPE_CHECKING:
    from loomlight.viewer.lanes.lane_canvas import LaneCanvas

CURSOR_STEP = 1 / 400
"""Of the view."""
LEVEL_STEP = 1 / 200
"""Of the lane's height."""
ZOOM = 0.7
Action = Callable[["LaneCanvas"], object]


@dataclass(frozen=True)
class LaneAct:
    """What keys do: its name, by which the keys can be changed, the keys as delivered, and how."""

    name: str
    keys: tuple[str, ...]
    act: Action


@dataclass(frozen=True)
class KeyRow:
    """One row of the list: the keys as they are written, what they do, and how."""

    keys: str
    what: str
    acts: tuple[LaneAct, ...]

    def written(self) -> str:
        """The keys as they are now."""
        if all(keys_of(one) == one.keys for one in self.acts):
            return self.keys
        return "  ".join(filter(None, map(keys_text, self.acts)))


@dataclass(frozen=True)
class KeyGroup:
    """Rows that belong together."""

    title: str
    rows: tuple[KeyRow, ...]


def _chosen(act: Callable[[LaneCanvas, str], object]) -> Action:
    """An action on the lane that is chosen."""
    return lambda lanes: act(lanes, lanes.arranging.chosen)


KEY_GROUPS = (
    KeyGroup(
        "View",
        (
            KeyRow(
                "← →",
                "move",
                (
                    LaneAct("move the view left", ("Left",), lambda one: one.pan(-0.15)),
                    LaneAct("move the view right", ("Right",), lambda one: one.pan(0.15)),
                ),
            ),
            KeyRow(
                "+ −  or  ↑ ↓",
                "zoom in, out",
                (
                    LaneAct("zoom in", ("+", "=", "Up"), lambda one: one.zoom(ZOOM)),
                    LaneAct("zoom out", ("-", "Down"), lambda one: one.zoom(1 / ZOOM)),
                ),
            ),
            KeyRow("Home", "show all", (LaneAct("show all", ("Home",), lambda one: one.fit()),)),
            KeyRow(
                "Backspace", "the view before", (LaneAct("the view before", ("Backspace",), lambda one: one.back()),)
            ),
            KeyRow(
                "Shift+Backspace",
                "the view after",
                (LaneAct("the view after", ("Shift+Backspace",), lambda one: one.forward()),),
            ),
            KeyRow(
                "B",
                "the next drag draws a box to zoom into",
                (LaneAct("draw a box to zoom into", ("B",), lambda one: one.begin_box()),),
            ),
            KeyRow(
                "Z",
                "zoom to what lies between the cursors",
                (LaneAct("zoom to what lies between the cursors", ("Z",), lambda one: one.show_between_cursors()),),
            ),
            KeyRow(
                "Ctrl with + −",
                "zoom the values",
                (
                    LaneAct("zoom the values in", ("Ctrl++", "Ctrl+="), lambda one: one.zoom_values(ZOOM)),
                    LaneAct("zoom the values out", ("Ctrl+-",), lambda one: one.zoom_values(1 / ZOOM)),
                ),
            ),
            KeyRow(
                "Page Up, Page Down",
                "move the values",
                (
                    LaneAct("move the values up", ("PgUp",), lambda one: one.move_values(0.1)),
                    LaneAct("move the values down", ("PgDown",), lambda one: one.move_values(-0.1)),
                ),
            ),
        ),
    ),
    KeyGroup(
        "Measure",
        (
            KeyRow(
                "C",
                "set time cursors A and B, or take them away",
                (LaneAct("set time cursors A and B, or take them away", ("C",), lambda one: one.toggle_cursors()),),
            ),
            KeyRow(
                "Ctrl with ← →",
                "move A",
                (
                    LaneAct("move A left", ("Ctrl+Left",), lambda one: one.move_cursor(0, -CURSOR_STEP)),
                    LaneAct("move A right", ("Ctrl+Right",), lambda one: one.move_cursor(0, CURSOR_STEP)),
                ),
            ),
            KeyRow(
                "Shift with ← →",
                "move B",
                (
                    LaneAct("move B left", ("Shift+Left",), lambda one: one.move_cursor(1, -CURSOR_STEP)),
                    LaneAct("move B right", ("Shift+Right",), lambda one: one.move_cursor(1, CURSOR_STEP)),
                ),
            ),
            KeyRow(
                "… and Alt",
                "move A or B to the next edge",
                (
                    LaneAct(
                        "A to the edge before", ("Ctrl+Alt+Left",), lambda one: one.cursor_to_edge(0, forward=False)
                    ),
                    LaneAct("A to the next edge", ("Ctrl+Alt+Right",), lambda one: one.cursor_to_edge(0, forward=True)),
                    LaneAct(
                        "B to the edge before", ("Shift+Alt+Left",), lambda one: one.cursor_to_edge(1, forward=False)
                    ),
                    LaneAct(
                        "B to the next edge", ("Shift+Alt+Right",), lambda one: one.cursor_to_edge(1, forward=True)
                    ),
                ),
            ),
            KeyRow(
                "L",
                "set level cursors C and D in the chosen lane",
                (
                    LaneAct(
                        "set level cursors C and D, or take them away", ("L",), lambda one: one.toggle_level_cursors()
                    ),
                ),
            ),
            KeyRow(
                "Ctrl with Page Up, Page Down",
                "move C",
                (
                    LaneAct("move C up", ("Ctrl+PgUp",), lambda one: one.move_level_cursor(0, LEVEL_STEP)),
                    LaneAct("move C down", ("Ctrl+PgDown",), lambda one: one.move_level_cursor(0, -LEVEL_STEP)),
                ),
            ),
            KeyRow(
                "Shift with Page Up, Page Down",
                "move D",
                (
                    LaneAct("move D up", ("Shift+PgUp",), lambda one: one.move_level_cursor(1, LEVEL_STEP)),
                    LaneAct("move D down", ("Shift+PgDown",), lambda one: one.move_level_cursor(1, -LEVEL_STEP)),
                ),
            ),
        ),
    ),
    KeyGroup(
        "Lanes",
        (
            KeyRow(
                "Ctrl with ↑ ↓",
                "choose the lane above, below",
                (
                    LaneAct("choose the lane above", ("Ctrl+Up",), lambda one: one.arranging.step(-1)),
                    LaneAct("choose the lane below", ("Ctrl+Down",), lambda one: one.arranging.step(1)),
                ),
            ),
            KeyRow(
                "Alt with ↑ ↓",
                "move it up, down",
                (
                    LaneAct("move the lane up", ("Alt+Up",), _chosen(lambda one, key: one.arranging.move(key, -1))),
                    LaneAct("move the lane down", ("Alt+Down",), _chosen(lambda one, key: one.arranging.move(key, 1))),
                ),
            ),
            KeyRow(
                "Alt with + −",
                "make it taller, lower",
                (
                    LaneAct(
                        "make the lane taller", ("Alt++", "Alt+="), _chosen(lambda one, key: one.arranging.taller(key))
                    ),
                    LaneAct(
                        "make the lane lower",
                        ("Alt+-",),
                        _chosen(lambda one, key: one.arranging.taller(key, times=0.8)),
                    ),
                ),
            ),
            KeyRow(
                "O",
                "lay it over its neighbour",
                (
                    LaneAct(
                        "lay the lane over its neighbour",
                        ("O",),
                        _chosen(lambda one, key: one.arranging.lay_over_next(key)),
                    ),
                ),
            ),
            KeyRow(
                "Shift+O",
                "take it apart again",
                (
                    LaneAct(
                        "take the lane apart again",
                        ("Shift+O",),
                        _chosen(lambda one, key: one.arranging.take_apart(key)),
                    ),
                ),
            ),
            KeyRow(
                "H", "hide it", (LaneAct("hide the lane", ("H",), _chosen(lambda one, key: one.arranging.hide(key))),)
            ),
            KeyRow(
                "Shift+H",
                "show what is hidden",
                (LaneAct("show hidden lanes", ("Shift+H",), lambda one: one.arranging.show_all()),),
            ),
            KeyRow(
                "S",
                "one scale for all lanes, or each its own",
                (
                    LaneAct(
                        "one scale for all lanes, or each its own", ("S",), lambda one: one.arranging.share_scales()
                    ),
                ),
            ),
        ),
    ),
    KeyGroup(
        "Notes",
        (
            KeyRow(
                "N, then Return",
                "place a note at cursor A",
                (LaneAct("place a note at cursor A", ("N",), lambda one: one.begin_note()),),
            ),
            KeyRow(
                "M, then Return",
                "mark the stretch between the cursors",
                (LaneAct("mark the stretch between the cursors", ("M",), lambda one: one.begin_stretch()),),
            ),
            KeyRow(
                "[ ]",
                "pick the note before, after",
                (
                    LaneAct("pick the note before", ("[",), lambda one: one.step_note(-1)),
                    LaneAct("pick the next note", ("]",), lambda one: one.step_note(1)),
                ),
            ),
            KeyRow(
                "Return",
                "edit the picked note",
                (LaneAct("edit the picked note", ("Return", "Enter"), lambda one: one.place_or_edit_note()),),
            ),
            KeyRow(
                "Delete",
                "take it away",
                (LaneAct("take the picked note away", ("Del",), lambda one: one.delete_note()),),
            ),
            KeyRow(
                "Esc",
                "leave a box, a note or a mark",
                (LaneAct("leave a box, a note or a mark", ("Esc",), lambda one: one.leave_note()),),
            ),
            KeyRow("Ctrl+Z", "undo a note or a lane's change", ()),
            KeyRow("Ctrl+Shift+Z", "make it again", ()),
        ),
    ),
)

_NATIVE = QKeySequence.SequenceFormat.NativeText
_IGNORED = Qt.KeyboardModifier.KeypadModifier | Qt.KeyboardModifier.GroupSwitchModifier
LANE_ACTS = {act.name: act for group in KEY_GROUPS for row in group.rows for act in row.acts}
_changed: dict[str, str] = {}
_actions: dict[QKeyCombination, Action] = {}


def keys_of(act: LaneAct) -> tuple[str, ...]:
    """The keys of an act as they are now; empty where they were given to another."""
    changed = _changed.get(act.name)
    return act.keys if changed is None else (changed,) if changed else ()


def keys_text(act: LaneAct) -> str:
    """They as a person reads them on this system."""
    return "  ".join(QKeySequence(one).toString(_NATIVE) for one in keys_of(act))


def use_keys(changed: Mapping[str, str]) -> None:
    """Take other keys for some acts, by their names; the others are as delivered."""
    _changed.clear()
    _changed.update({name: keys for name, keys in changed.items() if name in LANE_ACTS})
    _actions.clear()
    for act in LANE_ACTS.values():
        for keys in keys_of(act):
            combination = QKeySequence(keys)[0]  # type: ignore[index]  # missing in the stubs
            _actions[combination] = act.act


def actions() -> Mapping[QKeyCombination, Action]:
    """What each key does now."""
    return _actions


use_keys({})


def action_of(lanes: LaneCanvas, event: QKeyEvent) -> Callable[[], object] | None:
    """What a key does, or None for one that is not the lanes'."""
    if event.matches(QKeySequence.StandardKey.Undo):
        return lanes.undo
    if event.matches(QKeySequence.StandardKey.Redo):
        return lanes.redo
    held, key = event.modifiers() & ~_IGNORED, Qt.Key(event.key())
    act = _actions.get(QKeyCombination(held, key))
    if act is None:  # on many keyboards a sign such as "+" is reached with Shift alone
        act = _actions.get(QKeyCombination(held & ~Qt.KeyboardModifier.ShiftModifier, key))
    return None if act is None else lambda: act(lanes)
