"""Takes down what is done in the window while it is done, and lays it out again after the program was ended hard."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.session import Abandoned, SessionKeeping, abandoned, forget
from loomlight.viewer.session_state import SessionState, choose_again, desk_state

if TYPE_CHECKING:
    from loomlight.viewer.pages.compare_page import ComparePage
    from loomlight.viewer.window import Window

BACK = "Loomlight had ended without being closed. Everything is back as it was."
OFFER = "Loomlight had ended without being closed; what lay there then can be laid out again."
NOT_ALL = "Loomlight had ended without being closed. All is back but what is not there any more: {missing}."


class Recovery(QObject):
    """Joins the window with its session on the disk."""

    said = Signal(str)
    failed = Signal(object)
    offered = Signal(str, str, object)

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self._window, self._desk = window, window.desk
        self._keeping = SessionKeeping(self.state, self)
        self._is_bringing_back = False
        desk = window.desk
        for changed in (
            desk.captures_changed,
            desk.choice_changed,
            desk.job_changed,
            desk.compared,
            desk.proved,
            window.pages.currentChanged,
        ):
            changed.connect(self._take_down)

    def follow(self, page: ComparePage) -> None:
        """The Compare page was made: what is done there is taken down, too."""
        lanes = page.panel.lanes
        for changed in (lanes.view_changed, lanes.notes_changed, lanes.cursors_changed, page.hand.changed):
            changed.connect(self._take_down)

    def _take_down(self) -> None:
        if not self._is_bringing_back:
            self._keeping.mark()

    def state(self) -> SessionState:
        """How it is now."""
        state = replace(desk_state(self._desk), page=self._window.place())
        drawn = self._desk.drawn
        if drawn is None:
            return state
        from loomlight.signal.by_hand import Hand

        compare, lanes = self._window.compare_page, self._window.compare_page.panel.lanes
        lineup = drawn.comparison.lineup
        is_judged = lineup is not None and lineup.by == "hand"
        hand = None
        if compare.hand.is_on:
            hand, is_judged = compare.hand.hand, False
        elif is_judged and lineup is not None:
            hand = Hand(lineup.lag_s, lineup.stretch)
        return replace(
            state,
            hand=(hand.lag_s, hand.stretch, hand.pins) if hand is not None else None,
            is_hand_judged=is_judged,
            view=lanes.view(),
            cursors=lanes.cursors(),
        )

    # Bringing back

    def begin(self, *, ask: bool) -> None:
        """After a hard end: lay everything out again, or offer to (where something else was just opened)."""
        left = abandoned()
        if left is not None and ask:
            self.offered.emit(OFFER, "Bring it back", partial(self.bring_back, left))
        elif left is not None:
            self.bring_back(left)

    def bring_back(self, left: Abandoned) -> None:
        """Lay everything out again, as far as it is still there."""
        from loomlight.storage.library import Library

        window, state = self._window, left.state
        self._is_bringing_back = True

        def then() -> None:
            try:
                missing = self._choose(state)
            except LoomlightError as error:
                self._end()
                self.failed.emit(error)
                return
            self._compare(state)
            window.go_to(state.page)
            forget(left)
            self.said.emit(NOT_ALL.format(missing=", ".join(missing)) if missing else BACK)
            self._end()

        loose = [(Path(one.path), one.stage) for one in state.loose if Path(one.path).exists()]
        if state.job and Path(state.job).is_dir():
            own = Path(state.library) == self._desk.library_folder
            window.jobs.open_job(Path(state.job), library=None if own else Library(Path(state.library)), then=then)
        elif loose:
            window.opening.add(loose, then=then)  # type: ignore[arg-type]  # the stage is one of the list
        else:
            forget(left)
            self._end()

    def _end(self) -> None:
        self._is_bringing_back = False
        self._take_down()

    def _choose(self, state: SessionState) -> list[str]:
        for one in state.loose:
            if one.notes and any(opened.path == Path(one.path) for opened in self._desk.opened):
                self._desk.keep_notes(Path(one.path), one.notes)
        gone = [Path(one.path).name for one in state.loose if not Path(one.path).exists()]
        return gone + choose_again(self._desk, state)

    def _compare(self, state: SessionState) -> None:
        from loomlight.viewer.snapshot_view import SeenView

        compare, desk = self._window.compare_page, self._desk
        compare.asking.show_ask(state.ask)
        if state.is_compared and desk.chosen.suspect is not None:
            if state.hand is not None:
                self._lay_again(state)
            name = desk.chosen.suspect.channel.name
            seen = SeenView(("",), (name,), {}, "", "", state.ask, state.view, state.cursors)
            compare.show_seen(seen)
        if state.is_proven:
            self._window.proof_page.run()

    def _lay_again(self, state: SessionState) -> None:
        """Once it is compared, put the known-good where a hand had it; the lanes are looked at as before."""
        from loomlight.signal.by_hand import Hand

        assert state.hand is not None
        lag_s, stretch, pins = state.hand
        compare = self._window.compare_page

        def compared() -> None:
            compare.lay_by_hand(Hand(lag_s, stretch, pins), judge=state.is_hand_judged)
            if state.view is not None:
                compare.panel.lanes.set_view(*state.view)
            compare.panel.lanes.set_cursors(*state.cursors)

        self._desk.compared.connect(compared, Qt.ConnectionType.SingleShotConnection)

    def close_work(self) -> None:
        """The window is closed properly."""
        self._keeping.close_work()
