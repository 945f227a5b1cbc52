"""What it means that a LIN line is held dominant for longer than any driver may hold it."""

import numpy as np

from loomlight.signal.capture import Channel
from loomlight.signal.lin_case import Case
from loomlight.signal.lin_held import SURELY_S, TIME_OUT_S
from loomlight.signal.quantity import in_words
from loomlight.signal.series_resistance import COMMANDER_SIDE, leak_beside
from loomlight.signal.spans import spans_of, touched
from loomlight.signal.verdict import Verdict

LONGEST_LOOK = 1_000_000
"""Samples of a stretch that its level is read from."""


def judge_held(case: Case, caveats: tuple[str, ...]) -> Verdict | None:
    """A line that talks and yet is held dominant at times; None where no stretch of it is beyond the time-out."""
    spans = [(one.start_s, one.stop_s) for one in case.findings if one.kind == "held dominant"]
    if not spans:
        return None
    longest_s = max(stop_s - start_s for start_s, stop_s in spans)
    volts = _level(case.suspect.channel, spans)
    top_v = case.line.recessive_v or 0.0
    times = f"{len(spans)} time{'s' if len(spans) > 1 else ''}"
    said = (
        f"The line is held dominant {times}, {in_words(longest_s, 's')} at the longest, at {volts:.2f} V; a transceiver lets go "
        f"after {in_words(TIME_OUT_S, 's')} to {in_words(SURELY_S, 's')} (data sheets)."
    )
    if case.together and case.good is not None:
        held_there = spans_of([(one.start_s, one.stop_s) for one in case.good.findings if one.kind == "held dominant"])
        if not touched(spans_of(spans), held_there).any():
            return Verdict(
                "cannot tell",
                "unknown",
                (
                    said,
                    "The known-good on the same bus goes on meanwhile, so no short holds the bus: this probe, or the wire to it "
                    "with its node unpowered, lets go.",
                    *caveats,
                ),
                next_step="Check that the probe touches metal, then that node's supply and ground, and repeat the capture.",
            )
    if longest_s < SURELY_S:
        return Verdict(
            "cannot tell",
            "unknown",
            (
                said,
                "That is within what some transceivers allow: a node that hangs, or a short that comes and goes.",
                *caveats,
            ),
            next_step="Record longer, and unplug the nodes one by one until it no longer happens.",
        )
    ohms = leak_beside(max(volts, 0.0), top_v=top_v, pull=COMMANDER_SIDE, doubt_v=0.1)
    return Verdict(
        "faulty",
        "short",
        (
            said,
            f"A path to ground of {in_words(ohms.low, 'Ω')} to {in_words(ohms.high, 'Ω')} does that: a wire that chafes, or a "
            "node whose driver sticks. Meanwhile nobody is heard.",
            "Assumed: the commander's pull-up is whole (900 to 1100 Ω).",
            *caveats,
        ),
        next_step="Unplug the nodes one by one; if it stays, move the loom and look for a chafe against the body.",
        short_to="ground",
        intermittent=True,
        picture="short to ground",
    )


def _level(channel: Channel, spans: list[tuple[float, float]]) -> float:
    """Median over the longest stretch, its ends left out, volts."""
    start_s, stop_s = max(spans, key=lambda one: one[1] - one[0])
    first, last = (channel.index_at(start_s + share * (stop_s - start_s)) for share in (0.1, 0.9))
    values = channel.samples.block(first, min(max(last, first + 1), first + LONGEST_LOOK))
    return float(np.nanmedian(values)) if np.isfinite(values).any() else float("nan")
