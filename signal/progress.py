"""How long work says how far it is, and how it is given up."""

from collections.abc import Callable

Progress = Callable[[float], None]
"""Called with the share done, 0 to 1; raises `Cancelled` where the work is no longer wanted."""


class Cancelled(Exception):
    """The work was given up on request; nothing was changed."""


def unwatched(share: float) -> None:
    """Progress of work that nobody watches."""


def part(progress: Progress, start: float, stop: float) -> Progress:
    """Map a sub-task's 0 to 1 onto ``start`` to ``stop`` of the whole.

    Parameters
    ----------
    progress : Progress
        The whole task's progress.
    start, stop : float
        The share of the whole at the sub-task's begin and end.
    """

    def of_whole(share: float) -> None:
        progress(start + share * (stop - start))

    return of_whole
