"""Make the README's pictures anew from the sample job: ``python tests/viewer/readme_pictures.py [FOLDER]``."""

import sys
import tempfile
from pathlib import Path

from PySide6.QtWidgets import QApplication

from loomlight.storage.library import Library
from loomlight.viewer.application import dress
from loomlight.viewer.settings import Settings
from loomlight.viewer.window import Window

sys.path.insert(0, str(Path(__file__).parent))
from window_pictures import settle, wait_until

SIZE = (1366, 768)
COMPARE, PROOF = 2, 3


def main() -> None:
    """Grab the Compare page by day and the Proof page by night."""
    default = Path(__file__).parents[2] / "sample_captures" / "pictures"
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else default
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication([])
    dress(application)
    with tempfile.TemporaryDirectory() as empty:
        window = Window(Library(Path(empty)), Settings())
        window.resize(*SIZE)
        window.show()
        window.open_sample()
        wait_until(application, lambda: window.desk.drawn is not None and window.desk.proof is not None)
        for place, theme, name in ((COMPARE, "daylight", "compare.png"), (PROOF, "night", "proof.png")):
            window.settings.theme = theme
            window.apply_theme()
            window.go_to(place)
            settle(application)
            window.grab().save(str(folder / name))
        window.close()


if __name__ == "__main__":
    main()
