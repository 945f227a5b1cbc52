"""What the keys do on the lanes."""

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence

from loomlight.viewer.lanes.lane_canvas import LaneCanvas

CURSOR_STEP = 1 / 400
"""Of the view."""
Action = Callable[[], object]


def action_of(lanes: LaneCanvas, event: QKeyEvent) -> Action | None:
    """What a key does, or None for one that is not the lanes'."""
    if event.matches(QKeySequence.StandardKey.Undo):
        return lanes.undo
    if event.matches(QKeySequence.StandardKey.Redo):
        return lanes.redo
    held, key = event.modifiers(), Qt.Key(event.key())
    if held & Qt.KeyboardModifier.ControlModifier:
        return _with_control(lanes).get(key)
    if held & Qt.KeyboardModifier.ShiftModifier and key in (found := _with_shift(lanes)):
        return found[key]
    return _plain(lanes).get(key)


def _with_control(lanes: LaneCanvas) -> dict[Qt.Key, Action]:
    return {
        Qt.Key.Key_Left: lambda: lanes.move_cursor(0, -CURSOR_STEP),
        Qt.Key.Key_Right: lambda: lanes.move_cursor(0, CURSOR_STEP),
        Qt.Key.Key_Plus: lambda: lanes.zoom_values(0.7),
        Qt.Key.Key_Equal: lambda: lanes.zoom_values(0.7),
        Qt.Key.Key_Minus: lambda: lanes.zoom_values(1 / 0.7),
    }


def _with_shift(lanes: LaneCanvas) -> dict[Qt.Key, Action]:
    return {
        Qt.Key.Key_Left: lambda: lanes.move_cursor(1, -CURSOR_STEP),
        Qt.Key.Key_Right: lambda: lanes.move_cursor(1, CURSOR_STEP),
        Qt.Key.Key_Backspace: lanes.forward,
    }


def _plain(lanes: LaneCanvas) -> dict[Qt.Key, Action]:
    return {
        Qt.Key.Key_Left: lambda: lanes.pan(-0.15),
        Qt.Key.Key_Right: lambda: lanes.pan(0.15),
        Qt.Key.Key_Up: lambda: lanes.zoom(0.7),
        Qt.Key.Key_Down: lambda: lanes.zoom(1 / 0.7),
        Qt.Key.Key_Plus: lambda: lanes.zoom(0.7),
        Qt.Key.Key_Equal: lambda: lanes.zoom(0.7),
        Qt.Key.Key_Minus: lambda: lanes.zoom(1 / 0.7),
        Qt.Key.Key_PageUp: lambda: lanes.move_values(0.1),
        Qt.Key.Key_PageDown: lambda: lanes.move_values(-0.1),
        Qt.Key.Key_Home: lanes.fit,
        Qt.Key.Key_Backspace: lanes.back,
        Qt.Key.Key_C: lanes.toggle_cursors,
        Qt.Key.Key_N: lanes.begin_note,
        Qt.Key.Key_BracketLeft: lambda: lanes.step_note(-1),
        Qt.Key.Key_BracketRight: lambda: lanes.step_note(1),
        Qt.Key.Key_Return: lanes.place_or_edit_note,
        Qt.Key.Key_Enter: lanes.place_or_edit_note,
        Qt.Key.Key_Delete: lanes.delete_note,
        Qt.Key.Key_Escape: lanes.leave_note,
    }
