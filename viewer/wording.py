"""Every sentence that shows a stage; plain functions, the same on screen, in pictures and on the command line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from loomlight.signal.quantity import in_words
from loomlight.viewer.units import in_table

if TYPE_CHECKING:
    from loomlight.signal.by_hand import Hand
    from loomlight.signal.capture import Channel
    from loomlight.signal.examination import BusReport
    from loomlight.signal.finding import Finding, Limit
    from loomlight.signal.lineup import LineUp
    from loomlight.signal.proof import Proof, ProofCheck
    from loomlight.signal.recipe import Recipe
    from loomlight.signal.setting import Setting
    from loomlight.signal.verdict import Verdict

STATE_SIGNS = {
    "clean": "✓",
    "faulty": "✗",
    "cannot tell": "?",
    "proven": "✓",
    "not proven": "✗",
    "open": "…",
}
MOST_PLACES_TOLD = 8
FINDING_COLUMNS = ("At", "Finding", "Size", "Length", "Rule")
CHECK_COLUMNS = ("Check", "Before", "After", "Limit", "Result")
SAFETY_FOOT = (
    "Shows what was measured at these points at that time. It does not say that a vehicle is safe to drive. The vehicle "
    "maker's procedure, local codes and licensed practice come first."
)


def verdict_headline(verdict: Verdict) -> str:
    """State and fault class in a few words: "Faulty: resistive wire, comes and goes"."""
    if verdict.state == "clean":
        return "Clean: nothing found"
    if verdict.state == "cannot tell":
        return "Cannot tell"
    if verdict.picture:
        return f"Faulty: {verdict.picture}{', comes and goes' if verdict.intermittent else ''}"
    fault = {
        "open": "open wire",
        "short": f"short to {verdict.short_to}" if verdict.short_to else "short",
        "resistive": "resistive wire",
        "unknown": "open or resistive wire" if verdict.intermittent else "limits broken",
    }[verdict.fault]
    return f"Faulty: {fault}{', comes and goes' if verdict.intermittent else ''}"


def series_text(verdict: Verdict) -> str:
    """Series resistance with its interval, or nothing."""
    low, best, high = verdict.series_ohm_low, verdict.series_ohm, verdict.series_ohm_high
    if low is None and high is None:
        return ""
    if verdict.state == "clean":
        return f"Series resistance under {in_words(high, 'Ω')} with this instrument"
    if high is None:
        return f"Series resistance above {in_words(low, 'Ω')}, no upper bound"
    about = f"about {in_words(best, 'Ω', digits=2)}, " if best is not None else ""
    return f"Series resistance {about}{in_words(low, 'Ω', digits=2)} to {in_words(high, 'Ω', digits=2)}"


def limit_words(limit: Limit) -> str:
    """A limit with its figure and where it comes from."""
    return f"{limit.name}: {in_words(limit.value, limit.unit)} ({limit.source})"


def setting_words(setting: Setting) -> str:
    """What a figure is for, and where its default comes from."""
    return f"{setting.hint} Default: {setting.source}.".strip()


def recipe_sentences(recipe: Recipe) -> tuple[str, ...]:
    """How to capture, one sentence a step."""
    return (
        recipe.switched_on,
        recipe.where,
        f"Record {in_words(recipe.length_s, 's')} with at least {recipe.samples_per_s:,.0f} samples a second; "
        f"coupling: {recipe.coupling}.".replace(",", " ", recipe.samples_per_s >= 1000),
        *recipe.notes,
    )


def time_text(time_s: float) -> str:
    """A time on the file's axis."""
    return in_words(time_s, "s", digits=6)


def finding_cells(finding: Finding) -> tuple[str, ...]:
    """One row of the findings list, as `FINDING_COLUMNS`."""
    sign = "!" if finding.severity == "severe" else "·"
    size = in_table(finding.size, finding.unit) if finding.unit else f"{finding.size:.0f}"
    length = in_table(finding.stop_s - finding.start_s, "s")
    return (
        in_table(finding.start_s, "s", digits=6),
        f"{sign} {finding.kind}",
        size,
        length,
        f"{finding.channel}: {finding.rule}",
    )


def finding_sentence(finding: Finding) -> str:
    """One finding with its rule, and whether it matters."""
    weight = "the function may suffer" if finding.severity == "severe" else "mild"
    return f"{finding.kind[0].upper()}{finding.kind[1:]} ({weight}): {finding.rule}."


def lineup_sentence(lineup: LineUp | None) -> str:
    """How the known-good was laid over the suspect, which way was taken, and why."""
    if lineup is None:
        return "No known-good: judged against the limits alone."
    why = f" {lineup.why}" if lineup.why else ""
    if not lineup.accepted:
        return f"Line-up refused. {lineup.reason}{why}"
    upside = " upside down" if lineup.polarity < 0 else ""
    # Of a line-up by hand nothing else was tried.
    sure = "" if math.isnan(lineup.sureness) else f", sureness {lineup.sureness:.2f}"
    return (
        f"Lined up{upside} by {lineup.by}: {_placed(lineup.lag_s, lineup.stretch)}, fit {lineup.fit:.2f}{sure}, over "
        f"{in_words(lineup.overlap_s, 's')}. {lineup.reason}{why}"
    )


def _placed(lag_s: float, stretch: float) -> str:
    stretched = f", stretched by {stretch:.5g}" if abs(stretch - 1.0) >= 5e-6 else ""
    return f"shifted by {in_words(lag_s, 's', digits=5)}{stretched}"


def place_words(number: int, place: LineUp, good: Channel) -> str:
    """One place where the known-good fits, in a list."""
    return f"{number}: at {time_text(place.on_suspect(good.start_s))}, fit {place.fit:.2f}"


def places_sentence(places: Sequence[LineUp], good: Channel | None) -> str:
    """Where else the known-good fits; empty where there is but one place."""
    if len(places) < 2 or good is None:
        return ""
    at = ", ".join(time_text(one.on_suspect(good.start_s)) for one in places[:MOST_PLACES_TOLD])
    rest = f" and {len(places) - MOST_PLACES_TOLD} more" if len(places) > MOST_PLACES_TOLD else ""
    return f"The known-good fits at {len(places)} places: {at}{rest}."


def hand_words(hand: Hand, lineup: LineUp | None, own: LineUp) -> str:
    """How the hand's line-up stands beside the tool's own; ``lineup`` is None while its fit is being worked out."""
    pins = f", {len(hand.pins)} pinned" if hand.pins else ""
    fit = "fit …" if lineup is None else f"fit {lineup.fit:.2f}" if lineup.accepted else "nothing in common"
    answer = "" if own.accepted else ", refused"
    return (
        f"By hand: {_placed(hand.lag_s, hand.stretch)}, {fit}{pins}. The tool's own, by {own.by}: "
        f"{_placed(own.lag_s, own.stretch)}, fit {own.fit:.2f}{answer}."
    )


MOST_SORTS = 4
"""Sorts of errors that are told by name."""


def bus_sentence(bus: BusReport | None) -> str:
    """What the bus carried, in one line."""
    if bus is None:
        return ""
    called = ", ".join(f"{one:#04x}" for one in bus.identifiers[:8]) + (" …" if len(bus.identifiers) > 8 else "")
    source = {"given": "what was given, less the diode", "recessive level": "from the resting level"}
    parts = [
        f"{bus.bit_rate:.0f} bit/s" if bus.bit_rate else "",
        f"{bus.frames} frame{'' if bus.frames == 1 else 's'}" + (f" ({called})" if called else ""),
        f"{bus.no_response} without an answer" if bus.no_response else "",
        f"{bus.errors} with errors",
        f"load {bus.load:.0%}" if bus.load is not None else "",
    ]
    supply = f"node supply {bus.supply_v:.1f} V ({source[bus.supply_from]})" if bus.supply_v is not None else ""
    wrong = [f"{count} × {what}" for what, count in bus.error_counts[:MOST_SORTS]]
    return "; ".join(filter(None, (", ".join(filter(None, parts)), supply, *wrong)))


def channel_summary(channel: Channel) -> str:
    """What a channel is, in one line."""
    step = f"every {in_words(channel.step_s, 's', digits=4)}" if channel.step_s is not None else "unevenly"
    form = {
        "even": f"samples {step}",
        "pairs": f"samples, a minimum and maximum {step}",
        "changes": "changes",
        "uneven": "samples, unevenly spaced",
    }[channel.form]
    length = in_words(channel.stop_s - channel.start_s, "s")
    return f"{channel.name} ({channel.unit or 'unit unknown'}): {channel.samples.size} {form}, {length} long"


def reach_text(reach: tuple[float, float] | None, unit: str | None) -> str:
    """Least and greatest value of a channel."""
    if reach is None:
        return "no finite value"
    least, greatest = (in_words(one, unit or "") for one in reach)
    return f"from {least} to {greatest}"


def proof_headline(proof: Proof) -> str:
    """State of the proof in a few words."""
    return proof_state_text(proof.state)


def proof_state_text(state: str) -> str:
    """A state of a proof, or of a job, in a few words."""
    known = {"proven": "Repair proven", "not proven": "Repair not proven", "cannot tell": "Cannot tell"}
    return known.get(state, state)


def check_cells(check: ProofCheck) -> tuple[str, ...]:
    """One row of the proof's table, as `CHECK_COLUMNS`."""
    result = {True: "✓ passed", False: "✗ failed", None: "? not measured"}[check.passed]
    return check.name, *(_figure(one) for one in (check.before, check.after, check.limit)), result


def _figure(value: float | None) -> str:
    if value is None:
        return "–"
    if abs(value) >= 1000 or value == round(value):
        return f"{value:.0f}"
    return f"{value:.3g}"
