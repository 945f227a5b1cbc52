"""Pictures of the Library page, of a made library: ``python tests/viewer/library_pictures.py FOLDER [--quick]``."""

import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QApplication

from loomlight.sample_captures.starter import add_starter
from loomlight.storage.library import Library
from loomlight.viewer.application import dress
from loomlight.viewer.choice import Choice
from loomlight.viewer.entry_dialog import EntryDialog
from loomlight.viewer.keep_dialog import KeepDialog
from loomlight.viewer.settings import Settings
from loomlight.viewer.window import PLACES, Window

SIZES = ((1366, 768), (1920, 1080))
PLACES_OF_USE = (("Coachling", "heating"), ("Vanlet", "charging"), ("Roadwren", "lighting"))


def settle(application: QApplication, ready: Callable[[], bool] = lambda: True, *, seconds: float = 0.5) -> None:
    """Let everything that was asked for be drawn."""
    end, last = time.monotonic() + seconds, time.monotonic() + 60
    while time.monotonic() < end or (not ready() and time.monotonic() < last):
        application.processEvents()
        time.sleep(0.005)


def made(folder: Path) -> Library:
    """The starter entries on several invented vehicles, one edited, one with two captures, one damaged, one a copy."""
    library = Library(folder)
    first = add_starter(library)
    for number, (make, system) in enumerate(PLACES_OF_USE):
        for one in first:
            known = replace(one, make=make, model="9 seat", year=str(2012 + number), system=system, simulated=False)
            known = replace(known, connector=f"C{number + 3}", pin=str(number + 1), conditions=("idle", "engine warm"))
            kept = library.add(library.open(one), one.channel, replace(known, title=f"{one.title}, {make}"))
    kept = library.edit(kept, {"wire_colour": "violet/white", "probe_factor": 10.0, "note": "Body not shaken."})
    kept = library.edit(kept, {"ground": "After the repair; the same on a second vehicle."})
    library.add_capture(kept, library.open(kept), kept.channel, note="warmer day")
    shutil.copy(library.path_of(kept), folder / f"{kept.id} (copy of the other laptop).h5")
    damaged = library.path_of(library.all()[4])
    content = bytearray(damaged.read_bytes())
    content[-100] ^= 1
    library.all()
    damaged.write_bytes(content)
    library.delete(library.all()[5])
    return library


def main() -> None:
    """Every state of the page in both themes and sizes."""
    folder, quick = Path(sys.argv[1]), "--quick" in sys.argv
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication([])
    dress(application)
    with tempfile.TemporaryDirectory() as place:
        library = made(Path(place) / "library")
        window = Window(library, Settings(Path(place) / "loomlight.ini"))
        window.resize(*SIZES[0])
        window.show()
        window.go_to(PLACES.index("Library"))
        page = window.library_page
        for theme in ("daylight",) if quick else ("daylight", "night"):
            window.settings.theme = theme  # type: ignore[assignment]
            window.apply_theme()
            for size in SIZES[:1] if quick else SIZES:
                window.resize(*size)
                settle(application, lambda: page.list.count() > 5)
                for part in range(5):
                    page.about.parts.button(part).click()
                    settle(application)
                    window.grab().save(str(folder / f"part{part}_{theme}_{size[0]}.png"))
                page.about.parts.button(0).click()
                page.buttons.beside_button.click()
                page.list.setCurrentRow(3)
                settle(application, seconds=2.0)
                window.grab().save(str(folder / f"beside_{theme}_{size[0]}.png"))
                page.buttons.beside_button.click()
                page._like_entry(page.list.rows[0].entry)
                settle(application, lambda: not page._looking.is_busy, seconds=2.0)
                window.grab().save(str(folder / f"like_{theme}_{size[0]}.png"))
                page.finder.leave_like()
                page.finder.view.setCurrentIndex(2)
                page.finder.search_anew()
                settle(application, seconds=1.0)
                window.grab().save(str(folder / f"bin_{theme}_{size[0]}.png"))
                page.finder.view.setCurrentIndex(0)
                page.words.setText("cochling")
                settle(application, seconds=1.0)
                window.grab().save(str(folder / f"words_{theme}_{size[0]}.png"))
                page.words.clear()
                page.finder.search_anew()
                settle(application, seconds=1.0)
            entry = library.all()[0]
            choice = Choice(library.open(entry).channel(entry.channel), Path("a.csv"), "a.csv")
            for name, dialog in (
                ("edit", EntryDialog(entry, window)),
                ("keep", KeepDialog(choice, replace(entry, vin=""), window)),
                ("keep_new", KeepDialog(choice, replace(entry, make="", model="", year=""), window)),
            ):
                dialog.show()
                settle(application)
                dialog.grab().save(str(folder / f"{name}_{theme}.png"))
                dialog.close()
        window.close()


if __name__ == "__main__":
    main()
