"""What the keys do on the lanes: one table, for the keyboard and for the list of keys."""

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QKeyCombination, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence

from loomlight.viewer.lanes.lane_canvas import LaneCanvas

CURSOR_STEP = 1 / 400
"""Of the view."""
LEVEL_STEP = 1 / 200
"""Of the lane's height."""
ZOOM = 0.7
Action = Callable[[LaneCanvas], object]


@dataclass(frozen=True)
class KeyRow:
    """One row of the list: the keys as they are written, what they do, and how."""

    keys: str
    what: str
    acts: tuple[tuple[str, Action], ...]


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
            KeyRow("← →", "move", (("Left", lambda one: one.pan(-0.15)), ("Right", lambda one: one.pan(0.15)))),
            KeyRow(
                "+ −  or  ↑ ↓",
                "zoom in, out",
                (
                    ("+", lambda one: one.zoom(ZOOM)),
                    ("=", lambda one: one.zoom(ZOOM)),
                    ("-", lambda one: one.zoom(1 / ZOOM)),
                    ("Up", lambda one: one.zoom(ZOOM)),
                    ("Down", lambda one: one.zoom(1 / ZOOM)),
                ),
            ),
            KeyRow("Home", "show all", (("Home", lambda one: one.fit()),)),
            KeyRow("Backspace", "the view before", (("Backspace", lambda one: one.back()),)),
            KeyRow("Shift+Backspace", "the view after", (("Shift+Backspace", lambda one: one.forward()),)),
            KeyRow("B", "the next drag draws a box to zoom into", (("B", lambda one: one.begin_box()),)),
            KeyRow("Z", "zoom to what lies between the cursors", (("Z", lambda one: one.show_between_cursors()),)),
            KeyRow(
                "Ctrl with + −",
                "zoom the values",
                (
                    ("Ctrl++", lambda one: one.zoom_values(ZOOM)),
                    ("Ctrl+=", lambda one: one.zoom_values(ZOOM)),
                    ("Ctrl+-", lambda one: one.zoom_values(1 / ZOOM)),
                ),
            ),
            KeyRow(
                "Page Up, Page Down",
                "move the values",
                (("PgUp", lambda one: one.move_values(0.1)), ("PgDown", lambda one: one.move_values(-0.1))),
            ),
        ),
    ),
    KeyGroup(
        "Measure",
        (
            KeyRow("C", "set time cursors A and B, or take them away", (("C", lambda one: one.toggle_cursors()),)),
            KeyRow(
                "Ctrl with ← →",
                "move A",
                (
                    ("Ctrl+Left", lambda one: one.move_cursor(0, -CURSOR_STEP)),
                    ("Ctrl+Right", lambda one: one.move_cursor(0, CURSOR_STEP)),
                ),
            ),
            KeyRow(
                "Shift with ← →",
                "move B",
                (
                    ("Shift+Left", lambda one: one.move_cursor(1, -CURSOR_STEP)),
                    ("Shift+Right", lambda one: one.move_cursor(1, CURSOR_STEP)),
                ),
            ),
            KeyRow(
                "… and Alt",
                "move A or B to the next edge",
                (
                    ("Ctrl+Alt+Left", lambda one: one.cursor_to_edge(0, forward=False)),
                    ("Ctrl+Alt+Right", lambda one: one.cursor_to_edge(0, forward=True)),
                    ("Shift+Alt+Left", lambda one: one.cursor_to_edge(1, forward=False)),
                    ("Shift+Alt+Right", lambda one: one.cursor_to_edge(1, forward=True)),
                ),
            ),
            KeyRow(
                "L", "set level cursors C and D in the chosen lane", (("L", lambda one: one.toggle_level_cursors()),)
            ),
            KeyRow(
                "Ctrl with Page Up, Page Down",
                "move C",
                (
                    ("Ctrl+PgUp", lambda one: one.move_level_cursor(0, LEVEL_STEP)),
                    ("Ctrl+PgDown", lambda one: one.move_level_cursor(0, -LEVEL_STEP)),
                ),
            ),
            KeyRow(
                "Shift with Page Up, Page Down",
                "move D",
                (
                    ("Shift+PgUp", lambda one: one.move_level_cursor(1, LEVEL_STEP)),
                    ("Shift+PgDown", lambda one: one.move_level_cursor(1, -LEVEL_STEP)),
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
                    ("Ctrl+Up", lambda one: one.arranging.step(-1)),
                    ("Ctrl+Down", lambda one: one.arranging.step(1)),
                ),
            ),
            KeyRow(
                "Alt with ↑ ↓",
                "move it up, down",
                (
                    ("Alt+Up", _chosen(lambda one, key: one.arranging.move(key, -1))),
                    ("Alt+Down", _chosen(lambda one, key: one.arranging.move(key, 1))),
                ),
            ),
            KeyRow(
                "Alt with + −",
                "make it taller, lower",
                (
                    ("Alt++", _chosen(lambda one, key: one.arranging.taller(key))),
                    ("Alt+=", _chosen(lambda one, key: one.arranging.taller(key))),
                    ("Alt+-", _chosen(lambda one, key: one.arranging.taller(key, times=0.8))),
                ),
            ),
            KeyRow(
                "O", "lay it over its neighbour", (("O", _chosen(lambda one, key: one.arranging.lay_over_next(key))),)
            ),
            KeyRow(
                "Shift+O",
                "take it apart again",
                (("Shift+O", _chosen(lambda one, key: one.arranging.take_apart(key))),),
            ),
            KeyRow("H", "hide it", (("H", _chosen(lambda one, key: one.arranging.hide(key))),)),
            KeyRow("Shift+H", "show what is hidden", (("Shift+H", lambda one: one.arranging.show_all()),)),
            KeyRow("S", "one scale for all lanes, or each its own", (("S", lambda one: one.arranging.share_scales()),)),
        ),
    ),
    KeyGroup(
        "Notes",
        (
            KeyRow("N, then Return", "place a note at cursor A", (("N", lambda one: one.begin_note()),)),
            KeyRow("M, then Return", "mark the stretch between the cursors", (("M", lambda one: one.begin_stretch()),)),
            KeyRow(
                "[ ]",
                "pick the note before, after",
                (("[", lambda one: one.step_note(-1)), ("]", lambda one: one.step_note(1))),
            ),
            KeyRow(
                "Return",
                "edit the picked note",
                (("Return", lambda one: one.place_or_edit_note()), ("Enter", lambda one: one.place_or_edit_note())),
            ),
            KeyRow("Delete", "take it away", (("Del", lambda one: one.delete_note()),)),
            KeyRow("Esc", "leave a box, a note or a mark", (("Esc", lambda one: one.leave_note()),)),
            KeyRow("Ctrl+Z", "undo a note or a lane's change", ()),
            KeyRow("Ctrl+Shift+Z", "make it again", ()),
        ),
    ),
)

ACTIONS: dict[QKeyCombination, Action] = {
    QKeySequence(keys)[0]: act  # type: ignore[index]  # missing in the stubs
    for group in KEY_GROUPS
    for row in group.rows
    for keys, act in row.acts
}
_IGNORED = Qt.KeyboardModifier.KeypadModifier | Qt.KeyboardModifier.GroupSwitchModifier


def action_of(lanes: LaneCanvas, event: QKeyEvent) -> Callable[[], object] | None:
    """What a key does, or None for one that is not the lanes'."""
    if event.matches(QKeySequence.StandardKey.Undo):
        return lanes.undo
    if event.matches(QKeySequence.StandardKey.Redo):
        return lanes.redo
    held, key = event.modifiers() & ~_IGNORED, Qt.Key(event.key())
    act = ACTIONS.get(QKeyCombination(held, key))
    if act is None:  # on many keyboards a sign such as "+" is reached with Shift alone
        act = ACTIONS.get(QKeyCombination(held & ~Qt.KeyboardModifier.ShiftModifier, key))
    return None if act is None else lambda: act(lanes)
