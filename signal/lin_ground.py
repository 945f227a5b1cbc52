"""A responder that answers weakly: its own ground, or a joint in the bus wire? And what would decide.

Seen from the commander's side both are the same resistance in the driver's way. The ground of the node, recorded beside,
tells them apart: behind a joint it stays at 0 V, behind a bad ground it rises with what the driver sinks.
"""

import math
from dataclasses import dataclass

import numpy as np

from loomlight.signal.lin_bus_frames import chosen_traffic
from loomlight.signal.lin_case import Case
from loomlight.signal.lin_examination import DRIVER_LOW_SHARE
from loomlight.signal.lin_parts import COMMANDER, settled_levels
from loomlight.signal.lin_resistance import Lift, SeriesResistance
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import COMMANDER_SIDE, behind_pull_up
from loomlight.signal.verdict import Verdict

ROLE = "node ground"
PICTURE = "bad ground of a responder"
WIRE_PICTURE = "series resistance in the bus wire"
EITHER_PICTURE = "series resistance in the bus wire, or bad ground of a responder"
SAME_LEVEL_V = 0.15
"""Two probes that agree on a talker's level within this see the same voltage (converter steps and offsets)."""
SOUND_GROUND_V = 0.1
"""A ground that stays below this against battery negative is sound (common practice, no source)."""
TELLING_SHARE = 0.3
"""A ground that rises by this share of how far the level is off has a part in it (common practice, no source)."""
USUAL_LOW_V = 1.0
"""Where a driver puts the line (data sheets to LIN 2.x: 0.6 to 1.2 V)."""
DECIDES = "Probe the bus pin against the responder's own ground"
HOW = (
    f"{DECIDES}: if the level is right there, its ground is bad. Or record that ground pin against battery negative on another "
    f"channel and give it as “{ROLE}”."
)


@dataclass(frozen=True)
class OwnGround:
    """A node's ground pin against battery negative while it drives the bus, and while the commander does.

    Attributes
    ----------
    talker : str
        ``"response 0x21"``.
    level_v : float
        Where it leaves the bus, volts.
    driving_v, silent_v : float
        Its ground while it drives and while it is silent, volts.
    """

    talker: str
    level_v: float
    driving_v: float
    silent_v: float

    @property
    def rise_v(self) -> float:
        """What its own sinking lifts its ground by, volts."""
        return self.driving_v - self.silent_v

    @property
    def is_sound(self) -> bool:
        """Whether it stays at battery negative."""
        return max(abs(self.driving_v), abs(self.silent_v)) < SOUND_GROUND_V

    @property
    def explains(self) -> bool:
        """Whether the level comes from it."""
        return self.driving_v > max(SOUND_GROUND_V, TELLING_SHARE * (self.level_v - USUAL_LOW_V))


def own_ground(case: Case, talker: str) -> OwnGround | None:
    """The ground of a node, where a channel beside shows it; None where none was recorded."""
    channel, line = case.conditions.beside(ROLE), case.line
    traffic, level_v = chosen_traffic(line), line.level_of(talker)
    if channel is None or channel.step_s is None or traffic is None or traffic.bit_s is None or level_v is None:
        return None

    def median_while(who: str) -> float | None:
        assert traffic is not None
        assert traffic.bit_s is not None
        parts = [one for one in line.parts if one.talker == who]
        volts = [settled_levels(channel, traffic, one.start_s, one.stop_s, traffic.bit_s)[0] for one in parts]
        known = [one for one in volts if one is not None]
        return float(np.median(known)) if known else None

    driving_v, silent_v = median_while(talker), median_while(COMMANDER)
    if driving_v is None or silent_v is None:
        return None
    return OwnGround(talker, level_v, driving_v, silent_v)


def weak_responder(case: Case, measured: tuple[Lift, ...]) -> str:
    """The responder that answers most weakly on this channel, where the commander's level is right; empty where none does.

    Weak is what stands clearly above itself on a known-good of another day, or above what a driver has to reach.
    """
    line, supply = case.line, case.line.supply
    if supply is None:
        return ""
    limit = DRIVER_LOW_SHARE * supply.volts
    levels = {talker: volts for talker in line.talkers if (volts := line.level_of(talker)) is not None}
    if levels.get(COMMANDER, 0.0) > limit:
        return ""
    lifted = {one.talker for one in measured if one.is_lifted} if not case.together else set()
    weak = [who for who, volts in levels.items() if who != COMMANDER and (volts > limit or who in lifted)]
    return max(weak, key=levels.__getitem__, default="")


def judge_ground(case: Case, measured: tuple[Lift, ...], top_v: float, caveats: tuple[str, ...]) -> Verdict | None:
    """A bad ground where it was measured; `cannot tell`, and what decides, where both probes see the same weak answer."""
    talker = weak_responder(case, measured)
    if not talker:
        return None
    ground = own_ground(case, talker)
    if ground is not None and ground.explains:
        return _bad_ground(ground, top_v, caveats)
    there_v = case.good_line.level_of(talker) if case.together and case.good_line is not None else None
    here_v = case.line.level_of(talker)
    if there_v is None or here_v is None or abs(here_v - there_v) > SAME_LEVEL_V:
        return None
    if ground is not None and ground.is_sound:
        why = (
            f"Its own ground stands at {ground.driving_v:.2f} V while it drives, so that is sound: its driver, or a joint "
            "between it and both probes."
        )
        step = "Move a probe to that node's own bus pin: if the level is right there, the joint lies between, else its driver."
    else:
        why = "Its own ground, its driver, or a joint between it and both probes; these two channels cannot tell which."
        step = HOW
    return Verdict(
        "cannot tell",
        "unknown",
        (
            f"While the node that gives {talker} drives, both probes stand at the same {here_v:.2f} V, which is too high, and "
            "every other talker is right: no resistance between the probes does that.",
            why,
            *caveats,
        ),
        next_step=step,
    )


def _bad_ground(ground: OwnGround, top_v: float, caveats: tuple[str, ...]) -> Verdict:
    ohms = behind_pull_up(
        ground.level_v, source_v=ground.level_v - ground.rise_v, top_v=top_v, pull=COMMANDER_SIDE, doubt_v=0.05
    )
    reasons = [
        f"While the node that gives {ground.talker} drives, the line stands at {ground.level_v:.2f} V and that node's own ground "
        f"at {ground.driving_v:.2f} V against battery negative: its ground lifts the line, not a joint in the bus wire.",
    ]
    if ground.rise_v > SOUND_GROUND_V:
        reasons.append(
            f"What it sinks lifts its ground by {ground.rise_v:.2f} V: {in_words(ohms.low, 'Ω')} to {in_words(ohms.high, 'Ω')} "
            "in its ground (assumed: commander pull-up 900 to 1100 Ω)."
        )
    if ground.silent_v > SOUND_GROUND_V:
        reasons.append(
            f"Even while it is silent its ground stands at {ground.silent_v:.2f} V: its own supply current runs through the bad "
            "ground as well."
        )
    return Verdict(
        "faulty",
        "resistive",
        (*reasons, *caveats),
        next_step="Follow that node's ground wire to its ground point: measure the drop along it with the node working, clean "
        "and tighten, and repeat the capture.",
        series_ohm=ohms.best if ground.rise_v > SOUND_GROUND_V else None,
        series_ohm_low=ohms.low if ground.rise_v > SOUND_GROUND_V else None,
        series_ohm_high=ohms.high if ground.rise_v > SOUND_GROUND_V and math.isfinite(ohms.high) else None,
        picture=PICTURE,
    )


def wire_or_ground(case: Case, series: SeriesResistance) -> str:
    """Which of the two a series resistance is, as the picture of the verdict.

    A bus wire is sure where the commander's own level is lifted or drops out, where two probes of one recording differ,
    where several responders are lifted alike, or where the node's own ground was measured and is sound.
    """
    talkers = {lift.talker for lift, _ in series.evidence}
    if case.together or COMMANDER in talkers or len(talkers) > 1 or case.lets_go:
        return WIRE_PICTURE
    ground = own_ground(case, next(iter(talkers), ""))
    return WIRE_PICTURE if ground is not None and ground.is_sound else EITHER_PICTURE
