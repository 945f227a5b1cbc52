"""How a LIN wire lets go: how often, for how long, in clusters or evenly, and while whom."""

from collections import Counter

import numpy as np

from loomlight.signal.lin_case import Case
from loomlight.signal.lin_dropout_figures import DropoutStatistics, TalkerShare
from loomlight.signal.lin_dropouts import EPISODE_GAP_S, episodes
from loomlight.signal.lin_parts import COMMANDER
from loomlight.signal.lin_places import FIELDS, SOMEWHERE, FramePlace, places_in
from loomlight.signal.measure import Measure
from loomlight.signal.quantity import in_words
from loomlight.signal.recurrence import SURE_P, Recurrence, recurrence
from loomlight.signal.spans import Spans, common, joined, spans_of, total, without

GROUP = "dropouts"
GAPS = "Greenwood 1946, against random sets (Monte Carlo)"
PERIODS = "Rayleigh test (Mardia and Jupp 2000), against random sets (Monte Carlo)"
SHARES = "exact binomial test, times the number of talkers"


def dropout_statistics(case: Case) -> DropoutStatistics | None:
    """Figures of a case's dropouts; None where there are none."""
    spans = joined(spans_of(np.concatenate([case.dropouts, case.good_dropouts_here])), 0.0)
    if not len(spans):
        return None
    driven = joined(spans_of(np.concatenate([*_dominant(case), spans])), 0.0)
    groups = episodes(spans)
    # The time at risk: once the line has let go it cannot let go again.
    holding = without(driven, spans)
    places = (*places_of_dropouts(case), *places_on_the_known_good(case))
    begun = dict(zip(np.concatenate([case.dropouts, case.good_dropouts_here])[:, 0].tolist(), places, strict=True))
    who = [begun[at_s] for at_s in groups[:, 0].tolist()]
    return DropoutStatistics(
        spans=spans,
        episodes=groups,
        seen_s=total(driven),
        places=places,
        talkers=_talkers(Counter(one.talker for one in who if one is not None), _talks(case), driven),
        each=recurrence(spans[:, 0], holding),
        together=recurrence(groups[:, 0], holding),
    )


def places_of_dropouts(case: Case) -> tuple[FramePlace | None, ...]:
    """Where in a frame each of the suspect's dropouts begins: by the known-good's frames where both ran together."""
    good = case.good_line
    starts = case.dropouts[:, 0].tolist()
    lineup = case.lineup if case.together and case.comparable else None
    if lineup is not None and good is not None and good.received is not None:
        return tuple(places_in(good.received, [lineup.on_good(one) for one in starts]))
    own = places_in(case.line.seen, starts) if case.line.seen is not None else [None] * len(starts)
    if not case.comparable or case.lineup is None or good is None or good.received is None:
        return tuple(own)
    # A header that is torn altogether: the known-good's stands there by the schedule, to within a few bits.
    there = places_in(good.received, [case.lineup.on_good(one) for one in starts])
    return tuple(place if place is not None else _roughly(other) for place, other in zip(own, there, strict=True))


def _roughly(place: FramePlace | None) -> FramePlace | None:
    """A header of another day's known-good, laid by the schedule: which one, and no bit."""
    if place is None or place.talker != COMMANDER:
        return None
    return FramePlace(COMMANDER, place.identifier, SOMEWHERE, None)


def places_on_the_known_good(case: Case) -> tuple[FramePlace | None, ...]:
    """Where each dropout begins that shows on the known-good's channel: by the suspect's frames."""
    starts = case.good_dropouts_here[:, 0].tolist()
    return tuple(places_in(case.line.received, starts)) if case.line.received is not None else (None,) * len(starts)


def _dominant(case: Case) -> list[Spans]:
    """When the line is driven, on either side of the fault, on the suspect's axis."""
    found = [case.line.received.dominant] if case.line.received is not None else []
    if case.together and case.comparable and case.lineup is not None and case.good_line is not None:
        good = case.good_line.received
        found += [case.lineup.spans_on_suspect(good.dominant)] if good is not None else []
    return found


def _talks(case: Case) -> dict[str, Spans]:
    """Who drives when, from both channels, on the suspect's axis."""
    found: dict[str, list[tuple[float, float]]] = {}
    for one in case.line.parts:
        found.setdefault(one.talker, []).append((one.start_s, one.stop_s))
    if case.together and case.comparable and case.lineup is not None and case.good_line is not None:
        for one in case.good_line.parts:
            pair = case.lineup.on_suspect(one.start_s), case.lineup.on_suspect(one.stop_s)
            found.setdefault(one.talker, []).append(pair)
    return {talker: joined(spans_of(pairs), 0.0) for talker, pairs in found.items()}


def _talkers(counts: Counter[str], talks: dict[str, Spans], driven: Spans) -> tuple[TalkerShare, ...]:
    """How many episodes begin with each talker, beside its share of the time in which they could."""
    times = {talker: total(common(spans, driven)) for talker, spans in talks.items()}
    all_s, all_count = sum(times.values()), sum(counts[talker] for talker in talks)
    if not all_s or not all_count:
        return ()
    found = [
        TalkerShare(
            talker,
            counts[talker],
            times[talker] / all_s,
            min(1.0, len(talks) * _at_least(counts[talker], all_count, times[talker] / all_s)),
        )
        for talker in talks
    ]
    return tuple(sorted(found, key=lambda one: -one.episodes))


def _at_least(count: int, of: int, share: float) -> float:
    """How probable it is that ``count`` or more of ``of`` fall into a share, if chance alone decides (binomial)."""
    from scipy.special import bdtrc

    return float(bdtrc(count - 1, of, share)) if count > 0 else 1.0


def statistics_reasons(found: DropoutStatistics) -> list[str]:
    """What of it tells something about the fault."""
    reasons = []
    together = found.together
    if together is not None and together.is_periodic and not together.is_clustered:
        reasons.append(
            f"The episodes come every {in_words(together.period_s, 's')} ({in_words(1 / together.period_s, 'Hz')}; chance alone: "
            f"p = {together.p_period:.2g}): look for what turns, vibrates or switches at that rate."
        )
    elif found.each is not None and found.each.is_clustered:
        reasons.append(
            f"The dropouts come in clusters (gaps {found.each.spread:.1f} times as uneven as at random, "
            f"p = {found.each.p_clustered:.2g}): a contact that is shaken, rather than one that fails by itself."
        )
    if found.tied_to:
        first = found.talkers[0]
        reasons.append(
            f"{first.episodes} of {sum(one.episodes for one in found.talkers)} episodes begin while {first.talker} drives, which "
            f"holds {100 * first.share:.0f} % of the driven time (p = {first.p:.2g}): they are tied to it."
        )
    return reasons


def statistics_measures(found: DropoutStatistics) -> tuple[Measure, ...]:
    """The figures as lines of a table."""
    lengths = found.spans[:, 1] - found.spans[:, 0]
    count, groups = len(found.spans), len(found.episodes)
    rows = [
        Measure(GROUP, "dropouts", float(count), "", note="on this channel and on the known-good's"),
        Measure(GROUP, "dropout rate", count / found.seen_s, "/s", note="a second of driven line, where one can show"),
        Measure(GROUP, "dropouts, share of the driven time", 100 * float(lengths.sum()) / found.seen_s, "%"),
        Measure(GROUP, "dropout length, median", float(np.median(lengths)), "s"),
        Measure(GROUP, "dropout length, longest", float(lengths.max()), "s"),
        Measure(
            GROUP,
            "episodes",
            float(groups),
            "",
            note=f"dropouts less than {in_words(EPISODE_GAP_S, 's')} apart; {count / groups:.1f} in each on average",
        ),
        *_recurrence_rows("dropouts", found.each),
        *_recurrence_rows("episodes", found.together),
    ]
    for one in found.talkers:
        note = f"it holds {100 * one.share:.0f} % of the driven time; so many by chance: p = {one.p:.2g} ({SHARES})"
        rows.append(Measure(GROUP, f"episodes that begin with {one.talker}", float(one.episodes), "", note=note))
    fields = Counter(place.field if place is not None else "outside all frames" for place in found.places)
    known = [name for name in FIELDS if name in fields]
    for name in (*known, *sorted(set(fields) - set(FIELDS))):
        rows.append(Measure(GROUP, f"dropouts that begin in {name}", float(fields[name]), ""))
    return tuple(rows)


def _recurrence_rows(what: str, found: Recurrence | None) -> list[Measure]:
    if found is None:
        return [Measure(GROUP, f"{what}, unevenness of the gaps", None, "", note="too few to tell how they recur")]
    said = "clustered" if found.is_clustered else "too even for chance" if found.p_even <= SURE_P else "as at random"
    rows = [
        Measure(
            GROUP,
            f"{what}, unevenness of the gaps",
            found.spread,
            "× random",
            note=f"{said}; p = {found.p_clustered:.2g} for clusters, {found.p_even:.2g} for even gaps ({GAPS})",
        )
    ]
    if not np.isnan(found.period_s) and not found.is_clustered:
        telling = "" if found.p_period <= SURE_P else "no period is told from chance; "
        rows.append(
            Measure(
                GROUP,
                f"{what}, best period",
                found.period_s,
                "s",
                note=f"{telling}p = {found.p_period:.2g} ({PERIODS})",
            )
        )
    return rows
