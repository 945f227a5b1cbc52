"""Earlier jobs that are like this one: the same vehicle, the same fault, the same place."""

import unicodedata
from dataclasses import dataclass

from loomlight.signal.job import Job
from loomlight.signal.vin import LENGTH, plain_vin


@dataclass(frozen=True)
class Likeness:
    """In what two jobs are alike.

    Attributes
    ----------
    vehicle, fault, place, code : bool
        The same vehicle (VIN, else its text), fault class, place along the loom, trouble code.
    """

    vehicle: bool = False
    fault: bool = False
    place: bool = False
    code: bool = False

    @property
    def weight(self) -> int:
        """How much the likeness helps: a place found before says most."""
        return 4 * self.place + 3 * self.vehicle + 2 * self.code + self.fault

    def in_words(self) -> str:
        """For a list: "same vehicle, same place"."""
        names = [name for name in ("vehicle", "code", "place", "fault") if getattr(self, name)]
        return ", ".join(f"same {name}" for name in names)


def likeness(job: Job, other: Job) -> Likeness:
    """In what an earlier job is like this one.

    A fault class alone is no likeness worth showing: half of all wires are resistive.
    """
    found = Likeness(
        vehicle=_is_same_vehicle(job, other),
        fault=bool(fault_classes(job) & fault_classes(other)),
        place=_is_same_text(job.place, other.place),
        code=bool(_codes(job) & _codes(other)),
    )
    return found if found.weight > 1 else Likeness()


def fault_classes(job: Job) -> frozenset[str]:
    """Fault classes of a job's verdicts on captures from before the repair."""
    after = {one.file for one in job.captures if one.stage == "after repair"}
    return frozenset(
        one.verdict.fault for one in job.verdicts if one.verdict.state == "faulty" and one.file not in after
    ) - {"unknown"}


def holds_words(job: Job, words: str) -> bool:
    """Whether every word stands somewhere in what was noted; capitals and accents do not count."""
    text = plain_text(" ".join(_texts(job)))
    return all(word in text for word in plain_text(words).split())


def plain_text(text: str) -> str:
    """Small letters without accents, for comparing."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(sign for sign in apart if not unicodedata.combining(sign)).split())


def _texts(job: Job) -> list[str]:
    free = (
        job.title,
        job.customer,
        job.vehicle,
        job.vin,
        plain_vin(job.vin),
        job.odometer,
        job.complaint,
        job.symptoms,
        job.tests_made,
        job.cause,
        job.place,
        job.repair,
        job.after_check,
        job.technician,
        job.created[:10],
        job.state,
    )
    codes = [f"{one.code} {one.text}" for one in job.fault_codes]
    stops = [f"{one.name} {one.pin}" for one in job.wire.stops]
    captures = [one.source_name for one in job.captures]
    verdicts = [f"{one.channel} {one.kind} {one.verdict.fault} {one.verdict.state}" for one in job.verdicts]
    return [*free, *codes, *stops, *captures, *verdicts]


def _is_same_vehicle(job: Job, other: Job) -> bool:
    numbers = plain_vin(job.vin), plain_vin(other.vin)
    if all(len(number) == LENGTH for number in numbers):
        return numbers[0] == numbers[1]
    return _is_same_text(job.vehicle, other.vehicle)


def _is_same_text(one: str, other: str) -> bool:
    return bool(plain_text(one)) and plain_text(one) == plain_text(other)


def _codes(job: Job) -> set[str]:
    return {one.code.upper() for one in job.fault_codes if one.code.strip()}
