"""A job's notes as words: the same in the commands, on the page and in the report."""

from decimal import Decimal

from loomlight.signal.costs import Costs, costs_of
from loomlight.signal.job import Job, JobVerdict
from loomlight.signal.job_records import FaultCode, MeterReading
from loomlight.signal.listed_causes import Standing, standings
from loomlight.signal.quantity import in_words
from loomlight.signal.wire_sketch import Sight, Suspicion, sight_of_reading, sight_of_verdict, suspicion

LEANING_WORDS = {"raised": "▲ raised", "lowered": "▼ lowered", "open": "○ open"}


def job_facts(job: Job) -> list[tuple[str, str]]:
    """Name and text of everything that was noted, in the order of the work; what is empty is left out."""
    costs = costs_of(job.costs, job.tax_percent)
    found = [
        ("customer", job.customer),
        ("vehicle", job.vehicle),
        ("VIN", job.vin),
        ("odometer", job.odometer),
        ("complaint", job.complaint),
        ("symptoms", job.symptoms),
        ("fault codes", "\n".join(map(code_words, job.fault_codes))),
        ("tests made", job.tests_made),
        ("meter readings", "\n".join(map(reading_words, job.readings))),
        ("cause", job.cause),
        ("place", job.place),
        ("repair", job.repair),
        ("after-check", job.after_check),
        ("photos", "\n".join(f"{one.file}  {one.caption}".strip() for one in job.photos)),
        ("costs", costs_words(costs, job.currency) if job.costs else ""),
        ("technician", job.technician),
        ("time spent", job.time_spent),
    ]
    return [(name, text) for name, text in found if text.strip()]


def code_words(code: FaultCode) -> str:
    """One fault code in a line, with what it lists as possible."""
    head = " ".join(filter(None, (code.code, code.text)))
    beside = ", ".join(filter(None, (code.status, code.when)))
    causes = "; ".join(one.text for one in code.causes)
    return head + (f" ({beside})" if beside else "") + (f": {causes}" if causes else "")


def reading_words(reading: MeterReading) -> str:
    """One meter reading in a line."""
    quantity = reading.quantity
    figure = in_words(*quantity) if quantity is not None else f"{reading.figure} {reading.unit}".strip()
    return f"{reading.place}: {figure}" + (f" ({reading.note})" if reading.note else "")


def money(value: Decimal, currency: str) -> str:
    """An amount with two decimals and its currency."""
    return f"{value:.2f} {currency}".strip()


def costs_words(costs: Costs, currency: str) -> str:
    """The sums in a line."""
    text = f"parts {money(costs.parts, currency)}, labour {money(costs.labour, currency)}"
    if costs.tax:
        text += f", tax {money(costs.tax, currency)}"
    text += f"; total {money(costs.total, currency)}"
    if costs.open_lines:
        lines = "line lacks" if costs.open_lines == 1 else "lines lack"
        text += f" ({costs.open_lines} {lines} a number and is not in it)"
    return text


def before_repair(job: Job) -> tuple[JobVerdict, ...]:
    """Verdicts on captures from before the repair: only they speak of the fault."""
    after = {one.file for one in job.captures if one.stage == "after repair"}
    return tuple(one for one in job.verdicts if one.file not in after)


def job_standings(job: Job) -> tuple[Standing, ...]:
    """How wire, component and control unit stand after the job's verdicts."""
    return standings(tuple((f"{one.channel} in {one.file}", one.verdict) for one in before_repair(job)))


def job_suspicion(job: Job) -> Suspicion:
    """The stretch of the drawn wire that the job's verdicts and meter readings leave under suspicion."""
    sights: list[Sight | None] = [
        sight_of_verdict(job.wire, one.verdict, job.wire.stop_of(one.file, one.channel), _good_stop(job, one))
        for one in before_repair(job)
    ]
    sights += [sight_of_reading(job.wire, one) for one in job.readings]
    return suspicion(job.wire, tuple(one for one in sights if one is not None))


def _good_stop(job: Job, verdict: JobVerdict) -> int | None:
    """Where the known-good of a verdict was probed, if that is one of the job's own captures.

    A verdict names its known-good by channel and file, or by the file alone where a command made it.
    """
    own = (verdict.file, verdict.channel)
    others = [one for one in job.wire.probes if (one.file, one.channel) != own and one.file in verdict.good]
    named = [one for one in others if one.channel in verdict.good]
    found = named or (others if len(others) == 1 else [])
    return job.wire.stop_of(found[0].file, found[0].channel) if found else None
