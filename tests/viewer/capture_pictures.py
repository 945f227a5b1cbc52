"""Pictures of all about files, from reading to watching: ``python tests/viewer/capture_pictures.py FOLDER``.

Works on any screen that Qt has, a virtual one or none (QT_QPA_PLATFORM=offscreen) included.
"""

import importlib.resources
import os
import sys
import tempfile
from pathlib import Path

from PySide6.QtWidgets import QApplication
from window_pictures import SIZES, settle, wait_until

from loomlight.storage.library import Library
from loomlight.viewer.application import dress
from loomlight.viewer.channel_setup_dialog import ChannelSetupDialog
from loomlight.viewer.settings import Settings
from loomlight.viewer.theme import THEMES
from loomlight.viewer.window import Window


class Pictures:
    """One window, walked through all that can be said about files."""

    def __init__(self, application: QApplication, place: Path, target: Path) -> None:
        self.application, self.place, self.target = application, place, target
        self.window = Window(Library(place / "library"), Settings(place / "loomlight.ini"))
        self.window.show()
        source = importlib.resources.files("loomlight.sample_captures")
        self.before, self.after = (source.joinpath(name).read_bytes() for name in ("before.csv", "after.csv"))
        self.exports = place / "exports"
        self.exports.mkdir()
        self.taken = 0

    def take(self, theme: str, size: tuple[int, int]) -> None:
        """Everything in one theme and size."""
        self.window.settings.theme = theme  # type: ignore[assignment]
        self.window.apply_theme()
        self.window.resize(*size)
        self.name = f"{theme}_{size[0]}"
        for step in (self.question, self.column, self.join, self.setup, self.watch):
            self.window.desk.clear()
            self.window.strip.hide()
            step()

    def save(self, what: str) -> None:
        """Take a picture of the whole window."""
        settle(self.application)
        self.window.grab().save(str(self.target / f"{what}_{self.name}.png"))

    def opened(self, *contents: tuple[str, bytes]) -> None:
        """Open files with this content."""
        for name, content in contents:
            (self.place / name).write_bytes(content)
        self.window.files.open([self.place / name for name, _ in contents])
        wait_until(self.application, lambda: not self.window.opening.is_busy)
        settle(self.application)

    def question(self) -> None:
        """A file that cannot be read until its step is said."""
        rows = "".join(f"{place // 20 % 2 * 11.9 + 0.3:.3f};{place // 10 % 2 * 5:.2f}\n" for place in range(600))
        table = "Remark;blower plug, pin 3\n\nblower;flap\n" + rows
        self.opened(("no time.csv", table.replace(".", ",").encode()))
        panel = self.window.captures_page.reading
        wait_until(self.application, lambda: panel.isVisible() and not panel._looking.is_busy)
        self.save("question")
        panel.leave_button.click()

    def column(self) -> None:
        """A column is clicked on."""
        rows = "".join(f"{place * 2e-6:.7f},{place // 20 % 2 * 11.9 + 0.3:.3f},{place % 11}\n" for place in range(600))
        self.opened(("no units.csv", ("time,blower,flap\n" + rows).encode()))
        self.save("open questions")
        page = self.window.captures_page
        page.reading_button.click()
        wait_until(self.application, lambda: page.reading._shown is not None and not page.reading._looking.is_busy)
        page.reading.say(page.reading.reading.with_unit(2, "V"))
        wait_until(self.application, lambda: not page.reading._looking.is_busy)
        self.save("reading")
        page.reading.table._ask_column(1)
        settle(self.application)
        page.reading.column_menu.grab().save(str(self.target / f"column menu_{self.name}.png"))
        page.reading.column_menu.close()
        page.reading.leave_button.click()

    def join(self) -> None:
        """Two files of one recording."""
        rows = "".join(f"{place * 1e-5:.6f},{place // 50 % 2 * 12}\n" for place in range(2000))
        table = ("Time (s),Voltage (V)\n" + rows).encode()
        self.opened(("run7_1.csv", table), ("run7_2.csv", table.replace(b",12\n", b",11\n")))
        self.save("join")

    def setup(self) -> None:
        """A channel is set up."""
        self.opened(("before.csv", self.before))
        channel = self.window.desk.opened[0].capture.channels[0]
        dialog = ChannelSetupDialog(channel, ["flap LIN"], THEMES[self.window.settings.theme], self.window)
        dialog.show()
        wait_until(self.application, lambda: bool(dialog.panel.lanes.lanes))
        dialog.probe.show_value(20.0)
        dialog.clamp.show_value(40.0)
        dialog.show_setup()
        settle(self.application)
        dialog.grab().save(str(self.target / f"set-up_{self.name}.png"))
        dialog.reject()

    def watch(self) -> None:
        """An export arrives in the watched folder and is judged."""
        self.opened(("before.csv", self.before))
        window = self.window
        window.compare_page.run()
        wait_until(self.application, lambda: window.desk.drawn is not None)
        window.watching.start(self.exports)
        settle(self.application, 1.0)
        self.taken += 1
        name = f"touch {self.taken}.csv"
        (self.exports / name).write_bytes(self.after + b"\n" * self.taken)
        wait_until(self.application, lambda: f"{name}," in window.watching.bar.verdict.text())
        self.save("watched")
        window.watching.stop()


def main() -> None:
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    application = QApplication([])
    dress(application)
    with tempfile.TemporaryDirectory() as empty:
        os.environ["XDG_DATA_HOME"] = empty  # nothing that was said about a person's own files shows up here
        pictures = Pictures(application, Path(empty), target)
        for theme in THEMES:
            for size in SIZES:
                pictures.take(theme, size)
        pictures.window.close()


if __name__ == "__main__":
    main()
