"""What every test stands on: no screen, fresh settings, and Python's own signal module."""

import logging
import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

# The same examples each time, so that a run tells of a change and not of luck; HYPOTHESIS_PROFILE=anew looks further.
settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("anew", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))

# The folder named signal must never take the place of Python's own module.
assert hasattr(sys.modules["signal"] if "signal" in sys.modules else __import__("signal"), "SIGINT")


@pytest.fixture(autouse=True)
def own_home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Give each test a home of its own: no test reads or writes the settings, library or jobs of a person."""
    home = tmp_path_factory.mktemp("home")
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME", "XDG_DOCUMENTS_DIR"):
        monkeypatch.setenv(name, str(home))
    yield home
    # The log is opened once a process; the next test's stands in the next test's home.
    log = logging.getLogger("loomlight")
    for handler in [one for one in log.handlers if one.get_name() == "loomlight file"]:
        log.removeHandler(handler)
        handler.close()
