"""What a LIN case shows beside the suspect's own measurements: figures over both channels and over all dropouts."""

from loomlight.signal.lin_case import Case
from loomlight.signal.lin_dropout_statistics import statistics_measures
from loomlight.signal.lin_edge_resistance import edge_resistance_measures
from loomlight.signal.lin_shifts import shift_measures
from loomlight.signal.measure import Measure


def case_measures(case: Case) -> tuple[Measure, ...]:
    """All of them; empty where the measurement itself is not sound.

    Parameters
    ----------
    case : Case
        With its findings.
    """
    if case.suspect.doubts:
        return ()
    dropouts = statistics_measures(case.statistics) if case.statistics is not None else ()
    return (*edge_resistance_measures(case), *shift_measures(case), *dropouts)
