"""The buttons over the lanes."""

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QToolButton, QWidget

from loomlight.viewer.flow_row import FlowRow
from loomlight.viewer.icon import set_icon
from loomlight.viewer.lanes.lane_keys import LANE_ACTS, keys_text
from loomlight.viewer.lanes.lane_stack import LaneStack

TOOL_GAP = 2


class LaneTools(QWidget):
    """One press for what is needed often; the rest is in the lane's menu and the list of keys."""

    keys_wanted = Signal()
    menu_wanted = Signal()

    def __init__(self, lanes: LaneStack, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lanes = lanes
        self._row = FlowRow(self, gap=TOOL_GAP)
        tip = "Lay all bits, frames or cycles over one another; press again for the lanes"
        self._tips: list[tuple[QToolButton, str, str, str]] = []
        self.fold_button = self._add("Folded", tip, lambda: None, icon="folded")
        self.fold_button.setCheckable(True)
        self._add("All", "Show the whole capture", lanes.fit, icon="all", act_name="show all", hand="double-click")
        self._add(
            "In",
            "Zoom in",
            lambda: lanes.zoom(0.5),
            icon="zoom-in",
            name="Zoom in",
            act_name="zoom in",
            hand="wheel, pinch",
        )
        self._add("Out", "Zoom out", lambda: lanes.zoom(2.0), icon="zoom-out", name="Zoom out", act_name="zoom out")
        self._add(
            "Box",
            "The next drag draws a box to zoom into",
            lanes.begin_box,
            icon="box",
            act_name="draw a box to zoom into",
            hand="Shift and drag",
        )
        self._back = self._add(
            "Back", "The view before", lanes.back, icon="back", name="View before", act_name="the view before"
        )
        self._forward = self._add(
            "On", "The view after", lanes.forward, icon="forward", name="View after", act_name="the view after"
        )
        self._add(
            "Cursors",
            "Set time cursors A and B, or take them away; drag them to measure",
            lanes.toggle_cursors,
            icon="cursors",
            act_name="set time cursors A and B, or take them away",
        )
        self._add(
            "Levels",
            "Set level cursors C and D in the chosen lane, or take them away",
            lanes.toggle_level_cursors,
            icon="levels",
            act_name="set level cursors C and D, or take them away",
        )
        if lanes.takes_notes:
            self._add(
                "Note",
                "Place a note: press, then click what it is about",
                lanes.begin_note,
                icon="note",
                act_name="place a note at cursor A",
            )
            self._add(
                "Mark",
                "Mark a stretch of time: press, then drag over it",
                lanes.begin_stretch,
                icon="mark",
                act_name="mark the stretch between the cursors",
            )
        self.lane_button = self._add(
            "Lane",
            "Move, hide, lay over, scale: the chosen lane's menu (or its right mouse button)",
            self.menu_wanted.emit,
            icon="lane",
        )
        self._keys = self._add("Keys", "All keys and gestures on the lanes (F1)", self.keys_wanted.emit, icon="keys")
        self._of_lanes = [one for one in self.findChildren(QToolButton) if one is not self.fold_button]
        lanes.view_changed.connect(self._show_steps)
        self._show_steps()

    def _add(
        self,
        text: str,
        tip: str,
        act: Callable[[], object],
        *,
        icon: str,
        name: str = "",
        act_name: str = "",
        hand: str = "",
    ) -> QToolButton:
        """``act_name`` names the act of the keyboard, ``hand`` says how mouse and fingers do the same."""
        button = _button(text, tip, act, name)
        button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextUnderIcon)
        set_icon(button, icon)
        self._row.addWidget(button)
        self._tips.append((button, tip, act_name, hand))
        self.renew_tips()
        return button

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Where the row would go on in a second line for it, the list of keys is left to F1 and to the list of actions."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        needed = self._row.sizeHint().width()
        keys = self._keys.sizeHint().width() + TOOL_GAP
        needed += keys if self._keys.isHidden() else 0
        self._keys.setVisible(not self.fold_button.isChecked() and not self.width() < needed <= self.width() + keys)

    def renew_tips(self) -> None:
        """Show in the tooltips the keys as they are now."""
        for button, tip, act_name, hand in self._tips:
            keys = keys_text(LANE_ACTS[act_name]) if act_name else ""
            told = ", ".join(one for one in (keys, hand) if one)
            button.setToolTip(f"{tip} ({told})" if told else tip)

    def add_switch(self, text: str, tip: str, *, icon: str) -> QToolButton:
        """A button that stays pressed, at the end."""
        button = self._add(text, tip, lambda: None, icon=icon)
        button.setCheckable(True)
        self._of_lanes.append(button)
        return button

    def show_lane_tools(self, *, shown: bool) -> None:
        """Offer what moves, measures and arranges lanes."""
        for button in self._of_lanes:
            button.setVisible(shown)
        if shown:
            self._make_room()

    def _show_steps(self) -> None:
        for button, possible in zip((self._back, self._forward), self._lanes.can_step(), strict=True):
            button.setEnabled(possible)


class FindingSteps(QWidget):
    """Goes from finding to finding; stands beside the overview that shows all of them."""

    stepped = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(4)
        for icon, tip, by in (("finding-before", "The finding before", -1), ("finding-next", "The next finding", 1)):
            button = _button("Finding", tip, lambda by=by: self.stepped.emit(by), tip)  # type: ignore[misc]
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextUnderIcon)
            set_icon(button, icon)
            button.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
            row.addWidget(button)


def _button(text: str, tip: str, act: Callable[[], object], name: str) -> QToolButton:
    button = QToolButton()
    button.setObjectName("tool")
    button.setText(text)
    button.setToolTip(tip)
    button.setAccessibleName(name or text)
    button.setMinimumWidth(44)
    button.clicked.connect(lambda: act())
    return button
