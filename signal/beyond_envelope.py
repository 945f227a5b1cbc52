"""What leaves the envelope of several good captures, for kinds that hold no band of their own."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from loomlight.signal.band import Band, envelope_along, out_of_band
from loomlight.signal.capture import Channel
from loomlight.signal.finding import Finding
from loomlight.signal.kinds.shape import Judgement
from loomlight.signal.lineup import LineUp
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.quantity import in_words
from loomlight.signal.spans import spans_of, touched
from loomlight.signal.verdict import Verdict


def with_the_envelope(
    judgement: Judgement, suspect: Channel, good: Channel, lineup: LineUp, progress: Progress = unwatched
) -> Judgement:
    """Add what leaves the envelope where nothing else was found; unchanged where there is none, or the line-up was refused.

    Parameters
    ----------
    judgement : Judgement
        By the signal kind.
    suspect, good : Channel
        In the same unit.
    lineup : LineUp
        With the envelope.
    progress : Progress
        0 to 1.

    Returns
    -------
    Judgement
        With findings ``out of band``, each mild: other good captures did not go there, which breaks no limit. What kept
        every limit but leaves the envelope is no longer called clean.
    """
    if not lineup.accepted or envelope_along(lineup) is None or suspect.step_s is None:
        return judgement
    slack_s = max(suspect.step_s, (good.step_s or 0.0) / lineup.stretch)
    found = out_of_band(suspect, good, lineup, Band(math.inf, slack_s), join_s=4.0 * slack_s, progress=progress)
    told = spans_of([(one.start_s, one.stop_s) for one in judgement.findings if one.channel == suspect.name])
    is_told = touched(np.array([(one.start_s, one.stop_s) for one in found]).reshape(-1, 2), told)
    new = [one for one, known in zip(found, is_told.tolist(), strict=True) if not known]
    both = tuple(sorted((*judgement.findings, *new), key=lambda one: one.start_s))
    return replace(judgement, findings=both, verdict=with_the_band(judgement.verdict, new))


def with_the_band(verdict: Verdict, away: Sequence[Finding]) -> Verdict:
    """What keeps every limit and yet leaves its known-good is not called clean."""
    if verdict.state != "clean" or not away:
        return verdict
    worst = max(away, key=lambda one: one.size)
    stretches = "1 stretch stands" if len(away) == 1 else f"{len(away)} stretches stand"
    return replace(
        verdict,
        state="cannot tell",
        fault="unknown",
        reasons=(
            f"All limits are kept, but {stretches} {worst.rule}; the worst goes {in_words(worst.size, worst.unit)} beyond that.",
            *verdict.reasons,
        ),
        next_step="Look at the marked stretches, and repeat the capture there while the harness is moved.",
    )
