"""``loomlight desktop``: an entry that the system's menu takes, for this user alone."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from loomlight.viewer.command_line import main
from loomlight.viewer.commands.desktop import entry_for

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="only Linux desktops take it")


def test_put_in_place_and_taken_away(own_home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["desktop"]) == 0
    entry = own_home / "applications" / "loomlight.desktop"
    text = entry.read_text(encoding="utf-8")
    assert "MimeType=text/csv;" in text
    assert (own_home / "icons/hicolor/scalable/apps/loomlight.svg").read_bytes().startswith(b"<svg")
    line = next(one for one in text.splitlines() if one.startswith("Exec="))
    assert Path(line.removeprefix("Exec=").split()[0].strip('"')).exists()
    if shutil.which("desktop-file-validate"):
        subprocess.run(["desktop-file-validate", str(entry)], check=True)
    assert main(["desktop", "--remove"]) == 0
    assert not entry.exists()
    assert main(["desktop", "--remove"]) == 0
    assert "menu" in capsys.readouterr().out


def test_a_path_with_blanks_is_quoted_as_the_specification_wants() -> None:
    # Desktop Entry Specification 1.5, "The Exec key": arguments with reserved signs are quoted, a percent sign is doubled.
    entry = entry_for(["/opt/my tools/100%/loomlight"], "Exec=loomlight %F\n")
    assert entry == 'Exec="/opt/my tools/100%%/loomlight" %F\n'
