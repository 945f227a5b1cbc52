"""What is out of shape on a toothed wheel, from many turns: single teeth, run-out, the sensor's strength."""

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.wheel_reading import WheelReading
from loomlight.signal.wheel_teeth import Row, Whole
from loomlight.signal.wheel_turns import Turns

Mask = npt.NDArray[np.bool_]

FEWEST_TURNS, MOST_TURNS = 3, 600
SHIFTED = 0.09
"""Of a pitch: a tooth further from the middle between its neighbours is out of place (common practice, no source)."""
LOW_TOOTH = 0.72
"""Of its neighbours' signal."""
WIDER = 0.15
"""Of a pitch: how much wider or narrower than its neighbours a tooth may be."""
SIGMAS = 5.0
NEIGHBOURS = 9
NEAR_GAP = 2


@dataclass(frozen=True)
class OddTooth:
    """One tooth that differs from its neighbours in turn after turn.

    Attributes
    ----------
    position : int
        From 0.
    shift, height, width : float
        In pitches off its place; share of its neighbours' signal; pitches wider than its neighbours.
    """

    position: int
    shift: float
    height: float
    width: float


@dataclass(frozen=True, eq=False)
class WheelShape:
    """Averages over the whole turns.

    Attributes
    ----------
    shift, height, width : ndarray, shape (positions,)
        As in `OddTooth`; not-a-number where there is no tooth, or none beside it.
    odd : tuple of OddTooth
        Teeth out of shape.
    run_out, run_out_doubt : float or None
        How far the signal's strength (of a switching sensor the tooth's width) goes up and down once a turn: half of
        peak to peak over the mean, and its standard deviation.
    strength : float or None
        Of a swinging sensor: volts peak to peak at 1000 tooth pitches a second.
    """

    shift: Row = field(repr=False)
    height: Row = field(repr=False)
    width: Row = field(repr=False)
    odd: tuple[OddTooth, ...] = ()
    run_out: float | None = None
    run_out_doubt: float | None = None
    strength: float | None = None


def damaged_teeth(shape: WheelShape, *, cut_off: bool) -> tuple[OddTooth, ...]:
    """At most three teeth out of shape; where the instrument cut the swings off, only those out of place."""
    return tuple(one for one in shape.odd if abs(one.shift) > SHIFTED or not cut_off)[:3]


def wheel_shape(reading: WheelReading) -> WheelShape | None:
    """Average over turns; None with fewer than three whole turns."""
    turns, wheel = reading.turns, reading.wheel
    if turns is None or wheel is None or turns.count < FEWEST_TURNS:
        return None
    reading, turns = _first_turns(reading, turns)
    whole = turns.whole
    clear = _clear_of_gaps(wheel.positions, (*wheel.absent, *reading.missing, *reading.extra))
    clear &= _rarely_beside_extra(turns, wheel.positions)
    often_seen = np.isfinite(turns.times_s[whole]).mean(axis=0) >= 0.6
    clear &= often_seen & np.roll(often_seen, 1) & np.roll(often_seen, -1)
    if not wheel.absent and reading.known_by != "given":
        return None
    pitch = turns.pitch_s
    shift, shift_doubt = _over_turns(_shifts(turns.times_s, pitch)[whole])
    relative = _beside_neighbours(reading.heights, wheel.positions)
    height, height_doubt = _over_turns(relative[whole])
    width = width_doubt = np.full(wheel.positions, np.nan)
    if reading.widths.size:
        width, width_doubt = _over_turns(_minus_neighbours(reading.widths)[whole])
    shift, height, width = (np.where(clear, one, np.nan) for one in (shift, height, width))
    with np.errstate(invalid="ignore"):
        moved = np.abs(shift) > SHIFTED + SIGMAS * shift_doubt
        low = (height < LOW_TOOTH - SIGMAS * height_doubt) if reading.swings else np.zeros(height.size, bool)
        wide = np.abs(width) > WIDER + SIGMAS * width_doubt
    odd = _worst_of_each_group(np.flatnonzero(moved | low | wide), shift, height, width)
    run_out, doubt = _run_out(reading, pitch, clear)
    return WheelShape(shift, height, width, odd, run_out, doubt, _strength(reading, pitch))


def _first_turns(reading: WheelReading, turns: Turns) -> tuple[WheelReading, Turns]:
    """At most so many turns: more say nothing that those do not."""
    if len(turns.whole) <= MOST_TURNS:
        return reading, turns
    rows = slice(0, MOST_TURNS)
    last_s = float(np.nanmax(turns.expected_s[rows]))
    early = turns.extra_s <= last_s
    fewer = replace(
        turns,
        times_s=turns.times_s[rows],
        expected_s=turns.expected_s[rows],
        whole=turns.whole[rows],
        extra_s=turns.extra_s[early],
        extra_at=turns.extra_at[early],
    )
    widths = reading.widths[rows] if reading.widths.size else reading.widths
    return replace(reading, turns=fewer, heights=reading.heights[rows], widths=widths), fewer


def _clear_of_gaps(positions: int, absent: tuple[int, ...]) -> Mask:
    clear = np.ones(positions, bool)
    for one in absent:
        for away in range(-NEAR_GAP, NEAR_GAP + 1):
            clear[(one + away) % positions] = False
    return clear


def _rarely_beside_extra(turns: Turns, positions: int) -> Mask:
    """Positions beside which an edge too many stands in few turns only."""
    counts = np.zeros(positions)
    for away in (0, 1):
        np.add.at(counts, (np.floor(turns.extra_at).astype(np.int64) + away) % positions, 1.0)
    clear: Mask = counts < 0.4 * max(turns.count, 1)
    return clear


def _shifts(times: Row, pitch: Row) -> Row:
    """How far each tooth is from the middle between its neighbours, in pitches: a steady change of speed does not matter."""
    flat = times.ravel()
    shifts = np.full(flat.size, np.nan)
    shifts[1:-1] = flat[1:-1] - 0.5 * (flat[:-2] + flat[2:])
    result: Row = shifts.reshape(times.shape) / pitch
    return result


def _over_turns(rows: Row) -> tuple[Row, Row]:
    """Median over turns and its standard deviation; not-a-number where fewer than half of the turns have it."""
    known = np.isfinite(rows).sum(axis=0)
    enough = known >= max(2, 0.5 * len(rows))
    middle = np.full(rows.shape[1], np.nan)
    doubt = np.full(rows.shape[1], np.nan)
    if enough.any():
        chosen = rows[:, enough]
        middle[enough] = np.nanmedian(chosen, axis=0)
        spread = 1.4826 * np.nanmedian(np.abs(chosen - middle[enough]), axis=0)
        doubt[enough] = 1.25 * spread / np.sqrt(known[enough])
    return middle, doubt


def _beside_neighbours(heights: Row, positions: int) -> Row:
    """Each height over the median of the nine about it."""
    flat = heights.ravel()
    padded = np.pad(flat, NEIGHBOURS // 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, NEIGHBOURS)
    some = np.isfinite(windows).sum(axis=1) >= 3
    usual = np.full(flat.size, np.nan)
    usual[some] = np.nanmedian(windows[some], axis=1)
    result: Row = (flat / usual).reshape(-1, positions)
    return result


def _minus_neighbours(widths: Row) -> Row:
    flat = widths.ravel()
    padded = np.pad(flat, NEIGHBOURS // 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, NEIGHBOURS)
    some = np.isfinite(windows).sum(axis=1) >= 3
    usual = np.full(flat.size, np.nan)
    usual[some] = np.nanmedian(windows[some], axis=1)
    result: Row = (flat - usual).reshape(widths.shape)
    return result


def _worst_of_each_group(places: Whole, shift: Row, height: Row, width: Row) -> tuple[OddTooth, ...]:
    """A tooth out of place puts its neighbours half as far off the other way: only the worst of a group counts."""
    found: list[OddTooth] = []
    size = np.nan_to_num(np.abs(shift)) / SHIFTED + np.nan_to_num(1.0 - height, nan=0.0).clip(0) / (1.0 - LOW_TOOTH)
    size = size + np.nan_to_num(np.abs(width)) / WIDER
    for place in sorted(places.tolist(), key=lambda one: -size[one]):
        if all(min(abs(place - one.position), shift.size - abs(place - one.position)) > 2 for one in found):
            found.append(OddTooth(place, float(shift[place]), float(height[place]), float(width[place])))
    return tuple(sorted(found, key=lambda one: one.position))


def _run_out(reading: WheelReading, pitch: Row, clear: Mask) -> tuple[float | None, float | None]:
    """First harmonic over the wheel's turn of the strength (height times pitch: the speed taken out) or of the width."""
    assert reading.turns is not None
    whole = reading.turns.whole
    if reading.swings:
        strength = reading.heights * pitch
    elif reading.widths.size:
        strength = reading.widths
    else:
        return None, None
    rows = strength[whole]
    middle, doubt = _over_turns(rows)
    use = clear & np.isfinite(middle)
    if use.sum() < 8:
        return None, None
    angle = 2.0 * np.pi * np.arange(middle.size)[use] / middle.size
    columns = np.column_stack([np.ones(angle.size), np.cos(angle), np.sin(angle)])
    found, *_ = np.linalg.lstsq(columns, middle[use], rcond=None)
    left = middle[use] - columns @ found
    size = float(np.hypot(found[1], found[2]) / found[0])
    spread = max(float(left.std()), float(np.nanmean(doubt[use])))
    return size, spread / float(found[0]) * float(np.sqrt(2.0 / angle.size))


def _strength(reading: WheelReading, pitch: Row) -> float | None:
    if not reading.swings or not reading.heights.size:
        return None
    flux = reading.heights * pitch * 1000.0
    return float(np.nanmedian(flux)) if np.isfinite(flux).any() else None
