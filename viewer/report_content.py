"""What stands in a job's report: page one for the customer, in plain words."""

from dataclasses import dataclass
from decimal import Decimal

from loomlight.signal.costs import Costs, costs_of
from loomlight.signal.job import Job, JobVerdict
from loomlight.signal.job_records import CostLine
from loomlight.signal.quantity import in_words
from loomlight.viewer import report_words as words
from loomlight.viewer.job_words import before_repair, costs_words, money
from loomlight.viewer.report_blocks import Block, Bullets, Facts, Heading, Picture, Table, Text
from loomlight.viewer.snapshot_data import SeenProof
from loomlight.viewer.wording import series_text, verdict_headline

MOST_REASONS = 3
PAGE_ONE_PICTURE = 0.32


@dataclass(frozen=True, eq=False)
class Evidence:
    """What a report is made from, beside the job's own record.

    Attributes
    ----------
    snapshots : tuple of (str, bytes)
        Name and bytes of each snapshot that is there, oldest first; no bytes where it is gone.
    photos : tuple of (str, str, bytes)
        File, caption and JPEG bytes; no bytes where it is gone.
    proof : SeenProof or None
        Of the newest before/after picture.
    picture : bytes
        The customer's picture as PNG, or empty.
    arrows : tuple of str
        What its arrows say.
    wire : bytes
        The drawn wire as PNG, or empty.
    """

    snapshots: tuple[tuple[str, bytes], ...] = ()
    photos: tuple[tuple[str, str, bytes], ...] = ()
    proof: SeenProof | None = None
    picture: bytes = b""
    arrows: tuple[str, ...] = ()
    wire: bytes = b""


def customer_blocks(job: Job, evidence: Evidence) -> tuple[Block, ...]:
    """Page one: what you told us, what we found, what we did, how we know, what it cost."""
    found: list[Block] = [Heading(f"{words.REPORT}: {job.title}", 1), *_facts(job)]
    if job.complaint.strip():
        found += [Heading(words.TOLD_US), Text(job.complaint.strip())]
    found += [Heading(words.FOUND), *_found(job)]
    found += [Heading(words.DID), *_done(job)]
    found += [Heading(words.HOW_WE_KNOW), *_known(job, evidence)]
    if job.costs:
        costs = costs_of(job.costs, job.tax_percent)
        found += [Heading(words.COST), Text(first_large(costs_words(costs, job.currency)), bold=True)]
    return tuple(found)


def _facts(job: Job) -> list[Block]:
    rows = (
        (words.CUSTOMER, job.customer),
        (words.VEHICLE, job.vehicle),
        (words.VIN, job.vin),
        (words.ODOMETER, job.odometer),
        (words.DATE, day(job.created)),
        (words.TECHNICIAN, job.technician),
    )
    return [Facts(tuple((name, value.strip()) for name, value in rows if value.strip()))]


def _found(job: Job) -> list[Block]:
    found: list[Block] = []
    if job.cause.strip():
        found.append(Text(job.cause.strip()))
    if job.place.strip():
        found.append(Text(words.FOUND_AT.format(place=job.place.strip())))
    telling = telling_verdict(job)
    if telling is not None:
        found.append(Text(words.plain_verdict(telling.verdict, telling.channel)))
    return found or [Text(words.NOTHING_FOUND_YET)]


def first_large(text: str) -> str:
    """A sentence begins with a capital."""
    return text[:1].upper() + text[1:]


def day(stamp: str) -> str:
    """The day of an ISO 8601 time."""
    return stamp.partition("T")[0]


def moment(stamp: str) -> str:
    """Day and minute of an ISO 8601 time, as its own clock showed them."""
    return stamp[:16].replace("T", " ")


def telling_verdict(job: Job) -> JobVerdict | None:
    """The verdict from before the repair that says most: the last faulty one, else the last of all."""
    verdicts = before_repair(job)
    faulty = [one for one in verdicts if one.verdict.state == "faulty"]
    return (faulty or list(verdicts) or [None])[-1]


def _done(job: Job) -> list[Block]:
    found: list[Block] = [Text(job.repair.strip())] if job.repair.strip() else [Text(words.NOTHING_DONE_YET)]
    if job.after_check.strip():
        found.append(Text(words.CHECKED_AFTER.format(text=job.after_check.strip())))
    return found


def _known(job: Job, evidence: Evidence) -> list[Block]:
    proof = evidence.proof
    found: list[Block] = []
    if proof is None or job.state == "open":
        found.append(Text(words.OPEN))
        telling = telling_verdict(job)
        if telling is not None:
            headline = ". ".join(filter(None, (verdict_headline(telling.verdict), series_text(telling.verdict))))
            found += [Text(f"{words.MEASURED}: {headline}."), Bullets(telling.verdict.reasons[:MOST_REASONS])]
    else:
        found.append(Text(_state_words(proof)))
    if evidence.picture:
        found.append(Picture(evidence.picture, words.PICTURE, words.PICTURE, most_height=PAGE_ONE_PICTURE))
        found.append(Bullets(evidence.arrows, signs=False))
    return found


def _state_words(proof: SeenProof) -> str:
    if proof.state == "not proven":
        return words.NOT_PROVEN
    if proof.state != "proven":
        return words.CANNOT_TELL.format(reason=proof.reasons[0] if proof.reasons else "")
    lengths = [in_words(one, "s") for one in proof.lengths_s]
    counted = words.COUNTED.format(
        before=proof.counts[0], before_length=lengths[0], after=proof.counts[1] or words.NONE, after_length=lengths[1]
    )
    return " ".join([words.PROVEN, *([counted, words.AS_FREQUENT] if proof.waits else [])])


def costs_blocks(job: Job) -> list[Block]:
    """Parts and labour, line by line, with their sums; nothing where none were noted."""
    if not job.costs:
        return []
    heading = Heading(words.PARTS_AND_LABOUR)
    costs = costs_of(job.costs, job.tax_percent)
    rows = [_cost_row(line, amount, job.currency) for line, amount in zip(job.costs, costs.lines, strict=True)]
    sums = _sums(job, costs)
    table = Table(
        words.COST_HEAD,
        (*rows, *((name, "", "", amount) for name, amount in sums)),
        (0.5, 0.14, 0.18, 0.18),
        strong=(len(rows) + len(sums) - 1,),
    )
    if not costs.open_lines:
        return [heading, table]
    return [heading, table, Text(words.OPEN_COSTS.format(count=costs.open_lines))]


def _cost_row(line: CostLine, amount: Decimal | None, currency: str) -> tuple[str, ...]:
    return line.text, line.quantity, line.price, money(amount, currency) if amount is not None else "?"


def _sums(job: Job, costs: Costs) -> list[tuple[str, str]]:
    rows = [(words.PARTS, costs.parts), (words.LABOUR, costs.labour)]
    if costs.tax:
        rows.append((words.TAX.format(percent=job.tax_percent.strip()), costs.tax))
    return [(name, money(amount, job.currency)) for name, amount in (*rows, (words.TOTAL, costs.total))]
