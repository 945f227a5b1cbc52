"""Switched coils: injectors, valves, ignition primaries, by their current or by the voltage at their switched end."""

from dataclasses import dataclass

import numpy as np

from loomlight.signal import sanity
from loomlight.signal.beside import Role
from loomlight.signal.capture import Channel
from loomlight.signal.cautions import HIGH_VOLTAGE, MAKER_FIRST
from loomlight.signal.coil_case import USUAL_SUPPLY_V, CoilCase, CoilSide
from loomlight.signal.coil_current import read_current
from loomlight.signal.coil_current_causes import JUMP
from loomlight.signal.coil_judge import judge_coil
from loomlight.signal.coil_settings import BURN, OHMS_SHARE, ON_SHARE, SETTINGS
from loomlight.signal.coil_tables import coil_findings, coil_measures, coil_tracks
from loomlight.signal.coil_voltage import read_voltage
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions, Doubt, Examination
from loomlight.signal.finding import Limit
from loomlight.signal.input_doubts import TURNED, sits_wrong, ten_times_off, too_coarse
from loomlight.signal.kinds.shape import Judgement, UsualKind
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.measure import Measure
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.pulse_train import Train
from loomlight.signal.pwm_reading import read_pwm
from loomlight.signal.quantity import in_words
from loomlight.signal.recipe import Recipe
from loomlight.signal.setting import PRACTICE, Setting

LEAST_SAMPLES = 15.0
BAND_SHARE = 0.15

LIMITS = (
    Limit(
        "current that is there at once at most",
        JUMP,
        "of the peak",
        "a coil's current begins at zero, L di/dt = V - R i",
    ),
    Limit("resistance from the coil's own at most", 0.25, "of it", OHMS_SHARE.source),
    Limit("switched on, the wire is at most at", 0.2, "× supply", ON_SHARE.source),
    Limit("flyback at most", 1.5, "× clamp", PRACTICE),
    Limit("a spark burns at least", 0.0006, "s", BURN.source),
)

CAUTIONS = (
    MAKER_FIRST,
    "Ignition: the secondary gives 20 000 to 50 000 V and can kill; never probe it, never open it, keep a working spark gap.",
    "An ignition primary flies back to 400 V, an injector to 100 V: use an attenuator (×10 or ×20) that is made for it, and "
    "check probe and instrument for that voltage before connecting.",
    "Fuel: no sparks, no open injectors; catch and wipe fuel up; mind the pressure of a direct injection rail (over 100 bar).",
    "Direct injection drivers work at 65 V and more, piezo injectors at 200 V; do not unplug them while running.",
    "Engine running: keep hands, leads and sleeves off belts and fans; a coil that stays on gets hot enough to burn.",
    HIGH_VOLTAGE,
)

RECIPE = Recipe(
    length_s=0.5,
    samples_per_s=200_000.0,
    coupling="DC; current clamp of 20 or 60 A, or the switched end through an attenuator",
    where="Clamp round one wire of the coil, arrow towards the coil; voltage at the switched end, ground lead at "
    "battery negative.",
    switched_on="Engine idling steadily, or the coil worked by the maker's actuator test.",
    notes=(
        "A hundred samples within the on-time, ten pulses or more.",
        "Zero the clamp before each capture, away from other wires.",
        "Current and switched end together tell the coil's own resistance.",
    ),
)

ROLES = (
    Role(
        "voltage", "voltage at the switched end", "V", "Tells whether the driver works, and the volts across the coil."
    ),
    Role("current", "current clamp", "A", "Tells resistance and inductance beside the voltage."),
)


@dataclass(frozen=True, eq=False)
class CoilExamination(Examination):
    """With the channel as it was read."""

    side: CoilSide
    worked_beside: str


@dataclass(frozen=True)
class CoilKind(UsualKind):
    """The signal kind ``coil``."""

    key: str = "coil"
    title: str = "Coil or injector"
    limits: tuple[Limit, ...] = LIMITS
    cautions: tuple[str, ...] = CAUTIONS
    settings: tuple[Setting, ...] = SETTINGS
    roles: tuple[Role, ...] = ROLES
    recipe: Recipe = RECIPE
    by: WantedBy = "cycle"

    def examine(self, channel: Channel, conditions: Conditions, progress: Progress = unwatched) -> Examination:
        """Pulses of one channel, as current or as voltage by its unit.

        Raises
        ------
        CannotUse
            If the channel is neither in volts nor in amperes, not evenly spaced, or holds no number.
        """
        if channel.unit not in ("V", "A", None):
            raise CannotUse(
                f"{channel.name!r} is in {channel.unit}; a coil is judged by its current in A or its switched end in V."
            )
        sanity.require_step(channel)
        side = _side(channel, conditions, part(progress, 0.0, 0.8))
        return CoilExamination(
            channel=channel,
            findings=tuple(coil_findings(channel, side, conditions)),
            doubts=_doubts(channel, side, conditions),
            bus=None,
            measures=(*coil_measures(side, conditions), *_beside_measures(channel, conditions)),
            tracks=coil_tracks(side),
            side=side,
            worked_beside=_worked_beside(side, conditions, part(progress, 0.8, 1.0)),
        )

    def judge(
        self,
        suspect: Examination,
        good: Examination | None,
        lineup: LineUp | None,
        conditions: Conditions,
        progress: Progress = unwatched,
    ) -> Judgement:
        """The verdict; a known-good is held against it pulse for pulse, whatever its rate."""
        assert isinstance(suspect, CoilExamination)
        assert good is None or isinstance(good, CoilExamination)
        other = (
            good.side if good is not None and (good.side.current is None) == (suspect.side.current is None) else None
        )
        beside = suspect.worked_beside
        if not beside and other is not None and conditions.same_moment and other.has_pulses:
            beside = f"{other.channel.name!r}, recorded together with it, is worked"
        case = CoilCase(suspect.side, other, conditions, suspect.doubts, beside)
        progress(1.0)
        marks, verdict = judge_coil(case)
        return Judgement((*marks, *suspect.findings), verdict)

    def tolerance_v(self, suspect: Examination, conditions: Conditions) -> float | None:
        """A share of the height (common practice, no source), or what was given."""
        assert isinstance(suspect, CoilExamination)
        if conditions.within_v is not None:
            return conditions.within_v
        side = suspect.side
        height = side.current.peak_a if side.current is not None else None
        if side.voltage is not None:
            height = side.voltage.pulses.train.amplitude
        return BAND_SHARE * height if height else None


def _side(channel: Channel, conditions: Conditions, progress: Progress) -> CoilSide:
    if channel.unit == "A":
        current = read_current(channel, part(progress, 0.0, 0.7))
        if current is None:
            raise sanity.no_number(channel)
        return CoilSide(channel, current, None, _across(conditions.beside("voltage"), part(progress, 0.7, 1.0)))
    voltage = read_voltage(channel, progress)
    if voltage is None:
        raise sanity.no_number(channel)
    return CoilSide(channel, None, voltage, None)


def _across(switched_end: Channel | None, progress: Progress) -> float | None:
    """Volts across the coil: the switched end off minus on."""
    if switched_end is None or switched_end.step_s is None:
        return None
    reading = read_pwm(switched_end, progress)
    if reading is None or reading.starts_s.size < 2:
        return None
    return reading.train.amplitude


def _worked_beside(side: CoilSide, conditions: Conditions, progress: Progress) -> str:
    """Why current must have flowed, or the wire must have been switched, although nothing came."""
    if side.has_pulses:
        return ""
    other = conditions.beside("voltage" if side.current is not None else "current")
    if other is None or other.step_s is None:
        return ""
    if side.current is not None:
        pulses = read_pwm(other, progress)
        count = pulses.starts_s.size if pulses is not None else 0
    else:
        current = read_current(other, progress)
        count = current.starts_s.size if current is not None else 0
    return f"{other.name!r} beside it shows {count} pulses" if count >= 2 else ""


def _beside_measures(channel: Channel, conditions: Conditions) -> tuple[Measure, ...]:
    """Figures of the current that stands beside a voltage."""
    other = conditions.beside("current")
    if channel.unit == "A" or other is None or other.step_s is None:
        return ()
    current = read_current(other)
    if current is None or current.flat:
        return ()
    return coil_measures(CoilSide(other, current, None, _across(channel, unwatched)), conditions)


def _doubts(channel: Channel, side: CoilSide, conditions: Conditions) -> tuple[Doubt, ...]:
    values = channel.samples.block(0, min(channel.samples.size, 100_000))
    values = values[np.isfinite(values)]
    found = sanity.of_recording(channel, float(values.max()) if values.size else 0.0)
    if side.voltage is not None and side.has_pulses:
        train = side.voltage.pulses.train
        battery = () if conditions.supply_v is None else (conditions.supply_v,)
        found.append(sits_wrong(train.low, train.high, channel.name, "V"))
        supply_v = conditions.supply_v or USUAL_SUPPLY_V
        coarse = too_coarse(channel, supply_v) or _levels_lost(train, supply_v)
        found += [coarse, ten_times_off(train.low, train.high, channel.name, battery) if coarse is None else None]
    if side.current is not None and values.size:
        least, most = (float(one) for one in np.percentile(values, [0.5, 99.5]))
        # Rest at zero and pulses below it: the other way round than a coil's current.
        found.append(sits_wrong(least, most, channel.name, "A") if most < TURNED * (most - least) else None)
    on_s = (
        side.current.usual_on_s
        if side.current is not None
        else side.voltage.usual_on_s
        if side.voltage is not None
        else None
    )
    if on_s is not None and channel.step_s is not None:
        found.append(
            sanity.fewer_samples(on_s / channel.step_s, channel.name, "within an on-time", least=LEAST_SAMPLES)
        )
    if (
        side.current is not None
        and side.current.peaks_a.size
        and side.current.rest_a < -0.2 * (side.current.peak_a or 0.0)
    ):
        text = f"{channel.name!r} rests at {side.current.rest_a:.2f} A: the clamp was not zeroed, or sits the wrong way round."
        found.append(Doubt("clamp offset", text, "Zero the clamp, arrow towards the coil, and repeat the capture."))
    return sanity.doubts_among(found)


def _levels_lost(train: Train, supply_v: float) -> Doubt | None:
    """What was taken for the supply is the flyback's own level: the range was chosen for that."""
    if train.high < 3.0 * supply_v or train.high < 0.6 * train.greatest:
        return None
    levels = f"{in_words(train.low, 'V')} and {in_words(train.high, 'V')}"
    text = f"The two levels cannot be read: {levels} are the commonest, and the higher is the flyback's."
    return Doubt("coarse", text, "Choose the smallest range that holds the peak, or record levels and peak separately.")


COIL = CoilKind()
