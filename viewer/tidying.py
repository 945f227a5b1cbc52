"""When Python looks through everything for what nothing needs any more: between two jobs, not in the middle of the work.

A comparison of a long capture makes hundreds of thousands of small objects that all stay. Each time that Python looks
through them, every thread waits: up to half a second, where the window may stand still for 0.05 s.
"""

import gc

NEVER = 10**9
"""So many rounds over what is young before there is one over everything."""


def look_through_the_young_alone() -> None:
    """From now on only what was just made is looked through by itself; `tidy` looks through the rest."""
    young, middle, _old = gc.get_threshold()
    gc.set_threshold(young, middle, NEVER)


def tidy() -> None:
    """Look through everything: right after a job was put away there is least of it."""
    if gc.get_threshold()[2] == NEVER:
        gc.collect()
