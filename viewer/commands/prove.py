"""``loomlight prove``: the capture after the repair against the one before."""

import argparse
import importlib
from pathlib import Path

from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.prove import prove
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.open_capture import open_capture
from loomlight.viewer.answers import as_json, proof_answer
from loomlight.viewer.commands.sources import (
    KnownGood,
    add_channel_option,
    add_judging_options,
    add_library_option,
    conditions_of,
    is_same_file,
    kind_of,
    known_good,
    library_of,
)
from loomlight.viewer.commands.text_output import proof_text
from loomlight.viewer.job_keeping import keep_proof


def add_options(parser: argparse.ArgumentParser) -> None:
    """Options of ``prove``."""
    parser.add_argument("before", type=Path, metavar="BEFORE")
    parser.add_argument("after", type=Path, metavar="AFTER")
    add_channel_option(parser)
    parser.add_argument("--after-channel", metavar="NAME", help="its name in AFTER, where it differs")
    parser.add_argument(
        "--good", metavar="FILE-or-ENTRY", help="the known-good for both: a file, an entry's id or title"
    )
    parser.add_argument(
        "--good-channel", metavar="NAME", help="its channel; without --good, the known-good channel of each file itself"
    )
    add_judging_options(parser)
    add_library_option(parser)
    parser.add_argument("--job", type=Path, metavar="FOLDER", help="keep captures, verdicts and proof in this job")
    parser.add_argument("--picture", type=Path, metavar="OUT.png", help="save the before/after picture as well")


def run(arguments: argparse.Namespace) -> int:
    """Print the proof; 0 only when proven."""
    job = JobFolder.open(arguments.job) if arguments.job is not None else None
    good = known_good(arguments.good, arguments.good_channel, library_of(arguments)) if arguments.good else None
    kind = kind_of(arguments, good)
    before = _judged(arguments, arguments.before, arguments.channel, kind, good)
    after = _judged(arguments, arguments.after, arguments.after_channel or arguments.channel, kind, good)
    proof = prove(before, after)
    if arguments.picture is not None:
        snapshot = importlib.import_module("loomlight.viewer.snapshot")
        snapshot.save_proof(arguments.picture, proof, before=arguments.before.name, after=arguments.after.name)
    if job is not None:
        snapshot = importlib.import_module("loomlight.viewer.snapshot")
        title = good.title if good is not None else (before.good.name if before.good is not None else "")
        png = snapshot.proof_png(proof, before=arguments.before.name, after=arguments.after.name, job=job.job)
        keep_proof(job, proof, before=arguments.before, after=arguments.after, good=title, png=png)
    answer = proof_answer(proof, str(arguments.before), str(arguments.after))
    print(as_json(answer) if arguments.json else proof_text(proof))
    return 0 if proof.state == "proven" else 1


def _judged(arguments: argparse.Namespace, path: Path, channel: str, kind: str, good: KnownGood | None) -> Comparison:
    capture = open_capture(path)
    suspect = capture.channel(channel)
    if good is not None:
        conditions = conditions_of(arguments, capture, same_moment=is_same_file(path, good.path))
        return compare(suspect, good.channel, kind=kind, conditions=conditions)
    if arguments.good_channel is not None:
        conditions = conditions_of(arguments, capture, same_moment=True)
        return compare(suspect, capture.channel(arguments.good_channel), kind=kind, conditions=conditions)
    return check(suspect, kind=kind, conditions=conditions_of(arguments, capture, same_moment=False))
