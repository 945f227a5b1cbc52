"""A window over a fresh home, and the sample captures as files of the person's own."""

import gc
import importlib.resources
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from pytestqt.qtbot import QtBot

from loomlight.signal.comparison import Comparison, compare
from loomlight.signal.examination import Conditions
from loomlight.signal.prove import prove
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.library import Library
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.demo import make_demo
from loomlight.viewer.desk import Desk
from loomlight.viewer.job_keeping import keep_proof
from loomlight.viewer.settings import Settings
from loomlight.viewer.snapshot import as_png, proof_snapshot
from loomlight.viewer.window import Window

SAMPLES = ("before.csv", "after.csv", "known_good.h5")


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    """A folder with the sample captures, as they come from an instrument."""
    folder = tmp_path / "stick"
    folder.mkdir()
    for name in SAMPLES:
        content = importlib.resources.files("loomlight.sample_captures").joinpath(name).read_bytes()
        (folder / name).write_bytes(content)
    return folder


@pytest.fixture
def library(tmp_path: Path) -> Library:
    """An empty library."""
    return Library(tmp_path / "library")


@pytest.fixture
def desk(library: Library) -> Desk:
    """A desk with nothing on it."""
    return Desk(library)


@pytest.fixture
def window(library: Library, own_home: Path, qtbot: QtBot) -> Iterator[Window]:
    """The window, shown, with nothing open; ``own_home`` keeps its settings."""
    gc.collect()  # windows of earlier tests go here and now: collected in a worker's thread, their timers would outlive them
    settings = Settings(own_home / "loomlight.ini")
    shown = Window(library, settings)
    shown.resize(1366, 768)
    shown.show()
    yield shown
    shown.close()
    # Gone before the next test: left to Python, it would be taken apart by whichever thread tidies up, and Qt's timers in it
    # would go on.
    shown.deleteLater()
    QCoreApplication.sendPostedEvents(shown, QEvent.Type.DeferredDelete)


def sample_job(*, proven: bool = True) -> JobFolder:
    """A fresh copy of the sample job, its proof kept."""
    folder = JobFolder.open(make_demo()[0])
    if proven:
        before, after = (folder.path / "captures" / name for name in ("before.csv", "after.csv"))
        proof = prove(_compared(before), _compared(after))
        png = as_png(proof_snapshot(proof, before="before.csv", after="after.csv", job=folder.job))
        keep_proof(folder, proof, before=before, after=after, good="flap LIN", png=png)
    return folder


def _compared(path: Path) -> Comparison:
    capture = open_capture(path)
    conditions = Conditions(same_moment=True)
    return compare(capture.channel("blower LIN"), capture.channel("flap LIN"), kind="lin", conditions=conditions)


@pytest.fixture(scope="session")
def make_job() -> Callable[..., JobFolder]:
    """Makes a fresh copy of the sample job."""
    return sample_job
