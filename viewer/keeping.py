"""What is known about a waveform before anybody is asked: from the job, and from what was kept last."""

from collections.abc import Mapping

from loomlight.signal.entry import Entry
from loomlight.signal.job import Job
from loomlight.viewer.entry_words import typed_value, value_text

REMEMBERED = (
    *("vehicle", "make", "model", "year", "engine", "vin", "owner"),
    *("system", "instrument", "instrument_serial", "probe_factor", "judged_by"),
)
"""What is mostly the same the next time."""
OF_VEHICLE = ("vehicle", "make", "model", "year", "engine", "vin", "owner", "system")


def known_before(kind: str, job: Job | None, last: Mapping[str, str]) -> Entry:
    """What need not be asked.

    Parameters
    ----------
    kind : str
        Of the signal.
    job : Job or None
        Where it names a vehicle, that is the one, and what was said of another is left out.
    last : mapping
        As `to_remember` gave it.
    """
    texts = {name: last.get(name, "") for name in REMEMBERED}
    if job is not None and job.vehicle.strip():
        entry = Entry(
            id="", title="", kind=kind, channel="", **{name: typed_value(name, texts[name]) for name in texts}
        )  # type: ignore[arg-type]
        same = entry.vehicle_text == job.vehicle.strip()
        if not same:
            texts |= dict.fromkeys(OF_VEHICLE, "")
            texts["vehicle"] = job.vehicle.strip()
        texts["vin"] = job.vin or texts["vin"]
    return Entry(id="", title="", kind=kind, channel="", **{name: typed_value(name, texts[name]) for name in texts})  # type: ignore[arg-type]


def to_remember(entry: Entry) -> dict[str, str]:
    """What `known_before` takes the next time."""
    return {name: value_text(name, getattr(entry, name)) for name in REMEMBERED if getattr(entry, name)}
