"""How sure a match is: from how far the fingerprints are, what the line-up says, and how far the next best is behind."""

import math
from collections.abc import Sequence

LINE_UP_COUNTS = 500.0
"""What a line-up that says nothing counts, beside the distance of the fingerprints."""
MOST_BEHIND, MOST_BEFORE = 300.0, 200.0
CONSTANT, A_HUNDRED_AWAY, SAID, A_HUNDRED_BEFORE = -3.4, -0.9, 5.4, 1.95
"""Logistic regression on the matches of 200 queries and 100 strangers (seeds 2 and 5 of tests/signal/made_library.py); checked
in match_calibration.md on others."""


def away(distance: float, said: float) -> float:
    """How far a lined-up entry is in all.

    Parameters
    ----------
    distance : float
        Of the fingerprints.
    said : float
        0 to 1: how much the line-up speaks for the two being of one signal.
    """
    return distance + LINE_UP_COUNTS * (1.0 - said)


def surenesses(found: Sequence[tuple[float, float]]) -> tuple[float, ...]:
    """How likely each of the best matches is of the same signal, 0 to 1.

    Parameters
    ----------
    found : sequence of (float, float)
        Distance and what the line-up said, best first; a lone one is taken to stand far before the next.
    """
    far = [away(*one) for one in found]
    sure = []
    for place, (distance, said) in enumerate(found):
        others = far[:place] + far[place + 1 :]
        before = min(others, default=math.inf) - far[place]
        before = min(max(before, -MOST_BEHIND), MOST_BEFORE)
        logit = CONSTANT + A_HUNDRED_AWAY * distance / 100.0 + SAID * said + A_HUNDRED_BEFORE * before / 100.0
        sure.append(1.0 / (1.0 + math.exp(-logit)))
    return tuple(sure)
