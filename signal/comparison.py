"""One whole comparison: line up, find, judge. The window and the commands both call these two functions."""

from dataclasses import dataclass, field, replace

from loomlight.signal.band import envelope_along
from loomlight.signal.beside import Beside
from loomlight.signal.beyond_envelope import with_the_envelope
from loomlight.signal.capture import Channel
from loomlight.signal.examination import BusReport, Conditions, Examination
from loomlight.signal.finding import Finding
from loomlight.signal.kinds.listing import kind_named
from loomlight.signal.lineup import LineUp, WantedBy
from loomlight.signal.measure import Measure
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.tolerance_band import Envelope
from loomlight.signal.verdict import Verdict
from loomlight.signal.ways import Sides, line_up_by, places_of

BY_HAND = "The known-good was laid over the suspect by hand."


@dataclass(frozen=True, eq=False)
class Comparison:
    """The whole way of one suspect channel, every stage kept.

    Attributes
    ----------
    suspect : Channel
        The wire under suspicion.
    good : Channel or None
        What it was laid over; None for a check against limits alone.
    kind : str
        Key of the signal kind.
    conditions : Conditions
        What was known beside the samples.
    lineup : LineUp or None
        None where there is no known-good.
    findings : tuple of Finding
        In order of time.
    bus : BusReport or None
        What the suspect's bus carried.
    good_bus : BusReport or None
        What the known-good's bus carried.
    verdict : Verdict
        What it means.
    tolerance_v : float or None
        Half width of the band in the difference lane, volts.
    looked, good_looked : Examination or None
        What each channel shows by itself: tables of measurements and frames, and all that judging anew needs.
    compared : tuple of Measure
        What only the judgement measured: on both channels together, or over all findings.
    """

    suspect: Channel
    good: Channel | None
    kind: str
    conditions: Conditions
    lineup: LineUp | None
    findings: tuple[Finding, ...]
    bus: BusReport | None
    good_bus: BusReport | None
    verdict: Verdict
    tolerance_v: float | None
    looked: Examination | None = field(default=None, repr=False)
    good_looked: Examination | None = field(default=None, repr=False)
    places: tuple[LineUp, ...] = field(default=(), repr=False)
    compared: tuple[Measure, ...] = field(default=(), repr=False)

    @property
    def measures(self) -> tuple[Measure, ...]:
        """All that was measured on the suspect, by itself and beside the known-good."""
        return (*(self.looked.measures if self.looked is not None else ()), *self.compared)


def compare(
    suspect: Channel,
    good: Channel,
    *,
    kind: str,
    conditions: Conditions,
    by: WantedBy = "auto",
    good_besides: tuple[Beside, ...] = (),
    envelope: Envelope | None = None,
    progress: Progress = unwatched,
) -> Comparison:
    """Line the suspect up against the known-good, find what is wrong, and judge it.

    Parameters
    ----------
    suspect, good : Channel
        Both in the same unit.
    kind : str
        Key of a signal kind.
    conditions : Conditions
        With ``same_moment`` set where both come from one recording: their common axis is then the line-up's start.
    by : {"auto", "shape", "frame", "cycle"}
        How to line up; ``auto`` as the kind wants.
    good_besides : tuple of Beside
        What stands beside the known-good; in one recording with the suspect, what stands beside that serves where this is empty.
    envelope : Envelope, optional
        Of several captures, the known-good the first of them: the band is then theirs, and what leaves it is a finding.
    progress : Progress
        0 to 1 over the whole.

    Raises
    ------
    UnknownKind
        If there is no such kind.
    CannotUse
        If the channels cannot be worked on, with the reason.
    """
    signal_kind = kind_named(kind)
    looked = signal_kind.examine(suspect, conditions, part(progress, 0.0, 0.2))
    # A supply that was given was measured on the suspect's day; a known-good of another day keeps its own.
    good_conditions = conditions if conditions.same_moment else replace(conditions, supply_v=None, besides=())
    if good_besides:
        good_conditions = replace(good_conditions, besides=good_besides)
    good_looked = signal_kind.examine(good, good_conditions, part(progress, 0.2, 0.4))
    sides = Sides(signal_kind.title, signal_kind.by, signal_kind.frames(looked), signal_kind.frames(good_looked))
    lineup = line_up_by(
        suspect, good, sides, by=by, same_moment=conditions.same_moment, progress=part(progress, 0.4, 0.8)
    )
    lineup = replace(lineup, envelope=envelope)
    return _judged(looked, good_looked, lineup, kind=kind, conditions=conditions, progress=part(progress, 0.8, 1.0))


def compare_as_laid(comparison: Comparison, lineup: LineUp, progress: Progress = unwatched) -> Comparison:
    """Judge the same two channels at another line-up: one that was made by hand.

    Parameters
    ----------
    comparison : Comparison
        With a known-good.
    lineup : LineUp
        Taken as it is.
    progress : Progress
        0 to 1.

    Raises
    ------
    ValueError
        If the comparison has no known-good.
    """
    if comparison.looked is None or comparison.good_looked is None:
        raise ValueError("only a comparison with a known-good can be judged at another line-up")
    if comparison.lineup is not None and lineup.envelope is None:
        lineup = replace(lineup, envelope=comparison.lineup.envelope)
    found = _judged(
        comparison.looked,
        comparison.good_looked,
        lineup,
        kind=comparison.kind,
        conditions=comparison.conditions,
        progress=progress,
    )
    if lineup.by != "hand":
        return found
    return replace(found, verdict=replace(found.verdict, reasons=(*found.verdict.reasons, BY_HAND)))


def _judged(
    looked: Examination,
    good_looked: Examination,
    lineup: LineUp,
    *,
    kind: str,
    conditions: Conditions,
    progress: Progress,
) -> Comparison:
    signal_kind = kind_named(kind)
    judgement = signal_kind.judge(looked, good_looked, lineup, conditions, part(progress, 0.0, 0.5))
    if signal_kind.by != "frame":  # a bus holds its band by what its talkers say, with the supply of the day
        judgement = with_the_envelope(judgement, looked.channel, good_looked.channel, lineup, part(progress, 0.5, 0.7))
    verdict = judgement.verdict
    envelope = envelope_along(lineup) if lineup.accepted else None
    if envelope is not None:
        verdict = replace(verdict, reasons=(*verdict.reasons, f"Envelope: {envelope.told}"))
    places: tuple[LineUp, ...] = ()
    if not conditions.same_moment:
        places = places_of(looked.channel, good_looked.channel, lineup, part(progress, 0.7, 1.0))
    return Comparison(
        suspect=looked.channel,
        good=good_looked.channel,
        kind=kind,
        conditions=conditions,
        lineup=lineup,
        findings=judgement.findings,
        bus=looked.bus,
        good_bus=good_looked.bus,
        verdict=verdict,
        tolerance_v=signal_kind.tolerance_v(looked, conditions),
        looked=looked,
        good_looked=good_looked,
        places=places,
        compared=judgement.measures,
    )


def check(channel: Channel, *, kind: str, conditions: Conditions, progress: Progress = unwatched) -> Comparison:
    """Judge one channel against its kind's limits, with no known-good.

    Parameters and errors as `compare`.
    """
    signal_kind = kind_named(kind)
    looked = signal_kind.examine(channel, conditions, part(progress, 0.0, 0.7))
    judgement = signal_kind.judge(looked, None, None, conditions, part(progress, 0.7, 1.0))
    return Comparison(
        suspect=channel,
        good=None,
        kind=kind,
        conditions=conditions,
        lineup=None,
        findings=judgement.findings,
        bus=looked.bus,
        good_bus=None,
        verdict=judgement.verdict,
        tolerance_v=signal_kind.tolerance_v(looked, conditions),
        looked=looked,
        compared=judgement.measures,
    )
