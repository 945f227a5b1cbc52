"""``loomlight job report``: the report of a job as PDF or HTML."""

import argparse
import importlib

from loomlight.storage.job_folder import JobFolder


def add_report_options(parser: argparse.ArgumentParser) -> None:
    """Options beside the folder."""
    parser.add_argument("--paper", choices=("a4", "letter"), help="size of the pages (as set in the window, else a4)")
    parser.add_argument("--format", choices=("pdf", "html"), default="pdf", help="kind of file (pdf)")


def report_job(arguments: argparse.Namespace, folder: JobFolder) -> None:
    """Make the report and print where it stands."""
    settings = importlib.import_module("loomlight.viewer.settings").Settings()
    report = importlib.import_module("loomlight.viewer.report")
    business = importlib.import_module("loomlight.viewer.business")
    snapshot = importlib.import_module("loomlight.viewer.snapshot")
    snapshot.ready_to_paint()
    path = report.save_report(
        folder,
        business.business_of(settings.details),
        paper=arguments.paper or settings.paper,
        form=arguments.format,
    )
    print(path)
