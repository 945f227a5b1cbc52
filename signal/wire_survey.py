"""One walk over a channel of any length: the stretch in which most happens, and the whole of it in means."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from loomlight.signal.capture import Channel
from loomlight.signal.progress import Progress, unwatched
from loomlight.signal.resample import Instants
from loomlight.signal.samples import FloatSamples, PartOf

MOST = 1 << 21
"""Samples that are looked at."""
PIECE = 1 << 15
FEWEST = 16


@dataclass(frozen=True, eq=False)
class Survey:
    """What of a channel is looked at.

    Attributes
    ----------
    busiest : Channel
        Form ``even``; at most `MOST` samples: the stretch in which the signal moves most.
    coarse : Channel or None
        All of it, as means of so many samples that no more than `MOST` are left; None where the busiest is all there is.
    """

    busiest: Channel
    coarse: Channel | None


def survey(channel: Channel, progress: Progress = unwatched) -> Survey | None:
    """Walk a channel once; None for forms that have no step of their own, and for what is too short.

    Parameters
    ----------
    channel : Channel
        Any unit and length; of pairs the middle is taken.
    progress : Progress
        0 to 1.
    """
    if channel.form not in ("even", "pairs") or channel.step_s is None or channel.intervals < FEWEST:
        return None
    if channel.form == "pairs":
        channel = replace(channel, form="even", samples=Instants(channel), gaps=(), clipped=())
    size = channel.samples.size
    if size <= MOST:
        return Survey(channel, None)
    assert channel.step_s is not None
    starts = np.arange(0, size - PIECE + 1, PIECE)
    moved = np.zeros(starts.size)
    # A power of two, so that a piece holds whole means.
    wide = min(1 << int(np.ceil(np.log2(size / MOST))), PIECE)
    means = np.empty((starts.size, PIECE // wide), np.float32)
    for place, start in enumerate(starts.tolist()):
        progress(place / starts.size)
        values = channel.samples.block(start, start + PIECE)
        finite = values[np.isfinite(values)]
        moved[place] = float(np.ptp(finite)) if finite.size else 0.0
        means[place] = _means(values.reshape(-1, wide), is_whole=finite.size == values.size)
    coarse = replace(
        channel,
        samples=FloatSamples(means.ravel(), copy=False),
        start_s=channel.start_s + 0.5 * (wide - 1) * channel.step_s,
        step_s=wide * channel.step_s,
        gaps=(),
        clipped=(),
    )
    running = np.concatenate([[0.0], np.cumsum(moved)])
    width = MOST // PIECE
    first = int(starts[int(np.argmax(running[width:] - running[:-width]))])
    busiest = replace(
        channel,
        samples=PartOf(channel.samples, first, first + MOST),
        start_s=channel.start_s + first * channel.step_s,
        gaps=_within(channel.gaps, first),
        clipped=_within(channel.clipped, first),
    )
    return Survey(busiest, coarse)


def _means(rows: npt.NDArray[np.float32], *, is_whole: bool) -> npt.NDArray[np.float32]:
    """Mean of the numbers in each row; not a number where there is none."""
    if is_whole:
        found: npt.NDArray[np.float32] = rows.mean(axis=1)
        return found
    known = np.isfinite(rows)
    counts = known.sum(axis=1)
    sums = np.where(known, rows, np.float32(0.0)).sum(axis=1)
    return np.where(counts > 0, sums / np.maximum(counts, 1), np.nan).astype(np.float32)


def _within(ranges: tuple[tuple[int, int], ...], first: int) -> tuple[tuple[int, int], ...]:
    moved = ((max(start - first, 0), min(stop - first, MOST)) for start, stop in ranges)
    return tuple((start, stop) for start, stop in moved if start < stop)
