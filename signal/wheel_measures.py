"""The table of a toothed wheel's figures, and what changes over the capture."""

import numpy as np

from loomlight.signal.examination import Conditions
from loomlight.signal.measure import Measure, at_least, at_most
from loomlight.signal.quantity import in_words
from loomlight.signal.track import Track
from loomlight.signal.track_points import track_of
from loomlight.signal.wheel_cam import CamPhase
from loomlight.signal.wheel_levels import least_height, pulled_to
from loomlight.signal.wheel_reading import WheelReading
from loomlight.signal.wheel_settings import HIGH_SHARE, LEAST_HEIGHT, LOW_SHARE, RUN_OUT
from loomlight.signal.wheel_shape import WheelShape

IEEE_181 = "IEEE Std 181-2011 terms"


def wheel_measures(
    reading: WheelReading, shape: WheelShape | None, phase: CamPhase | None, conditions: Conditions, unit: str
) -> tuple[Measure, ...]:
    """Pattern, speed, levels or heights, single teeth, cam."""
    return (
        *_pattern(reading),
        *_speed(reading),
        *(_heights(reading, shape, conditions, unit) if reading.swings else _levels(reading, conditions, unit)),
        *_shape(shape, conditions),
        *_cam(phase),
    )


def _pattern(reading: WheelReading) -> list[Measure]:
    wheel = reading.wheel
    if reading.uneven is not None:
        note = "unlike teeth; learnt from what repeats"
        return [Measure("wheel", "pulses a turn of the pattern", 0.5 * reading.uneven.edges, "", note=note)]
    if wheel is None:
        return [Measure("wheel", "positions a turn", None, "", note="no gap seen; give the number of teeth")]
    how = {"given": "given", "common": "learnt; a wheel in common use", "learnt": "learnt from the capture"}
    turns = reading.turns.count if reading.turns is not None else 0
    polarity = _polarity(reading)
    return [
        Measure(
            "wheel", "positions a turn", wheel.positions, "", note=f"{wheel.name}, {how.get(reading.known_by, '')}"
        ),
        Measure("wheel", "teeth left out by design", len(wheel.absent), "", note=polarity),
        Measure("wheel", "whole turns seen", turns, ""),
    ]


def _polarity(reading: WheelReading) -> str:
    edge = "rising" if reading.rising else "falling"
    if reading.swings:
        return f"teeth cross the middle {edge}; both polarities exist"
    high = gap_is_high(reading)
    return "" if high is None else f"the gap stands {'high' if high else 'low'}; both polarities exist"


def gap_is_high(reading: WheelReading) -> bool | None:
    """Which level a switching sensor holds over the gap; None without one."""
    turns, wheel = reading.turns, reading.wheel
    if turns is None or wheel is None or not wheel.absent or reading.swings:
        return None
    gap = [one for one in wheel.absent if one == wheel.positions - 1] or [wheel.absent[-1]]
    middle_s = turns.expected_s[:, gap[0]]
    middle_s = middle_s[np.isfinite(middle_s)]
    train = reading.train
    before = np.searchsorted(train.at_s, middle_s) - 1
    before = before[before >= 0]
    return bool(np.median(train.rising[before]) > 0.5) if before.size else None


def _speed(reading: WheelReading) -> list[Measure]:
    speed = reading.rpm()
    if speed is None:
        if reading.pitch_s is None or reading.uneven is not None:
            return []
        assert reading.teeth is not None
        rate = float(reading.teeth.steps.sum() / (reading.teeth.times_s[-1] - reading.teeth.times_s[0]))
        return [Measure("speed", "tooth frequency", rate, "Hz", note=IEEE_181)]
    rpm = speed[1][np.isfinite(speed[1])]
    low, middle, high = np.percentile(rpm, [2.0, 50.0, 98.0])
    note = "teeth of the crankshaft's own wheel"
    return [Measure("speed", "speed", float(middle), "rpm", low=float(low), high=float(high), note=note)]


def _levels(reading: WheelReading, conditions: Conditions, unit: str) -> list[Measure]:
    train = reading.train
    if train.manner == "flat":
        return [Measure("levels", "level", train.low, unit)]
    supply, known = pulled_to(reading, conditions)
    low, high = ((conditions.figure(one) or 0.0) * supply for one in (LOW_SHARE, HIGH_SHARE))
    found = [
        at_most("levels", "low state", train.low, unit, low, f"{low:.2f} V", LOW_SHARE.source, note=IEEE_181),
        at_least("levels", "high state", train.high, unit, high, f"{high:.2f} V", HIGH_SHARE.source, note=known),
    ]
    if reading.widths.size and np.isfinite(reading.widths).any():
        share = float(np.nanmedian(reading.widths))
        name = "high share of a pitch" if reading.rising else "low share of a pitch"
        found.append(Measure("levels", name, share, "", note="between the 50 % reference levels"))
    return found


def _heights(reading: WheelReading, shape: WheelShape | None, conditions: Conditions, unit: str) -> list[Measure]:
    height, limit = least_height(reading), conditions.figure(LEAST_HEIGHT) or 0.0
    found = [
        at_least("height", "weakest, peak to peak", height, unit, limit, in_words(limit, unit), LEAST_HEIGHT.source),
        Measure("height", "swings about", reading.train.middle, unit),
    ]
    if shape is not None and shape.strength is not None:
        note = "the height of an inductive sensor follows the speed (Faraday's law of induction)"
        found.append(Measure("height", "at 1000 teeth a second, peak to peak", shape.strength, unit, note=note))
    slope = height_against_speed(reading)
    if slope is not None:
        note = "1: proportional; below: the input or the sensor limits"
        found.append(
            Measure(
                "height", "power of the speed that it follows", slope[0], "", low=slope[1], high=slope[2], note=note
            )
        )
    return found


def height_against_speed(reading: WheelReading) -> tuple[float, float, float] | None:
    """Exponent of height over speed with its 95 % interval; None where the speed hardly changes."""
    if reading.turns is None or not reading.heights.size:
        return None
    height, pitch = reading.heights.ravel(), reading.turns.pitch_s.ravel()
    known = np.isfinite(height) & np.isfinite(pitch) & (height > 0) & (pitch > 0)
    if known.sum() < 20:
        return None
    speed, size = -np.log(pitch[known]), np.log(height[known])
    if float(np.ptp(np.percentile(speed, [5.0, 95.0]))) < 0.15:
        return None
    away = speed - speed.mean()
    slope = float((away * size).sum() / np.square(away).sum())
    left = size - size.mean() - slope * away
    doubt = 1.96 * float(left.std() / np.sqrt(np.square(away).sum()))
    return slope, slope - doubt, slope + doubt


def _shape(shape: WheelShape | None, conditions: Conditions) -> list[Measure]:
    if shape is None:
        return [
            Measure("teeth", "single teeth over many turns", None, "", note="needs three whole turns of a known wheel")
        ]
    found = []
    if np.isfinite(shape.shift).any():
        worst = int(np.nanargmax(np.abs(shape.shift)))
        note = f"tooth {worst + 1}, median over the turns"
        found.append(
            Measure("teeth", "furthest off its place, of a pitch", abs(float(shape.shift[worst])), "", note=note)
        )
    if shape.run_out is not None and shape.run_out_doubt is not None:
        limit = conditions.figure(RUN_OUT) or 0.0
        least, most = max(shape.run_out - 2 * shape.run_out_doubt, 0.0), shape.run_out + 2 * shape.run_out_doubt
        found.append(
            Measure(
                "teeth",
                "run-out of the strength, once a turn",
                shape.run_out,
                "",
                f"at most {limit:g}",
                RUN_OUT.source,
                shape.run_out <= limit,
                "half of peak to peak over the mean",
                least,
                most,
            )
        )
    return found


def _cam(phase: CamPhase | None) -> list[Measure]:
    if phase is None:
        return []
    return [
        Measure(
            "cam",
            f"{'rising' if up else 'falling'} edge {place + 1}",
            degrees,
            "° crank",
            note="behind the first tooth after the gap; which of two turns comes first is not known",
            low=degrees - 2 * spread,
            high=degrees + 2 * spread,
        )
        for place, (degrees, up, spread) in enumerate(zip(phase.degrees, phase.rising, phase.spreads, strict=True))
    ]


def wheel_tracks(reading: WheelReading, unit: str) -> tuple[Track, ...]:
    """Speed and height over time."""
    found = []
    speed = reading.rpm()
    if speed is not None:
        found.append(track_of("speed", "rpm", speed[0], speed[1], note="from tooth to tooth"))
    elif reading.teeth is not None and reading.uneven is None:
        times_s = 0.5 * (reading.teeth.times_s[1:] + reading.teeth.times_s[:-1])
        rate = reading.teeth.steps / np.diff(reading.teeth.times_s)
        found.append(track_of("tooth frequency", "Hz", times_s, rate))
    elif reading.uneven is not None:
        edges_s = reading.train.at_s[reading.uneven.edges :]
        found.append(track_of("turns of the pattern", "Hz", edges_s, 1.0 / reading.uneven.turn_s))
    if reading.heights.size and reading.turns is not None:
        times_s, height = reading.turns.times_s.ravel(), reading.heights.ravel()
        known = np.flatnonzero(np.isfinite(times_s) & np.isfinite(height))
        known = known[np.argsort(times_s[known], kind="stable")]
        found.append(track_of("height, peak to peak", unit, times_s[known], height[known], smallest=True))
    return tuple(found)
