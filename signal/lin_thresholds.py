"""The thresholds of LIN receivers, and how a line passes between them."""

import numpy as np
import numpy.typing as npt

from loomlight.signal.lin_examination import DOMINANT_SHARE, RECESSIVE_SHARE, LineReading, Supply
from loomlight.signal.measure import Measure, at_least, at_most

CENTRE_SHARES = (0.475, 0.525)
"""Where the middle of a receiver's two thresholds lies, shares of its supply (LIN 2.2, parameter 19)."""
HYSTERESIS_SHARE = 0.175
"""Greatest distance of a receiver's two thresholds (LIN 2.2, parameter 20)."""
GROUP = "receiver"
PARAMETERS = "LIN 2.2, parameters 17 and 18; ISO 17987-4"


def thresholds(
    line: LineReading, supply: Supply, passed_s: npt.NDArray[np.float64], rising: npt.NDArray[np.bool_], bit_s: float
) -> list[Measure]:
    """Where a receiver decides, how far the levels stand from it, and how long each edge takes between.

    Parameters
    ----------
    line : LineReading
        Of a line that talks.
    supply : Supply
        The node's.
    passed_s : ndarray, shape (edges, 2)
        When each edge crosses 40 % and 60 % of the supply, seconds; not-a-number where it does not.
    rising : ndarray of bool, shape (edges,)
        Direction of each.
    bit_s : float
        Bit time, seconds.
    """
    volts = supply.volts
    found = [
        Measure(
            GROUP, "dominant at or below", DOMINANT_SHARE * volts, "V", source="LIN 2.2, parameter 17; ISO 17987-4"
        ),
        Measure(
            GROUP, "recessive at or above", RECESSIVE_SHARE * volts, "V", source="LIN 2.2, parameter 18; ISO 17987-4"
        ),
        Measure(
            GROUP,
            "middle of its two thresholds",
            0.5 * volts,
            "V",
            f"{CENTRE_SHARES[0] * volts:.2f} to {CENTRE_SHARES[1] * volts:.2f} V",
            "LIN 2.2, parameter 19",
            note="of the part, not of the line: 0.475 to 0.525 × supply",
        ),
        Measure(
            GROUP,
            "distance of its two thresholds",
            HYSTERESIS_SHARE * volts,
            "V",
            "at most this: 0.175 × supply",
            "LIN 2.2, parameter 20",
            note="of the part, not of the line",
        ),
    ]
    dominant = np.array([one.dominant_v for one in line.parts])
    recessive = np.array([one.recessive_v for one in line.parts if one.recessive_v is not None])
    if dominant.size:
        worst = 100.0 * float(dominant.max()) / volts
        found.append(at_most(GROUP, "highest dominant level", worst, "% of supply", 40.0, "40 %", PARAMETERS))
    if recessive.size:
        worst = 100.0 * float(recessive.min()) / volts
        found.append(at_least(GROUP, "lowest recessive level", worst, "% of supply", 60.0, "60 %", PARAMETERS))
    return [*found, *_between(np.abs(passed_s[:, 1] - passed_s[:, 0]), rising, bit_s)]


def _between(took_s: npt.NDArray[np.float64], rising: npt.NDArray[np.bool_], bit_s: float) -> list[Measure]:
    """Time spent where a receiver may decide either way."""
    found = []
    for is_rising, name in ((False, "falling"), (True, "rising")):
        times = took_s[rising == is_rising]
        known = times[np.isfinite(times)]
        if not known.size:
            continue
        longest = float(known.max())
        note = (
            f"{known.size} edges, the longest {longest * 1e6:.2f} µs ({100 * longest / bit_s:.1f} % of a bit); "
            "from 40 % to 60 % of the supply"
        )
        if times.size > known.size:
            note += f"; {times.size - known.size} edges do not pass both"
        found.append(
            Measure(GROUP, f"{name} edge, time between the thresholds", float(np.median(known)), "s", note=note)
        )
    return found
