"""What the Captures page asks for and other parts do: set-up of channels, another reading, joining of files."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from loomlight.signal.channel_setup import stored_of
from loomlight.signal.errors import LoomlightError
from loomlight.signal.job import Stage
from loomlight.signal.joined import groups_to_join
from loomlight.signal.progress import Progress
from loomlight.storage.reading import Reading
from loomlight.viewer.aside import Aside
from loomlight.viewer.choice import Choice, Opened
from loomlight.viewer.desk import Desk
from loomlight.viewer.looks import theme_of
from loomlight.viewer.message_strip import MessageStrip
from loomlight.viewer.opening import Opening
from loomlight.viewer.pages.captures_page import CapturesPage
from loomlight.viewer.setting_up import SettingUp
from loomlight.viewer.settings import Settings


class CaptureActions(QObject):
    """Joins the Captures page with the desk for what is more than choosing."""

    failed = Signal(object)
    page_wanted = Signal()

    def __init__(
        self,
        desk: Desk,
        opening: Opening,
        page: CapturesPage,
        strip: MessageStrip,
        settings: Settings,
        parent: QWidget,
    ) -> None:
        super().__init__(parent)
        self._settings = settings
        self.page = page
        self._desk, self._strip, self._window = desk, strip, parent
        self._opening = opening
        self._joining = Aside(self)
        self._asked: list[tuple[Path, Stage]] = []
        self.setting_up = SettingUp(desk, self)
        page.set_up_wanted.connect(self.ask_setup)
        page.undo_wanted.connect(self.undo_setup)
        page.join_offer.wanted.connect(self.join)
        page.reading.agreed.connect(self.read_anew)
        page.reading.left.connect(self._ask_next)
        desk.captures_changed.connect(lambda: page.join_offer.keep_to(desk.opened))
        for part in (self, self.setting_up):
            part.failed.connect(strip.say_error)

    # Set-up

    def ask_setup(self, opened: Opened, place: int) -> None:
        """Let the user set one channel up."""
        from loomlight.viewer.channel_setup_dialog import ChannelSetupDialog

        channel = opened.capture.channels[place]
        taken = [one.name for one in opened.capture.channels if one is not channel]
        dialog = ChannelSetupDialog(
            channel, taken, theme_of(self._settings), self._window, probe_factor=self._settings.probe_factor
        )
        dialog.failed.connect(self._strip.say_error)
        is_agreed = dialog.exec() == ChannelSetupDialog.DialogCode.Accepted
        setup = dialog.setup() if is_agreed else stored_of(channel)[1]
        dialog.deleteLater()  # else every one stays with the window, lanes and all
        if not is_agreed:
            return
        try:
            self.setting_up.apply(opened.path, place, setup)
        except LoomlightError as error:
            self.failed.emit(error)
            return
        if replace(setup, channel="") != replace(stored_of(channel)[1], channel=""):
            what = "is shown as it was read" if setup.is_plain else "is set up; the stored samples stay as they are"
            self._strip.say(f"{setup.name or stored_of(channel)[0].name} {what}.", offer=("Undo", self.undo_setup))

    def undo_setup(self) -> None:
        """Take the last set-up back."""
        if not self.setting_up.can_undo:
            return
        try:
            self.setting_up.undo()
        except LoomlightError as error:
            self.failed.emit(error)
            return
        self._strip.say("The last set-up was taken back.")

    # Reading

    def ask_reading(self, path: Path, stage: Stage) -> None:
        """A file cannot be read until the user says how: one after the other is shown."""
        self._asked.append((path, stage))
        if len(self._asked) == 1:
            self.page.ask_reading(path, stage)
            self.page_wanted.emit()

    def _ask_next(self) -> None:
        self._asked = self._asked[1:]
        if self._asked:
            self.page.ask_reading(*self._asked[0])
        else:
            self.page.end_reading()

    def read_anew(self, path: Path, stage: Stage, reading: Reading) -> None:
        """Read a file as the user said; where that changed what lay there already, it can be taken back."""
        old = next((one.reading for one in self._desk.opened if one.path == path), None)
        self._ask_next()

        def done() -> None:
            now = next((one.reading for one in self._desk.opened if one.path == path), None)
            if old is not None and now == reading != old:
                offer = ("Undo", lambda: self._opening.add([(path, stage)], reading=old))
                self._strip.say(f"{path.name} was read as you said.", offer=offer)

        self._opening.add([(path, stage)], reading=reading, then=done if old is not None else None)

    # Joining

    def offer_to_join(self, opened: list[Opened]) -> None:
        """Where files that were opened together may be one recording, offer to join them."""
        here = [one for one in self._desk.opened if any(one.path == other.path for other in opened)]
        groups = groups_to_join([one.capture for one in here])
        if groups:
            self.page.join_offer.offer([here[place] for place in groups[0]])

    def join(self, opened: Sequence[Opened]) -> None:
        """Make one capture of several, and put it in their place."""
        folder = self._desk.folder
        current = [one for one in self._desk.opened if any(one.path == other.path for other in opened)]
        uses = self._uses(current)

        def done(whole: Opened) -> None:
            if self._desk.folder is not folder:
                return
            self._desk.take_away([one.path for one in current])
            self._desk.take_opened(whole)
            choices = whole.choices()
            self._desk.choose(**{use: choices[place] for use, place in uses.items()})
            self._strip.say(f"Joined into {whole.path.name}, {len(choices)} channels. The single files are kept.")

        def work(progress: Progress) -> Opened:
            from loomlight.viewer.joining import join_files

            return join_files(folder, current, progress)

        self._joining.run(work, done, self.failed.emit)

    def _uses(self, opened: Sequence[Opened]) -> dict[str, int]:
        """What the single files' channels were chosen for, by their place in the joined capture."""
        found = {}
        for use in ("suspect", "good", "after"):
            choice: Choice | None = getattr(self._desk.chosen, use)
            for place, one in enumerate(opened):
                if choice is not None and choice.source == one.path:
                    found[use] = place
        return found

    def close_work(self) -> None:
        """Wait for what must not be lost."""
        self._joining.finish()
        self.setting_up.close_work()
