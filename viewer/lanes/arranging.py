"""The lanes' arrangement under a hand: every change can be undone."""

from collections.abc import Sequence

from PySide6.QtCore import QObject, Signal

from loomlight.viewer.lanes.arrangement import Arrangement, ScaleWay, arranged, ordered
from loomlight.viewer.lanes.past import Past
from loomlight.viewer.lanes.specs import Lane

TALLER = 1.25


class Arranging(QObject):
    """Holds the lanes as given, how they are arranged, and which one the keys act on.

    Attributes
    ----------
    shown : tuple of Lane
        As arranged, top to bottom.
    chosen : str
        Key of the lane that the keys act on; empty where there are none.
    """

    changed = Signal()
    edited = Signal()
    """A hand changed it: it can be undone."""
    said = Signal(str)
    """What was done that cannot be seen any more, and the way back."""
    turned = Signal()
    """A hand changed it, or undid a change: it is worth remembering."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._given: tuple[Lane, ...] = ()
        self._past: Past[Arrangement] = Past(Arrangement())
        self.shown: tuple[Lane, ...] = ()
        self.chosen = ""
        self._told = False

    @property
    def arrangement(self) -> Arrangement:
        """As it stands."""
        return self._past.now

    def begin(self, given: Sequence[Lane], arrangement: Arrangement | None = None) -> None:
        """Show other lanes; those of before keep their arrangement unless another one is given."""
        others = {lane.key for lane in given} != {lane.key for lane in self._given}
        self._given = tuple(given)
        if arrangement is not None or others:
            self._past.begin(arrangement or Arrangement())
        self._arrange()

    def _arrange(self) -> None:
        self.shown = arranged(self._given, self.arrangement)
        keys = [lane.key for lane in self.shown]
        if self.chosen not in keys:
            self.chosen = keys[0] if keys else ""
        self.changed.emit()

    def change(self, arrangement: Arrangement) -> None:
        """Arrange otherwise."""
        if self._past.change(arrangement):
            self._arrange()
            self.edited.emit()
            self.turned.emit()

    def undo(self) -> None:
        """Back to before the last change."""
        if self._past.undo():
            self._arrange()
            self.turned.emit()

    def redo(self) -> None:
        """Make it again."""
        if self._past.redo():
            self._arrange()
            self.turned.emit()

    # Which lane

    def lane(self, key: str) -> Lane | None:
        """A lane that is shown, by its key."""
        return next((lane for lane in self.shown if lane.key == key), None)

    def hidden(self) -> tuple[str, ...]:
        """Keys of the lanes that are not shown."""
        seen = {layer.key for lane in self.shown for layer in lane.layers}
        return tuple(lane.key for lane in self._given if lane.key not in seen)

    def choose(self, key: str) -> None:
        """Let the keys act on another lane."""
        if key != self.chosen and self.lane(key) is not None:
            self.chosen = key
            self.changed.emit()

    def step(self, by: int) -> None:
        """Let the keys act on the next lane, or on the one before."""
        keys = [lane.key for lane in self.shown]
        if keys:
            self.choose(keys[(keys.index(self.chosen) + by) % len(keys)])

    # Order and height

    def move(self, key: str, by: int) -> None:
        """Move a lane up or down among those that are shown."""
        keys = [lane.key for lane in self.shown]
        if key in keys:
            self.place(key, min(max(keys.index(key) + by, 0), len(keys) - 1))

    def place(self, key: str, place: int) -> None:
        """Put a lane at a place among those that are shown."""
        keys = [lane.key for lane in self.shown]
        rest = [one for one in keys if one != key]
        place = min(max(place, 0), len(rest))
        if key not in keys or keys.index(key) == place:
            return
        whole = [lane.key for lane in ordered(self._given, self.arrangement) if lane.key != key]
        after = whole.index(rest[place]) if place < len(rest) else len(whole)
        self.change(self.arrangement.moved([*whole, key], key, after))

    def weigh(self, weights: dict[str, float]) -> None:
        """Give lanes other shares of the height."""
        found = self.arrangement
        for key, weight in weights.items():
            found = found.changed(key, weight=weight)
        self.change(found)

    def taller(self, key: str, *, times: float = TALLER) -> None:
        """Make a lane taller, or lower with a factor below one."""
        lane = self.lane(key)
        if lane is not None:
            self.weigh({key: min(max(lane.weight * times, 0.2), 10.0)})

    # Hiding and overlaying

    def hide(self, key: str) -> None:
        """Hide a lane; the last one stays."""
        if self.lane(key) is not None and len(self.shown) > 1:
            self.change(self.arrangement.changed(key, is_hidden=True))
            self.said.emit(f"{key} is hidden. Shift+H, or a lane's menu, shows it again.")

    def show_all(self) -> None:
        """Show what was hidden."""
        self.change(self.arrangement.all_shown())

    def lay_over(self, key: str, on: str) -> None:
        """Lay a lane over another one."""
        if key != on and self.lane(key) is not None and self.lane(on) is not None:
            self.change(self.arrangement.laid_over(key, on))
            if not self._told:
                self._told = True  # once is enough: what lies there can be seen
                self.said.emit(f"{key} lies over {on} now. Shift+O, or the lane's menu, takes them apart.")

    def lay_over_next(self, key: str) -> None:
        """Lay a lane over the one above it; the uppermost over the one below."""
        keys = [lane.key for lane in self.shown]
        if key in keys and len(keys) > 1:
            place = keys.index(key)
            self.lay_over(key, keys[place - 1] if place else keys[1])

    def take_apart(self, key: str) -> None:
        """Give all that is laid over a lane a lane of its own again."""
        lane, found = self.lane(key), self.arrangement
        for layer in lane.laid if lane is not None else ():
            found = found.changed(layer.key, over="")
        self.change(found)

    def as_given(self) -> None:
        """Undo all of it at once."""
        self.change(Arrangement())

    # Scale

    def scale(self, key: str, way: ScaleWay, bounds: tuple[float, float] | None = None) -> None:
        """Choose how a lane's value axis is fitted."""
        low, high = bounds if bounds is not None else (None, None)
        self.change(self.arrangement.changed(key, scale=way, low=low, high=high))

    def share_scales(self) -> None:
        """Put all lanes of one unit at one scale; or each at its own again where they are already."""
        keys = [lane.key for lane in self.shown]
        sharing = all(self.arrangement.of(key).scale == "shared" for key in keys)
        found = self.arrangement
        for key in keys:
            found = found.changed(key, scale="own" if sharing else "shared", low=None, high=None)
        self.change(found)

    def prefix(self, key: str, prefix: str | None) -> None:
        """Choose the unit's prefix on a lane's value axis; None as it fits."""
        self.change(self.arrangement.changed(key, prefix=prefix))
