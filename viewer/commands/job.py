"""``loomlight job``: make a job folder, add captures and photos, find and show it, report and pack it."""

import argparse
import sys
from dataclasses import replace
from pathlib import Path

from loomlight.signal.job import Job
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.job_photos import add_photo
from loomlight.storage.photo import is_photo
from loomlight.storage.reading_memory import open_remembered
from loomlight.viewer.answers import job_answer
from loomlight.viewer.capture_keeping import bring_along, known_about
from loomlight.viewer.commands.job_find import find_jobs
from loomlight.viewer.commands.job_pack import add_pack_options, pack
from loomlight.viewer.commands.job_report import add_report_options, report_job
from loomlight.viewer.commands.reading_options import add_reading_options, reading_of
from loomlight.viewer.commands.text_output import print_answer
from loomlight.viewer.job_words import job_facts
from loomlight.viewer.wording import STATE_SIGNS, verdict_headline


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of ``job`` and its actions."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    new = actions.add_parser("new", help="make a job folder")
    new.add_argument("folder", type=Path, metavar="FOLDER")
    new.add_argument("--title", required=True, metavar="TEXT")
    new.add_argument("--vehicle", default="", metavar="TEXT")
    new.add_argument("--complaint", default="", metavar="TEXT")
    add = actions.add_parser("add", help="copy a capture, or a photo, into the job")
    add.add_argument("folder", type=Path, metavar="FOLDER")
    add.add_argument("file", type=Path, metavar="FILE")
    add_reading_options(add)
    find = actions.add_parser("find", help="find jobs by any word in them")
    find.add_argument("words", nargs="*", metavar="WORD")
    find.add_argument("--in", dest="place", type=Path, metavar="FOLDER", help="another folder that holds jobs")
    show = actions.add_parser("show", help="what the job holds")
    show.add_argument("folder", type=Path, metavar="FOLDER")
    show.add_argument("--json", action="store_true", help="answer as JSON")
    report = actions.add_parser("report", help="write the report into the job's folder")
    report.add_argument("folder", type=Path, metavar="FOLDER")
    add_report_options(report)
    packing = actions.add_parser("pack", help="make one zip file to send")
    packing.add_argument("folder", type=Path, metavar="FOLDER")
    add_pack_options(packing)


def run(arguments: argparse.Namespace) -> int:
    """Run one action."""
    if arguments.action == "new":
        folder = JobFolder.create(
            arguments.folder, title=arguments.title, vehicle=arguments.vehicle, complaint=arguments.complaint
        )
        print(folder.path)
    elif arguments.action == "add":
        folder = opened_job(arguments.folder)
        print(_added(folder, arguments))
    elif arguments.action == "find":
        return find_jobs(arguments)
    elif arguments.action == "report":
        report_job(arguments, opened_job(arguments.folder))
    elif arguments.action == "pack":
        pack(arguments, opened_job(arguments.folder))
    else:
        job = opened_job(arguments.folder).job
        if arguments.json:
            print_answer(job_answer(job))
        else:
            print(_text(job))
    return 0


def _added(folder: JobFolder, arguments: argparse.Namespace) -> Path:
    """Where a file's copy stands: a photo among the photos, everything else as a capture."""
    file: Path = arguments.file
    if is_photo(file):
        return folder.path / "photos" / add_photo(folder, file).file
    said = reading_of(arguments, file)
    open_remembered(file, reading=said)  # a file that cannot be read is refused before it is copied
    copy = folder.capture_path(folder.add_capture(file))
    known = known_about(None, file)
    bring_along(folder, copy, known if said.is_empty else replace(known, reading=said))
    return copy


def opened_job(path: Path) -> JobFolder:
    """A job; where it had to be opened from its older copy, one line says so."""
    folder = JobFolder.open(path)
    if folder.problem:
        sys.stderr.write(f"loomlight: {folder.problem}\n")
    return folder


def _text(job: Job) -> str:
    lines = [f"{job.title}  [{STATE_SIGNS[job.state]} {job.state}]"]
    for name, value in job_facts(job):
        first, *more = value.splitlines()
        lines += [f"  {name:14} {first}", *(f"  {'':14} {line}" for line in more)]
    lines += [f"  capture        {one.file} ({one.stage})" for one in job.captures]
    lines += [f"  verdict        {one.file}, {one.channel}: {verdict_headline(one.verdict)}" for one in job.verdicts]
    lines += [f"  snapshot       {name}" for name in job.snapshots]
    return "\n".join(lines)
