"""Causes that the voltage at a coil's switched end shows."""

from loomlight.signal.cause import Cause, Throughout
from loomlight.signal.coil_case import CoilCase
from loomlight.signal.coil_current_causes import SHORT_TURNS
from loomlight.signal.coil_settings import BURN, CLAMP, ON_SHARE
from loomlight.signal.coil_voltage import VoltageReading
from loomlight.signal.quantity import in_words
from loomlight.signal.voltage_drop import undithered_step

PEAK_HIGH, PEAK_LOW = 1.5, 0.6
GROUND_MOVED = 0.15
"""Of the known-good's amplitude: how far the level may be from its own (common practice, no source)."""
BURN_SHORT, BURN_LONG = 0.6, 1.7
CLEAR_BURN_S = 0.4e-3
"""A shorter line on the known-good may be a coil's ringing."""


def voltage_causes(case: CoilCase) -> list[Cause]:
    """Flyback, the driver's ground, the spark, and pulses that lack."""
    own = case.own.voltage
    assert own is not None
    if any(one.about == "coarse" for one in case.doubts):
        return [one for one in _flyback(case, own) if one.picture == "no clamp"]
    return [*_flyback(case, own), *_ground(case, own), *_burn(case, own), *_gone(own)]


def _ground(case: CoilCase, own: VoltageReading) -> list[Cause]:
    train = own.pulses.train
    limit = case.conditions.needed(ON_SHARE) * train.high
    good = (
        case.good.voltage.pulses.train
        if case.good is not None and case.good.voltage is not None and case.good.has_pulses
        else None
    )
    beside = good.low + GROUND_MOVED * good.amplitude if good is not None else limit
    # A level that the converter cannot place may be half a step lower.
    low = train.low - 0.5 * undithered_step(case.own.channel)
    if low <= min(limit, beside):
        return []
    if low > limit:
        told = f"at most {limit:.2f} V is wanted ({case.conditions.needed(ON_SHARE):g} of {train.high:.1f} V)"
    else:
        assert good is not None
        limit, told = beside, f"on the known-good {good.low:.2f} V"
    reason = (
        f"Switched on, the wire is at {train.low:.2f} V; {told}: resistance in the driver's ground, or a weak driver."
    )
    do = "Measure the voltage drop from the control unit's ground to battery negative while the coil is on."
    mark = Throughout("too high", train.low - limit, "V", f"switched on at {train.low:.2f} V; {told}")
    return [Cause("resistive", "weak ground", reason, do, "wire", asked="Does the driver pull down?", throughout=mark)]


def _flyback(case: CoilCase, own: VoltageReading) -> list[Cause]:
    good = case.good.voltage if case.good is not None and case.good.has_pulses else None
    given = case.conditions.figure(CLAMP)
    wanted = given if given is not None else good.peak_v if good is not None else None
    if wanted is None:
        return []
    high = own.pulses.train.high
    peak = own.peak_v if own.peak_v is not None else high
    source = "given" if given is not None else "on the known-good"
    told = f"{in_words(peak, 'V')}; {in_words(wanted, 'V')} {source}"
    if peak > PEAK_HIGH * wanted:
        reason = f"The flyback reaches {told}: the clamp does not hold, and the driver is at risk."
        do = "Check the driver's clamp, and the attenuator's and instrument's limits before measuring again."
        is_marked = given is not None and own.peaks_v.size == own.on_s.size
        mark = None if is_marked else Throughout("too high", peak - wanted, "V", f"flyback {told}")
        return [Cause("open", "no clamp", reason, do, "control unit", asked="Is the flyback clamped?", throughout=mark)]
    if high < PEAK_LOW * wanted and peak - high < PEAK_LOW * (wanted - high):
        reason = (
            f"The flyback reaches {told}: too little energy in the coil, so shorted turns, or something that shunts it."
        )
        mark = Throughout("too low", wanted - peak, "V", f"flyback {told}")
        asked = "Is the flyback there?"
        return [Cause("short", "shorted turns", reason, SHORT_TURNS, "component", asked=asked, throughout=mark)]
    return []


def _burn(case: CoilCase, own: VoltageReading) -> list[Cause]:
    good = case.good.voltage if case.good is not None and case.good.has_pulses else None
    if own.burn_s is None:
        if good is None or good.burn_s is None or good.burn_s < CLEAR_BURN_S:
            return []
        there = in_words(good.burn_s, "s")
        reason = f"No burn line follows the flyback; on the known-good it lasts {there}: no spark is kept up."
        do = "Check plug, lead and coil output after the maker's procedure; never open the secondary of a working coil."
        mark = Throughout("wrong shape", good.burn_s, "s", f"no burn line, on the known-good {there}")
        return [Cause("open", "no burn line", reason, do, "component", asked="Does the spark burn?", throughout=mark)]
    least = case.conditions.needed(BURN)
    told = f"at least {in_words(least, 's')} ({BURN.source})" if own.burn_s < least else ""
    if good is not None and good.burn_s is not None:
        if own.burn_s < BURN_SHORT * good.burn_s:
            told = f"on the known-good {in_words(good.burn_s, 's')}"
        elif own.burn_s > BURN_LONG * good.burn_s:
            here, there = in_words(own.burn_s, "s"), in_words(good.burn_s, "s")
            reason = f"The spark burns for {here}, on the known-good {there}: a gap too small or fouled."
            do = "Check the plug's gap and its insulator."
            mark = Throughout("wrong shape", own.burn_s - good.burn_s, "s", f"burns {here}, on the known-good {there}")
            return [
                Cause("unknown", "long burn", reason, do, "component", asked="Does the spark burn?", throughout=mark)
            ]
    if not told:
        return []
    reason = f"The spark burns for {in_words(own.burn_s, 's')}; {told}: a wide gap, resistance in the secondary, or a weak coil."
    do = "Check plug, lead and coil output after the maker's procedure; compare with the other cylinders."
    wanted = least if good is None or good.burn_s is None else max(least, good.burn_s)
    mark = Throughout("wrong shape", wanted - own.burn_s, "s", f"burns {in_words(own.burn_s, 's')}; {told}")
    return [Cause("unknown", "short burn", reason, do, "component", asked="Does the spark burn?", throughout=mark)]


def _gone(own: VoltageReading) -> list[Cause]:
    gone = [span for span in own.missing if own.stuck is None or span[1] <= own.stuck[0]]
    if not gone:
        return []
    reason = (
        f"Pulses are missing at {len(gone)} {'place' if len(gone) == 1 else 'places'}, the first at "
        f"{in_words(gone[0][0], 's', digits=5)}. Assumed: it was worked steadily."
    )
    do = "Move loom and plug while recording; record at the control unit's own pin: are they missing there too?"
    return [
        Cause(
            "unknown", "intermittent coil circuit", reason, do, "wire", intermittent=True, asked="Is each pulse there?"
        )
    ]
