"""``loomlight job find``: jobs that hold some words."""

import argparse
import sys

from loomlight.signal.errors import FileProblem
from loomlight.storage.job_list import jobs_in
from loomlight.storage.places import jobs_folder
from loomlight.viewer.job_list import listed


def find_jobs(arguments: argparse.Namespace) -> int:
    """Print each job with its folder, the one changed last first; damaged ones on standard error."""
    place = arguments.place or jobs_folder()
    if arguments.place is not None and not place.is_dir():
        raise FileProblem("there is no such folder", file=place, do="Choose the folder that holds your jobs")
    jobs = jobs_in((place,))
    for damaged in (one for one in jobs if one.job is None):
        sys.stderr.write(f"loomlight: {damaged.problem}\n")
    found = listed(tuple(one for one in jobs if one.job is not None), " ".join(arguments.words))
    for path, words in found:
        head, _, facts = words.partition("\n")
        print(f"{head}\n    {facts}\n    {path}" if facts else f"{head}\n    {path}")
    return 0 if found else 1
