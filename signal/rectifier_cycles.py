"""What a three-phase rectifier delivers over one electrical period: sound, with a diode open or shorted, with a phase lost."""

from dataclasses import dataclass
from functools import cache
from itertools import product
from typing import Literal

import numpy as np
import numpy.typing as npt

Row = npt.NDArray[np.float64]
RectifierFault = Literal["", "open diode", "shorted diode", "lost phase"]
FAULTS: tuple[RectifierFault, ...] = ("", "open diode", "shorted diode", "lost phase")

POINTS = 96
"""Of one electrical period; divides by 6 and 12."""
DRIVES = (0.6, 0.63, 0.68, 0.74, 0.82, 0.92, 1.05, 1.2, 1.4)
"""Phase voltage's peak, as a share of battery voltage and two diodes: from where current just flows to full load."""
SMOOTHINGS = (0.0, 0.01, 0.03)
"""Time constant of leads and windings, as a share of the electrical period."""
LEAST_SOUND = 0.66
"""A sound rectifier below this drive delivers next to nothing: a ripple that can be judged is not from there."""
HUMPS = 6


@dataclass(frozen=True, eq=False)
class CycleModel:
    """One expected cycle.

    Attributes
    ----------
    fault : str
        One of `FAULTS`.
    drive, smoothing : float
        What it was worked out for.
    shape : ndarray, shape (POINTS,)
        Charging current over one electrical period, of a sound rectifier over one of its six equal humps; its mean taken away
        and its norm 1.
    """

    fault: RectifierFault
    drive: float
    smoothing: float
    shape: Row


@cache
def cycle_models() -> tuple[CycleModel, ...]:
    """All expected cycles."""
    found: list[CycleModel] = []
    for fault, drive, smoothing in product(FAULTS, DRIVES, SMOOTHINGS):
        if not fault and drive < LEAST_SOUND:
            continue
        current = smoothed(charging_current(fault, drive, points=POINTS if fault else HUMPS * POINTS), smoothing)
        current = current[:POINTS] - current[:POINTS].mean()
        size = float(np.sqrt(current @ current))
        if size > 1e-3:
            found.append(CycleModel(fault, drive, smoothing, current / size))
    return tuple(found)


def charging_current(fault: RectifierFault, drive: float, *, points: int = POINTS) -> Row:
    """Current into the battery over one electrical period.

    Three voltages a third of a period apart in star, each with the same winding resistance, six ideal diodes, and a battery
    that holds its voltage. At each instant every phase conducts up, down or not at all; the one choice is taken in which no
    diode carries current backwards or holds back forward voltage.

    Parameters
    ----------
    fault : str
        What is wrong with the first phase.
    drive : float
        Peak of one phase's voltage, as a share of battery voltage and two diodes.
    points : int
        Of the period.

    Returns
    -------
    ndarray, shape (points,)
        In units of battery voltage over winding resistance.
    """
    angle = 2.0 * np.pi * np.arange(points, dtype=np.float64) / points
    waves = np.array([drive * np.sin(angle - 2.0 * np.pi * k / 3.0) for k in range(3)])
    current, settled = np.zeros(points), np.zeros(points, dtype=bool)
    for states in product(("up", "down", "off"), repeat=3):
        if not _possible(fault, states[0]):
            continue
        fits, into = _conducting(waves, states, fault)
        fresh = fits & ~settled
        current[fresh], settled = into[fresh], settled | fits
    return current


def _possible(fault: RectifierFault, first: str) -> bool:
    if fault == "open diode":
        return first != "up"
    if fault == "shorted diode":
        return first == "up"
    return fault != "lost phase" or first == "off"


def _conducting(waves: Row, states: tuple[str, ...], fault: RectifierFault) -> tuple[npt.NDArray[np.bool_], Row]:
    """Where these states contradict nothing, and the current into the battery there."""
    room = 1e-9
    on = [k for k, state in enumerate(states) if state != "off"]
    held = {k: 1.0 if states[k] == "up" else 0.0 for k in on}
    if not on:
        sound = waves[1:] if fault in ("open diode", "lost phase") else waves
        if fault == "open diode":  # its other diode still bounds it from below
            return _spread(sound, waves[0]) <= 1.0 + room, np.zeros(waves.shape[1])
        return np.ptp(sound, axis=0) <= 1.0 + room, np.zeros(waves.shape[1])
    star = (sum(held.values()) - waves[on].sum(axis=0)) / len(on)
    fits = np.ones(waves.shape[1], dtype=bool)
    into = np.zeros(waves.shape[1])
    for k, state in enumerate(states):
        volts = waves[k] + star
        first_is_short = k == 0 and fault == "shorted diode"
        if state == "up":
            into += volts - 1.0
            fits &= (volts >= 1.0 - room) | first_is_short
        elif state == "down":
            fits &= volts <= room
        elif not (k == 0 and fault == "lost phase"):
            fits &= volts >= -room
            fits &= (volts <= 1.0 + room) | (k == 0 and fault == "open diode")
    return fits, into


def _spread(sound: Row, first: Row) -> Row:
    """From the lowest of all to the highest of those that can conduct up."""
    found: Row = np.maximum(sound.max(axis=0) - np.minimum(sound.min(axis=0), first), np.ptp(sound, axis=0))
    return found


def smoothed(current: Row, smoothing: float) -> Row:
    """Current over one period behind one pole; ``smoothing`` its time constant as a share of the period."""
    if not smoothing:
        return current
    order = np.arange(current.size // 2 + 1)
    spectrum = np.fft.rfft(current) / (1.0 + 2j * np.pi * order * smoothing)
    found: Row = np.fft.irfft(spectrum, current.size)
    return found
