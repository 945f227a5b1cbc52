"""What can be done with one lane, as a menu."""

from collections.abc import Callable

from PySide6.QtWidgets import QMenu, QWidget

from loomlight.viewer.lanes.arrangement import Arrangement
from loomlight.viewer.lanes.arranging import Arranging
from loomlight.viewer.lanes.specs import Lane
from loomlight.viewer.lanes.ticks import CHOSEN_PREFIXES, PREFIXED_UNITS


def lane_menu(arranging: Arranging, key: str, set_bounds: Callable[[str], None], parent: QWidget) -> QMenu:
    """A menu for the lane ``key``; ``set_bounds`` asks for the ends of its value axis."""
    menu = QMenu(parent)
    menu.setAccessibleName("What can be done with this lane")
    menu.aboutToHide.connect(menu.deleteLater)
    lane = arranging.lane(key)
    if lane is None:
        return menu
    head = menu.addAction(lane.key)
    head.setEnabled(False)
    _order(menu, arranging, lane)
    _overlay(menu, arranging, lane)
    _scale(menu, arranging, lane, set_bounds)
    if arranging.arrangement != Arrangement():
        menu.addSeparator()
        menu.addAction("All lanes as they were at first", arranging.as_given)
    return menu


def _order(menu: QMenu, arranging: Arranging, lane: Lane) -> None:
    several = len(arranging.shown) > 1
    place = arranging.shown.index(lane)
    for text, possible, act in (
        ("Move up  (Alt+Up)", place > 0, lambda: arranging.move(lane.key, -1)),
        ("Move down  (Alt+Down)", place + 1 < len(arranging.shown), lambda: arranging.move(lane.key, 1)),
        ("Taller  (Alt++)", several, lambda: arranging.taller(lane.key)),
        ("Lower  (Alt+-)", several, lambda: arranging.taller(lane.key, times=0.8)),
        ("Hide  (H)", several, lambda: arranging.hide(lane.key)),
    ):
        if possible:
            menu.addAction(text, act)
    hidden = arranging.hidden()
    if hidden:
        menu.addAction(f"Show again: {', '.join(hidden)}  (Shift+H)", arranging.show_all)


def _overlay(menu: QMenu, arranging: Arranging, lane: Lane) -> None:
    menu.addSeparator()
    others = [other for other in arranging.shown if other.key != lane.key]
    if others:
        over = menu.addMenu("Lay it over")
        for other in others:
            over.addAction(other.key, lambda key=other.key: arranging.lay_over(lane.key, key))
    if lane.laid:
        menu.addAction("Take apart  (Shift+O)", lambda: arranging.take_apart(lane.key))


def _scale(menu: QMenu, arranging: Arranging, lane: Lane, set_bounds: Callable[[str], None]) -> None:
    menu.addSeparator()
    settings = arranging.arrangement.of(lane.key)
    for text, way, act in (
        ("Scale: fitted to this lane", "own", lambda: arranging.scale(lane.key, "own")),
        ("Scale: set its ends…", "set", lambda: set_bounds(lane.key)),
        ("Scale: shared with lanes of the same unit", "shared", lambda: arranging.scale(lane.key, "shared")),
    ):
        action = menu.addAction(text, act)
        action.setCheckable(True)
        action.setChecked(settings.scale == way)
    menu.addAction("One scale for all lanes  (S)", arranging.share_scales)
    if lane.unit in PREFIXED_UNITS:
        units = menu.addMenu("Unit on its axis")
        for prefix in (None, *CHOSEN_PREFIXES):
            text = "as it fits" if prefix is None else f"{prefix}{lane.unit}"
            action = units.addAction(text, lambda one=prefix: arranging.prefix(lane.key, one))
            action.setCheckable(True)
            action.setChecked(settings.prefix == prefix)
