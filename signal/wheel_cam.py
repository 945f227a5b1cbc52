"""Where the cam sensor's edges lie on the crankshaft's two turns."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.pulse_train import read_train
from loomlight.signal.wheel_reading import WheelReading
from loomlight.signal.wheel_teeth import Row

CYCLE = 720.0
TOGETHER = 8.0
"""Degrees within which edges of different turns are the same cam tooth's."""


@dataclass(frozen=True)
class CamPhase:
    """Edges of the cam sensor over two turns of the crankshaft.

    Attributes
    ----------
    degrees : tuple of float
        Crank angle of each edge behind the crank's first tooth after its gap, 0 to 720; which of both turns comes first is
        not known.
    rising : tuple of bool
        Direction of each.
    spreads : tuple of float
        Standard deviation of each over the capture, degrees.
    """

    degrees: tuple[float, ...]
    rising: tuple[bool, ...]
    spreads: tuple[float, ...]


def cam_phase(reading: WheelReading, cam: Channel, progress: Progress = unwatched) -> CamPhase | None:
    """Lay the cam's edges on the crank's turns; None where either turns too little to be read."""
    turns, wheel = reading.turns, reading.wheel
    if turns is None or wheel is None or not wheel.absent or cam.step_s is None:
        return None
    train = read_train(cam, progress)
    if train is None or train.at_s.size < 4:
        return None
    flat = turns.times_s.ravel()
    seen = np.flatnonzero(np.isfinite(flat))
    angle = np.interp(train.at_s, flat[seen], seen * 360.0 / wheel.positions, left=np.nan, right=np.nan)
    known = np.isfinite(angle)
    angle, rising = angle[known], train.rising[known]
    if angle.size < 4:
        return None
    cycles = float((seen[-1] - seen[0]) / wheel.positions / 2.0)
    found: list[tuple[float, bool, float]] = []
    for up in (True, False):
        found += [(middle, up, spread) for middle, spread in _groups(angle[rising == up] % CYCLE, cycles)]
    found.sort()
    if not found:
        return None
    degrees, directions, spreads = zip(*found, strict=True)
    return CamPhase(degrees, directions, spreads)


def _groups(angles: Row, cycles: float) -> list[tuple[float, float]]:
    """Middle and spread of angles that lie together; those that come in few of the cycles are left out."""
    if not angles.size:
        return []
    ordered = np.sort(angles)
    apart = np.diff(ordered, append=ordered[0] + CYCLE)
    cut = int(np.argmax(apart))
    ordered = np.concatenate([ordered[cut + 1 :], ordered[: cut + 1] + CYCLE])
    parts = np.split(ordered, np.flatnonzero(np.diff(ordered) > TOGETHER) + 1)
    return [
        (float(np.median(part)) % CYCLE, float(part.std())) for part in parts if part.size >= max(1.0, 0.4 * cycles)
    ]


def drift(own: CamPhase, good: CamPhase) -> float | None:
    """How many crank degrees the cam comes later than on the known-good; None where their patterns differ.

    Which of the two turns a capture begins with is not known, so both are tried.
    """
    best: tuple[float, float] | None = None
    for turn in (0.0, 0.5 * CYCLE):
        moved: list[float] = []
        for up in (True, False):
            here = np.array([one for one, way in zip(own.degrees, own.rising, strict=True) if way == up])
            there = np.array([one for one, way in zip(good.degrees, good.rising, strict=True) if way == up])
            if here.size != there.size:
                return None
            if not here.size:
                continue
            rows = [_signed(np.roll(np.sort((here + turn) % CYCLE), shift) - there) for shift in range(here.size)]
            moved += min(rows, key=lambda row: float(np.ptp(row)) + 0.1 * float(np.abs(row).mean())).tolist()
        if not moved:
            return None
        middle = float(np.median(moved))
        unlike = float(np.abs(np.asarray(moved) - middle).max()) + 0.1 * abs(middle)
        if best is None or unlike < best[0]:
            best = unlike, middle
    assert best is not None
    return best[1] if best[0] < 12.0 + 0.1 * abs(best[1]) else None


def _signed(degrees: Row) -> Row:
    signed: Row = (degrees + 0.5 * CYCLE) % CYCLE - 0.5 * CYCLE
    return signed
