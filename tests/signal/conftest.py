"""Buses made from the circuit model, with the fault put where the test wants it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pytest

from loomlight.sample_captures.make_samples import NO_GROUNDS, record
from loomlight.signal.capture import Channel
from loomlight.signal.circuit import LinBus, contact_resistance
from loomlight.signal.samples import FloatSamples

STEP_S = 1e-6


@dataclass(frozen=True, eq=False)
class MadeBus:
    """Both sides of one recording, and the resistance that lay between them."""

    far: Channel
    near: Channel
    ohm: np.ndarray
    bus: LinBus


def make_bus(
    seed: int,
    *,
    series_ohm: float = 0.02,
    bursts_per_s: float = 0.0,
    worst_ohm: float = 1e12,
    bus: LinBus | None = None,
    noise_v: float = 0.02,
    converter_v: float = 0.01,
    every: int = 2,
    seconds: float = 0.14,
    first_round: int = 0,
    bit_rate: float = 19_200.0,
    slot_s: float = 8e-3,
    grounds: Mapping[str, float] = NO_GROUNDS,
) -> MadeBus:
    """One recording of a bus whose blower hangs behind ``series_ohm``."""
    rng = np.random.default_rng(seed)
    bus = bus or LinBus()
    count = round(seconds / STEP_S)
    ohm = contact_resistance(
        rng, count=count, step_s=STEP_S, steady_ohm=series_ohm, bursts_per_s=bursts_per_s, worst_ohm=worst_ohm
    )
    near, far, _ = record(
        bus,
        series_ohm=ohm,
        seconds=seconds,
        first_round=first_round,
        bit_rate=bit_rate,
        slot_s=slot_s,
        lead_s=2e-3,
        grounds=grounds,
    )

    def channel(name: str, volts: np.ndarray) -> Channel:
        noisy = volts[::every] + rng.normal(0.0, noise_v, volts[::every].size)
        stepped = np.round(noisy / converter_v) * converter_v if converter_v else noisy
        return Channel(name, "V", FloatSamples(stepped), 0.0, every * STEP_S)

    return MadeBus(channel("far", far), channel("near", near), ohm, bus)


@pytest.fixture(name="make_bus")
def make_bus_fixture() -> Callable[..., MadeBus]:
    return make_bus


@pytest.fixture(scope="session")
def healthy() -> MadeBus:
    return make_bus(1)


@pytest.fixture(scope="session")
def other_day() -> MadeBus:
    return make_bus(2, bus=replace(LinBus(), battery_v=12.4), first_round=5)
