"""Sets channels up on the desk, keeps that, and takes it back."""

from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from loomlight.signal.capture import Capture
from loomlight.signal.channel_setup import ChannelSetup, channel_key, set_up, stored_of
from loomlight.signal.errors import CannotUse, LoomlightError
from loomlight.signal.progress import Progress
from loomlight.storage.capture_memory import CaptureMemory
from loomlight.storage.stored_samples import StoredSamples
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Opened
from loomlight.viewer.desk import Desk


@dataclass(frozen=True)
class _Step:
    path: Path
    place: int
    before: ChannelSetup


class SettingUp(QObject):
    """Set-ups of the channels on the desk; the way back holds as long as the capture lies there."""

    changed = Signal()
    failed = Signal(object)

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._steps: list[_Step] = []
        self._keeping = Aside(self)
        self._unwritten: dict[Path, tuple[ChannelSetup, ...]] = {}
        desk.captures_changed.connect(self._forget_gone)

    @property
    def can_undo(self) -> bool:
        """Whether there is a set-up to take back."""
        return bool(self._steps)

    def apply(self, path: Path, place: int, setup: ChannelSetup) -> None:
        """Set one channel up.

        Raises
        ------
        LoomlightError
            If the set-up cannot be applied to this channel, the name is taken, or the job cannot be written; nothing is
            changed then.
        """
        before = self._put(path, place, setup)
        if before != setup:
            self._steps.append(_Step(path, place, before))
            self.changed.emit()

    def undo(self) -> None:
        """Take the last set-up back.

        Raises
        ------
        LoomlightError
            If the job cannot be written.
        """
        if self._steps:
            step = self._steps[-1]
            if self._is_still_there(step):
                self._put(step.path, step.place, step.before)
            self._steps.pop()
            self.changed.emit()

    def _is_still_there(self, step: _Step) -> bool:
        """Whether the place holds the same channel: read in another way, a file may have others there."""
        capture = self._opened(step.path).capture
        return step.place < len(capture.channels) and channel_key(capture, step.place) == step.before.channel

    def _put(self, path: Path, place: int, setup: ChannelSetup) -> ChannelSetup:
        opened = self._opened(path)
        capture, old = opened.capture, opened.capture.channels[place]
        setup = replace(setup, channel=channel_key(capture, place))
        new = set_up(old, setup)
        if any(one.name == new.name for one in capture.channels if one is not old) and new.name != old.name:
            raise CannotUse(f"Another channel of {path.name} is called {new.name!r} already. Choose another name.")
        channels = tuple(new if number == place else one for number, one in enumerate(capture.channels))
        changed = replace(opened, capture=replace(capture, channels=channels))
        if new is not old:
            self._keep(changed, old.name, new.name)
            self._desk.replace_opened(changed)
        return replace(stored_of(old)[1], channel=setup.channel)

    def _opened(self, path: Path) -> Opened:
        for opened in self._desk.opened:
            if opened.path == path:
                return opened
        raise LoomlightError(f"{path.name} does not lie on the desk any more. Open it again.")

    def _keep(self, opened: Opened, old_name: str, new_name: str) -> None:
        """Keep the set-ups, and let notes on the channel's lane follow its name."""
        path, setups = opened.path, setups_to_keep(opened.capture)
        notes = tuple(
            replace(note, channel=new_name) if note.channel == old_name else note for note in self._desk.notes_of(path)
        )
        folder, kept = self._desk.folder, self._desk.job_capture(path)
        if folder is not None and kept is not None:
            folder.set_setups(kept.file, setups, notes)
            return
        self._desk.keep_notes(path, notes)
        self._unwritten[path] = setups
        # A slow stick may take a while to be read: the newest set-ups of all files still to write go aside together.
        self._keeping.run(self._write, lambda _: None, self.failed.emit)

    def _write(self, _progress: Progress) -> None:
        memory = CaptureMemory()
        while self._unwritten:
            path, setups = self._unwritten.popitem()
            memory.keep_setups(path, setups)

    def _forget_gone(self) -> None:
        here = {opened.path for opened in self._desk.opened}
        left = [step for step in self._steps if step.path in here]
        if left != self._steps:
            self._steps = left
            self.changed.emit()

    def close_work(self) -> None:
        """Wait until what was set up is kept."""
        self._keeping.finish()


def setups_to_keep(capture: Capture) -> tuple[ChannelSetup, ...]:
    """The set-ups of a capture, each with its channel; plain ones too where the file may bring another along."""
    found = [(stored_of(channel), channel_key(capture, place)) for place, channel in enumerate(capture.channels)]
    return tuple(
        replace(setup, channel=key)
        for (stored, setup), key in found
        if not setup.is_plain or isinstance(stored.samples, StoredSamples)
    )
