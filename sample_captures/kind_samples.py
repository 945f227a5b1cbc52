"""One good and one faulty capture of each signal kind, drawn from its maker with a fixed seed.

They are written with the sample job's captures by ``python -m loomlight.sample_captures.make_samples``.
"""

import importlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from loomlight.sample_captures.makers.shape import Made, Maker
from loomlight.storage.capture_file import write_capture

CREATED = "2026-03-02T10:15:00+00:00"


@dataclass(frozen=True)
class Sample:
    """One file.

    Attributes
    ----------
    file : str
        Its name.
    kind : str
        Key of the signal kind.
    fault : str
        What is wrong; empty for a good one.
    seed : int
        Draws it.
    """

    file: str
    kind: str
    fault: str
    seed: int

    def made(self) -> Made:
        """The capture with its ground truth."""
        name = f"loomlight.sample_captures.makers.{self.kind.replace('-', '_')}"
        maker: Maker = importlib.import_module(name)  # type: ignore[assignment]
        return maker.made(self.fault, np.random.default_rng(self.seed))


SAMPLES = (
    Sample("k_line_good.h5", "k-line", "", 7),
    Sample("k_line_series_resistance.h5", "k-line", "series resistance", 7),
    Sample("can_low_speed_good.h5", "can-low-speed", "", 4),
    Sample("can_low_speed_canl_open.h5", "can-low-speed", "CANL open", 4),
    Sample("can_good.h5", "can", "", 7),
    Sample("can_stub_resistance.h5", "can", "series resistance in a stub", 7),
    Sample("can_single_wire_good.h5", "can-single-wire", "", 3),
    Sample("can_single_wire_weak_driver.h5", "can-single-wire", "weak driver", 3),
    Sample("sent_good.h5", "sent", "", 6),
    Sample("sent_intermittent.h5", "sent", "intermittent", 6),
    Sample("charging_good.h5", "charging", "", 6),
    Sample("charging_open_diode.h5", "charging", "open diode", 6),
    Sample("cranking_good.h5", "cranking", "", 8),
    Sample("cranking_weak_cylinder.h5", "cranking", "weak cylinder", 1),
    Sample("supply_good.h5", "supply", "", 2),
    Sample("supply_voltage_drop.h5", "supply", "voltage drop", 5),
    Sample("coil_current_good.h5", "coil", "", 5),
    Sample("coil_current_high_resistance.h5", "coil", "high resistance", 6),
    Sample("pwm_good.h5", "pwm", "", 2),
    Sample("pwm_missing_pulses.h5", "pwm", "missing pulses", 1),
    Sample("toothed_wheel_good.h5", "toothed-wheel", "", 4),
    Sample("toothed_wheel_missing_tooth.h5", "toothed-wheel", "missing tooth", 2),
    Sample("wheel_speed_good.h5", "wheel-speed", "", 7),
    Sample("wheel_speed_leak.h5", "wheel-speed", "leak", 4),
)


def write_kind_samples(folder: Path) -> None:
    """Write all of them into ``folder``."""
    for sample in SAMPLES:
        write_capture(folder / sample.file, sample.made().capture, created=CREATED)
