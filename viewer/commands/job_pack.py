"""``loomlight job pack``: one zip file to send."""

import argparse
import sys
from pathlib import Path

from loomlight.storage.job_folder import JobFolder
from loomlight.storage.job_pack import pack_job
from loomlight.storage.places import file_name, unused


def add_pack_options(parser: argparse.ArgumentParser) -> None:
    """Options beside the folder."""
    parser.add_argument("out", type=Path, nargs="?", metavar="OUT.zip", help="where to (beside the folder)")
    parser.add_argument(
        "--private", action="store_true", help="with customer, VIN, technician and costs, and the reports"
    )


def default_place(folder: JobFolder) -> Path:
    """Beside the job's folder, named after the job."""
    return unused(folder.path.resolve().parent / f"{file_name(folder.job.title, otherwise='job')}.zip")


def pack(arguments: argparse.Namespace, folder: JobFolder) -> None:
    """Pack the job and print where the zip file stands."""
    out = arguments.out if arguments.out is not None else default_place(folder)
    done = pack_job(folder, out, private=arguments.private)
    for note in done.notes:
        sys.stderr.write(f"loomlight: {note}\n")
    print(done.path)
