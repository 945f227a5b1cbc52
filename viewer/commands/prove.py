"""``loomlight prove``: the capture after the repair against the one before."""

import argparse
import importlib
from pathlib import Path

from loomlight.signal.capture import Capture
from loomlight.signal.comparison import Comparison, check, compare
from loomlight.signal.entry_envelope import envelope_for
from loomlight.signal.proof import Circumstances, Proof
from loomlight.signal.prove import prove
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.reading_memory import open_remembered
from loomlight.viewer.answers import proof_answer
from loomlight.viewer.commands.job import opened_job
from loomlight.viewer.commands.kinds import kind_of
from loomlight.viewer.commands.reading_options import add_reading_options, said_for_other
from loomlight.viewer.commands.sources import (
    KnownGood,
    add_channel_option,
    add_judging_options,
    add_library_option,
    add_picture_option,
    check_picture_place,
    conditions_of,
    good_besides_of,
    is_same_file,
    known_good,
    library_of,
    refuse_itself,
)
from loomlight.viewer.commands.text_output import print_answer, proof_text
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
    parser.add_argument(
        "--provoked",
        action="store_true",
        help="what brought the fault on (moving the loom, load, heat) was repeated while recording AFTER",
    )
    parser.add_argument(
        "--picked", action="store_true", help="BEFORE was kept because it showed the fault, so it tells no frequency"
    )
    add_judging_options(parser)
    add_library_option(parser)
    parser.add_argument("--job", type=Path, metavar="FOLDER", help="keep captures, verdicts and proof in this job")
    add_picture_option(parser, "the before/after picture")
    add_reading_options(parser, also="AFTER and a known-good file, where they are laid out the same")


def run(arguments: argparse.Namespace) -> int:
    """Print the proof; 0 only when proven."""
    check_picture_place(arguments.picture)
    job = opened_job(arguments.job) if arguments.job is not None else None
    good = _known_good(arguments) if arguments.good else None
    first = _opened(arguments, arguments.before)
    taken = kind_of(
        arguments, good.channel if good else first.channel(arguments.good_channel or arguments.channel), good
    )
    before = _judged(arguments, arguments.before, first, arguments.channel, taken.key, good)
    second, name = _opened(arguments, arguments.after), arguments.after_channel or arguments.channel
    after = _judged(arguments, arguments.after, second, name, taken.key, good)
    proof = prove(before, after, circumstances=Circumstances(arguments.picked, arguments.provoked))
    if job is not None or arguments.picture is not None:
        _keep(arguments, proof, good, job)
    if arguments.json:
        print_answer(proof_answer(proof, str(arguments.before), str(arguments.after)))
    else:
        print("\n".join(part for part in (proof_text(proof), taken.told) if part))
    return 0 if proof.state == "proven" else 1


def _known_good(arguments: argparse.Namespace) -> KnownGood:
    reading = said_for_other(arguments.before, Path(arguments.good), arguments)
    return known_good(arguments.good, arguments.good_channel, library_of(arguments), reading=reading)


def _keep(arguments: argparse.Namespace, proof: Proof, good: KnownGood | None, job: JobFolder | None) -> None:
    """Into the job first: it is what must not be lost."""
    snapshot = importlib.import_module("loomlight.viewer.snapshot")
    picture = snapshot.proof_of_files(
        proof,
        before=arguments.before,
        after=arguments.after,
        good=good.heading if good is not None else "",
        good_file=good.path if good is not None else None,
        job=job.job if job is not None else None,
    )
    if job is not None:
        channel = proof.before.good.name if proof.before.good is not None else ""
        title = good.title if good is not None else channel
        png = snapshot.as_png(picture, snapshot.PRINT)
        keep_proof(job, proof, before=arguments.before, after=arguments.after, good=title, png=png)
    if arguments.picture is not None:
        snapshot.save_picture(arguments.picture, picture, snapshot.size_of(arguments.picture_size))


def _opened(arguments: argparse.Namespace, path: Path) -> Capture:
    return open_remembered(path, reading=said_for_other(arguments.before, path, arguments))


def _judged(
    arguments: argparse.Namespace, path: Path, capture: Capture, name: str, kind: str, good: KnownGood | None
) -> Comparison:
    suspect = capture.channel(name)
    if good is None and arguments.good_channel is None:
        return check(suspect, kind=kind, conditions=conditions_of(arguments, capture, kind=kind, same_moment=False))
    channel = good.channel if good is not None else capture.channel(arguments.good_channel)
    same_file = good is None or is_same_file(path, good.path)
    refuse_itself(suspect, channel, same_file=same_file)
    conditions = conditions_of(arguments, capture, kind=kind, same_moment=same_file)
    besides = good_besides_of(arguments, good, kind) if good is not None else ()
    further = good.further if good is not None else ()
    envelope = envelope_for((channel, *further), kind, conditions).envelope
    return compare(suspect, channel, kind=kind, conditions=conditions, good_besides=besides, envelope=envelope)
