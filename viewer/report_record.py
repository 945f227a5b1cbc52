"""The technical record of a job's report: what another technician needs to check it."""

from loomlight.signal.errors import UnknownKind
from loomlight.signal.finding import Limit
from loomlight.signal.job import Job, JobVerdict
from loomlight.signal.kinds.listing import kind_named, listed_kind
from loomlight.signal.quantity import PREFIXED, in_words
from loomlight.viewer import report_words as words
from loomlight.viewer.job_words import job_standings, job_suspicion, reading_words
from loomlight.viewer.report_blocks import Block, Bullets, Facts, Heading, NewPage, Picture, Table, Text
from loomlight.viewer.report_content import Evidence, costs_blocks, moment
from loomlight.viewer.wording import (
    CHECK_COLUMNS,
    STATE_SIGNS,
    check_cells,
    proof_state_text,
    series_text,
    verdict_headline,
)

LEANING_SIGNS = {"raised": "▲", "lowered": "▼", "open": "○"}


def record_blocks(job: Job, evidence: Evidence, *, folder: str) -> tuple[Block, ...]:
    """Everything after page one.

    Parameters
    ----------
    job : Job
        What was noted and measured.
    evidence : Evidence
        Pictures and proof.
    folder : str
        Name of the job's folder.
    """
    return (
        NewPage(),
        Heading(words.RECORD, 1),
        *_notes(job, folder),
        *costs_blocks(job),
        *_codes(job),
        *_readings(job),
        *_wire(job, evidence),
        *_verdicts(job),
        *_proof(evidence),
        *_settings(job),
        *_limits(job),
        *_photos(evidence),
        *_snapshots(evidence),
        *_files(job),
        *_cautions(job),
    )


def _notes(job: Job, folder: str) -> list[Block]:
    rows = (
        (words.SYMPTOMS, job.symptoms),
        (words.TESTS_MADE, job.tests_made),
        (words.TIME_SPENT, job.time_spent),
        (words.MADE_ON, moment(job.created)),
        (words.CHANGED_ON, moment(job.changed)),
        (words.JOB_FOLDER, folder),
    )
    return [Heading(words.NOTES), Facts(tuple((name, value.strip()) for name, value in rows if value.strip()))]


def _codes(job: Job) -> list[Block]:
    if not job.fault_codes:
        return []
    rows = tuple(
        (
            one.code,
            one.text,
            ", ".join(filter(None, (words.STATUS[one.status], one.when))),
            "\n".join(f"{cause.text} ({words.PART_WORDS[cause.part]})" for cause in one.causes),
        )
        for one in job.fault_codes
    )
    found: list[Block] = [Heading(words.CODES), Table(words.CODE_HEAD, rows, (0.13, 0.34, 0.17, 0.36))]
    standings = [one for one in job_standings(job) if one.reasons]
    if standings:
        lines = tuple(
            (words.PART_WORDS[one.part], f"{LEANING_SIGNS[one.leaning]} {one.leaning}", "\n".join(one.reasons))
            for one in standings
        )
        found += [Heading(words.STANDINGS, 3), Table(words.STANDING_HEAD, lines, (0.18, 0.14, 0.68))]
    return found


def _readings(job: Job) -> list[Block]:
    if not job.readings:
        return []
    rows = tuple(
        (one.place, reading_words(one).removeprefix(f"{one.place}: ").removesuffix(f" ({one.note})"), one.note)
        for one in job.readings
    )
    return [Heading(words.READINGS), Table(words.READING_HEAD, rows, (0.5, 0.2, 0.3))]


def _wire(job: Job, evidence: Evidence) -> list[Block]:
    wire = job.wire
    if not wire.stops:
        return []
    found: list[Block] = [Heading(words.WIRE)]
    if evidence.wire:
        line = " – ".join(wire.place_name(place) for place in range(0, wire.places, 2))
        found.append(Picture(evidence.wire, line, line, most_height=0.36))
    suspicion = job_suspicion(job)
    if suspicion.contradicts:
        found.append(Text(words.CONTRADICTION))
    elif suspicion.places:
        places = "; ".join(wire.place_name(place) for place in suspicion.places)
        found.append(Text(words.SUSPICION.format(places=places)))
    if suspicion.reasons:
        found.append(Bullets(suspicion.reasons))
    if wire.found_at is not None and 0 <= wire.found_at < wire.places:
        found.append(Text(words.FOUND_HERE.format(place=wire.place_name(wire.found_at))))
    return found


def _verdicts(job: Job) -> list[Block]:
    found: list[Block] = [Heading(words.VERDICTS)] if job.verdicts else []
    for one in job.verdicts:
        verdict = one.verdict
        headline = f"{STATE_SIGNS[verdict.state]} {verdict_headline(verdict)}"
        found += [
            Heading(words.VERDICT_OF.format(channel=one.channel, file=one.file), 3),
            Text(". ".join(filter(None, (headline, series_text(verdict)))), bold=True),
            Bullets(verdict.reasons),
        ]
        rows = _finding_rows(one)
        if rows:
            found.append(Table(words.FINDING_HEAD, rows, (0.32, 0.17, 0.17, 0.17, 0.17)))
    return found


def _finding_rows(verdict: JobVerdict) -> tuple[tuple[str, ...], ...]:
    """One row for each kind of finding on the channel itself."""
    return tuple(
        (
            one.kind,
            str(one.count),
            str(one.severe),
            in_words(one.greatest, one.unit) if one.unit else "–",
            in_words(one.longest_s, "s"),
        )
        for one in verdict.all_findings()
    )


def _proof(evidence: Evidence) -> list[Block]:
    proof = evidence.proof
    if proof is None:
        return []
    about = words.PROOF_OF.format(channel=proof.channels[0], before=proof.files[0], after=proof.files[1])
    checks = tuple(check_cells(one) for one in proof.checks)
    conditions = tuple((one.name, one.before, one.after, words.SAME_WORDS[one.same]) for one in proof.conditions)
    found: list[Block] = [
        Heading(words.CHECKS),
        Text(f"{about}. {proof_state_text(proof.state)}", bold=True),
        Bullets(proof.reasons),
        Table(CHECK_COLUMNS, checks, (0.42, 0.13, 0.13, 0.13, 0.19)),
    ]
    if conditions:
        table = Table(words.CONDITION_HEAD, conditions, (0.34, 0.25, 0.25, 0.16))
        found += [Heading(words.CONDITIONS, 3), table]
    return found


def _settings(job: Job) -> list[Block]:
    if not job.verdicts:
        return []
    rows = tuple(
        (
            words.VERDICT_OF.format(channel=one.channel, file=one.file),
            _kind_title(one.kind),
            one.good or words.NO_GOOD,
            moment(one.made),
        )
        for one in job.verdicts
    )
    return [Heading(words.SETTINGS), Table(words.SETTING_HEAD, rows, (0.3, 0.16, 0.3, 0.24))]


def _kind_title(key: str) -> str:
    try:
        return listed_kind(key).title
    except UnknownKind:
        return key


def _kinds(verdicts: tuple[JobVerdict, ...]) -> list[str]:
    return list(dict.fromkeys(one.kind for one in verdicts))


def _limits(job: Job) -> list[Block]:
    found: list[Block] = []
    for key in _kinds(job.verdicts):
        try:
            kind = kind_named(key)
        except UnknownKind:
            continue  # of a version that knew more kinds; its verdict stands above as it was
        rows = tuple((one.name, _limit_value(one), one.source) for one in kind.limits)
        if rows:
            found += [Heading(f"{words.LIMITS}: {kind.title}"), Table(words.LIMIT_HEAD, rows, (0.4, 0.16, 0.44))]
    return found


def _limit_value(limit: Limit) -> str:
    plain = f"{limit.value:.10g} {limit.unit}".strip()
    return in_words(limit.value, limit.unit, digits=4) if limit.unit in PREFIXED else plain


def _photos(evidence: Evidence) -> list[Block]:
    found: list[Block] = [Heading(words.PHOTOS)] if evidence.photos else []
    for file, caption, content in evidence.photos:
        if content:
            found.append(Picture(content, caption or file, caption or file, most_height=0.42))
        else:
            found.append(Text(words.MISSING.format(name=file)))
    return found


def _snapshots(evidence: Evidence) -> list[Block]:
    found: list[Block] = [Heading(words.SNAPSHOTS)] if evidence.snapshots else []
    for name, content in evidence.snapshots:
        if content:
            found.append(Picture(content, name, name, most_height=0.62))
        else:
            found.append(Text(words.MISSING.format(name=name)))
    return found


def _files(job: Job) -> list[Block]:
    captures = [
        (one.file, ", ".join((one.stage, one.source_name, moment(one.added))), one.sha256) for one in job.captures
    ]
    photos = [(one.file, ", ".join(filter(None, ("photo", moment(one.added)))), one.sha256) for one in job.photos]
    if not captures and not photos:
        return []
    table = Table(words.FILE_HEAD, (*captures, *photos), (0.24, 0.32, 0.44))
    return [Heading(words.FILES), Text(words.FILES_SAY), table]


def _cautions(job: Job) -> list[Block]:
    lines: dict[str, None] = {}
    for key in _kinds(job.verdicts) or ["lin"]:
        try:
            lines |= dict.fromkeys(kind_named(key).cautions)
        except UnknownKind:
            continue
    return [Heading(words.CAUTIONS), Bullets(tuple(lines))] if lines else []
