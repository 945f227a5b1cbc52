"""Verdicts that the kinds of two-state wires word alike."""

from loomlight.signal.verdict import Verdict


def unsure(reason: str, do: str) -> Verdict:
    """Cannot tell: why, and what to do about it, one sentence each."""
    return Verdict("cannot tell", "unknown", (reason,), next_step=do)
