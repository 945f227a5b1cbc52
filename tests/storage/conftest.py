"""What several tests of the disk begin with."""

from pathlib import Path

import pytest
from library_maker import capture_with_gaps, titled

from loomlight.storage.job_folder import JobFolder
from loomlight.storage.library import Library


@pytest.fixture
def library(tmp_path: Path) -> Library:
    """Three entries."""
    made = Library(tmp_path / "library")
    heater = titled("Heater LIN at the flap motor", vehicle="Coachling 9-seat", component="flap motor")
    made.add(capture_with_gaps(), "bus", heater)
    made.add(
        capture_with_gaps(), "bus", titled("Crème Geber", vehicle="Other", note="LIN-bus, (pin 7)", connector="C12-4")
    )
    made.add(capture_with_gaps(), "bus", titled("Rail", kind="own-limits"))
    return made


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    """A new job."""
    return JobFolder.create(tmp_path / "job", title="Heater blower")


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """A file to take into it."""
    path = tmp_path / "before.csv"
    path.write_text("one")
    return path
