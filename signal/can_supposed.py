"""What a CAN wire would show if it had some fault: the known-good's own waveform, bent as the circuit says."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from loomlight.signal import can_circuit as circuit
from loomlight.signal.can_circuit import TERMINATOR_OHM, Driver
from loomlight.signal.can_examination import CanExamination, PairReading, Signature
from loomlight.signal.can_limits import SOUND_OHM
from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Examination
from loomlight.signal.quantity import in_words
from loomlight.signal.samples import FloatSamples, Samples
from loomlight.signal.supposal import Supposal, SupposedFault, Supposer

Volts = npt.NDArray[np.float64]
MOST_SAMPLES = 2_000_000
BATTERY_V = 13.0
ATTEMPT_BITS = 7
"""A node that does not read its own start of frame back sends an error flag after it, and gives up."""

FAULTS = (
    Supposal("one terminator missing"),
    Supposal("one terminator too many"),
    Supposal("series resistance in a stub", "Ω", 80.0),
    Supposal("series resistance in CAN-H of a stub", "Ω", 80.0),
    Supposal("series resistance in CAN-L of a stub", "Ω", 80.0),
    Supposal("series resistance in the trunk", "Ω", 100.0),
    Supposal("CAN-H open"),
    Supposal("CAN-L open"),
    Supposal("CAN-H shorted to ground", "Ω", 2.0),
    Supposal("CAN-L shorted to ground"),
    Supposal("CAN-H shorted to battery"),
    Supposal("CAN-L shorted to battery", "Ω", 2.0),
    Supposal("CAN-H and CAN-L shorted together", "Ω", 2.0),
    Supposal("wires swapped"),
    Supposal("ground offset of a node", "V", 1.0),
    Supposal("weak node", "V", 1.2),
)
SHORTS_WITHOUT_TRAFFIC = ("CAN-H shorted to ground", "CAN-L shorted to battery", "CAN-H and CAN-L shorted together")


def supposed(good: Examination, fault: SupposedFault, start_s: float, stop_s: float) -> Channel:
    """The known-good's channel as the fault would leave it.

    Parameters
    ----------
    good : CanExamination
        A known-good; its frames, levels and ringing are taken over.
    fault : SupposedFault
        One of `FAULTS`; ``beyond`` holds identifiers of the node that has it, or that sits behind it.
    start_s, stop_s : float
        Stretch on the known-good's axis.

    Raises
    ------
    CannotUse
        If the known-good carries no frames, or the stretch is too long.

    Notes
    -----
    Where one wire alone was recorded, the other is taken to move as far the other way. Where nobody is named as ``beyond``,
    a fault of one node is put on the identifier that was read most often.
    """
    assert isinstance(good, CanExamination)
    pair, step_s = good.pair, good.pair.axis.step_s
    if pair.traffic is None or not pair.signatures:
        raise CannotUse(f"{good.channel.name!r} carries no frames, so nothing can be supposed from it.")
    first = max(int(np.ceil((start_s - pair.axis.start_s) / step_s)), 0)
    last = min(int((stop_s - pair.axis.start_s) / step_s) + 1, good.channel.samples.size)
    if not 0 < last - first <= MOST_SAMPLES:
        raise CannotUse(
            f"Zoom in to {in_words(MOST_SAMPLES * step_s, 's')} or less: what is supposed is worked out for what is in sight."
        )
    if fault.size is not None and not (fault.size > 0 or fault.kind == "ground offset of a node"):
        raise CannotUse(f"A size must be above 0, got {fault.size:g}.")
    scene = _Scene(good, fault, first, last)
    high, low = scene.bent()
    shown = {"CAN-L": low, "difference": high - low}.get(_shown(good), high)
    return Channel(
        name=f"supposed: {fault.in_words()}",
        unit="V",
        samples=FloatSamples(shown.astype(np.float32)),
        start_s=pair.axis.start_s + first * step_s,
        step_s=step_s,
        history=(f"worked out from {good.channel.name} by the circuit in closed form",),
    )


def _shown(good: CanExamination) -> str:
    """Which voltage the judged channel is."""
    form = good.pair.wires.form
    if form != "both wires":
        return form
    return "CAN-H" if good.pair.wires.high is good.channel.samples else "CAN-L"


class _Scene:
    """The known-good's stretch taken apart: how far the pair is driven at each sample, by whom, around which middle."""

    def __init__(self, good: CanExamination, fault: SupposedFault, first: int, last: int) -> None:
        pair = good.pair
        self._pair, self._fault, self._size = pair, fault, fault.size if fault.size is not None else 0.0
        self._times: Volts = pair.axis.start_s + pair.axis.step_s * np.arange(first, last, dtype=np.float64)
        difference, common = _taken_apart(pair, good.channel.samples, first, last)
        self._common = common
        names = fault.beyond or _most_frequent(pair)
        self._level, self._is_beyond = self._talkers(set(names))
        self._share: Volts = difference / self._level  # 1 where a talker has the pair settled

    def _talkers(self, beyond: set[str]) -> tuple[Volts, npt.NDArray[np.bool_]]:
        """Dominant difference of whoever talks at each sample, and whether that is one of ``beyond``."""
        traffic = self._pair.traffic
        assert traffic is not None
        levels = {one.name: _difference(self._pair, one) for one in self._pair.signatures}
        usual = float(np.median([*levels.values()]))
        at = (
            np.searchsorted([one.start_s for one in traffic.frames], self._times + 0.5 * traffic.bit_s, side="right")
            - 1
        )
        names = [one.name for one in traffic.frames]
        level = np.array([*(levels.get(one, usual) for one in names), usual])
        is_beyond = np.array([*(one in beyond for one in names), False])
        return level[at], is_beyond[at]

    def _driver(self) -> Driver:
        return Driver(float(np.median(self._level)), float(np.median(self._common)))

    def bent(self) -> tuple[Volts, Volts]:
        """CAN-H and CAN-L with the fault."""
        kind, beyond = self._fault.kind, self._is_beyond
        driver = self._driver()
        if kind in SHORTS_WITHOUT_TRAFFIC:
            return self._tried(driver)
        if kind == "CAN-L shorted to ground":
            high, _ = circuit.low_at_ground(driver)
            return self._share * high, np.zeros_like(self._share)
        if kind == "CAN-H shorted to battery":
            _, low = circuit.high_at_battery(driver, BATTERY_V)
            return np.full_like(self._share, BATTERY_V), BATTERY_V - self._share * (BATTERY_V - low)
        share, difference, common = self._share, self._level.copy(), self._common.copy()
        if kind in ("one terminator missing", "one terminator too many", "CAN-H open", "CAN-L open"):
            ohm = circuit.beside(SOUND_OHM, TERMINATOR_OHM) if kind.endswith("many") else TERMINATOR_OHM
            difference = self._each(lambda one: circuit.across(one, ohm))
            share = self._slower(ohm / SOUND_OHM)
        if kind in ("CAN-H open", "CAN-L open"):
            way = -0.5 if kind == "CAN-H open" else 0.5
            common = common + np.where(beyond, way * self._level * self._share, 0.0)
            difference = np.where(beyond, 0.0, difference)
        elif kind == "series resistance in the trunk":
            difference = np.where(beyond, self._each(self._over_trunk), self._each(self._before_trunk))
        elif kind.startswith("series resistance"):
            high_ohm = 0.0 if "CAN-L" in kind else self._size if "CAN-H" in kind else 0.5 * self._size
            ohms = high_ohm, self._size - high_ohm
            difference = np.where(beyond, self._each(lambda one: circuit.behind_stub(one, *ohms)[0]), difference)
            moved = self._each(lambda one: circuit.behind_stub(one, *ohms)[1] - one.common_v)
            common = common + np.where(beyond, moved * np.clip(self._share, 0.0, 1.0), 0.0)
        elif kind == "wires swapped":
            difference = np.where(beyond, -difference, difference)
        elif kind == "ground offset of a node":
            common = common + np.where(beyond, self._size * np.clip(self._share, 0.0, 1.0), 0.0)
        elif kind == "weak node":
            difference = np.where(beyond, self._size, difference)
        half = 0.5 * share * difference
        return common + half, common - half

    def _over_trunk(self, driver: Driver) -> float:
        return circuit.over_trunk(driver, 0.5 * self._size, 0.5 * self._size, is_beyond=True)[0]

    def _before_trunk(self, driver: Driver) -> float:
        return circuit.over_trunk(driver, 0.5 * self._size, 0.5 * self._size, is_beyond=False)[0]

    def _each(self, way: Callable[[Driver], float]) -> Volts:
        """A figure of each sample's talker, worked out once for each level."""
        levels, place = np.unique(np.round(self._level, 3), return_inverse=True)
        middle = float(np.median(self._common))
        found: Volts = np.array([way(Driver(level, middle)) for level in levels.tolist()])[place]
        return found

    def _slower(self, ratio: float) -> Volts:
        """The pair comes to rest later by as much as its resistance grew; a smaller one is left as it is."""
        shapes = self._pair.shapes
        tail_s = shapes.to_recessive.lag_s if shapes is not None and shapes.to_recessive is not None else 0.0
        tau_s = max(tail_s, 0.0) * (ratio - 1.0)
        if tau_s < 0.2 * self._pair.axis.step_s:
            return self._share
        from scipy.signal import lfilter

        keep = float(np.exp(-self._pair.axis.step_s / tau_s))
        later: Volts = np.asarray(lfilter([1.0 - keep], [1.0, -keep], self._share))
        return np.maximum(self._share, later)

    def _tried(self, driver: Driver) -> tuple[Volts, Volts]:
        """No frame gets through: each becomes a start of frame and an error flag, as far as the short lets it."""
        traffic = self._pair.traffic
        assert traffic is not None
        starts = np.array([one.start_s for one in traffic.frames])
        place = np.searchsorted(starts, self._times, side="right") - 1
        since = np.where(place >= 0, self._times - starts[np.maximum(place, 0)], np.inf)
        on = (since < ATTEMPT_BITS * traffic.bit_s).astype(np.float64)
        if self._fault.kind == "CAN-H and CAN-L shorted together":
            half = 0.5 * on * circuit.into_short(driver, self._size)
            return self._common + half, self._common - half
        rail = 0.0 if self._fault.kind.endswith("ground") else BATTERY_V
        left = on * circuit.into_short(driver, self._size, volts=rail)
        wire = left if rail == 0.0 else rail - left
        return wire, wire.copy()


def _taken_apart(pair: PairReading, own: Samples, first: int, last: int) -> tuple[Volts, Volts]:
    """Difference and common mode; one wire alone is taken to move half of the pair's way around its rest."""
    if pair.wires.high is not None and pair.wires.low is not None:
        high, low = (one.block(first, last).astype(np.float64) for one in (pair.wires.high, pair.wires.low))
        return high - low, 0.5 * (high + low)
    values = own.block(first, last).astype(np.float64)
    if pair.wires.form == "difference":
        return (-values if pair.wires.is_upside_down else values), np.full(values.size, 2.5)
    swing = values - pair.rest_v
    return 2.0 * (swing if pair.wires.form == "CAN-H" else -swing), np.full(values.size, pair.rest_v)


def _difference(pair: PairReading, one: Signature) -> float:
    if np.isfinite(one.difference_v):
        return one.difference_v
    wire = one.high_v if np.isfinite(one.high_v) else one.low_v
    return 2.0 * abs(wire - pair.rest_v)


def _most_frequent(pair: PairReading) -> tuple[str, ...]:
    return (max(pair.signatures, key=lambda one: one.frames).name,)


def _beyond(good: Examination) -> tuple[str, ...]:
    return tuple(one.name for one in good.pair.signatures) if isinstance(good, CanExamination) else ()


def _ready(good: Examination) -> bool:
    return isinstance(good, CanExamination) and good.pair.traffic is not None and bool(good.pair.signatures)


SUPPOSER = Supposer(FAULTS, _beyond, _ready, supposed)
