"""The command line: which command was asked for, and what its exit status is."""

import argparse
import importlib
import os
import re
import sys
from collections.abc import Container, Sequence
from pathlib import Path
from typing import Any, NoReturn

from loomlight.signal.errors import LoomlightError
from loomlight.viewer.log import logged

NOTHING_WRONG, SOMETHING_FOUND, COULD_NOT = 0, 1, 2
INTERRUPTED = 130
NEGATIVE = re.compile(r"-\.?\d.*")

COMMANDS = {
    "demo": "open the window with a fresh copy of the sample job",
    "inspect": "say what is in a file and how it was read",
    "convert": "write a capture as a Loomlight file, or as a plain CSV",
    "compare": "line a channel up against a known-good one, find what is wrong, judge it",
    "check": "judge a channel against its signal kind's limits, with no known-good",
    "prove": "hold the capture after a repair against the one before",
    "library": "keep and find known-good waveforms",
    "desktop": "put Loomlight into the applications' menu and under “Open with” for captures (Linux)",
    "job": "make a job folder, add captures, show, report and pack it",
}
EPILOG = """exit status: 0 nothing wrong (prove: only when proven), 1 something found or cannot tell, 2 could not be done

Shows what was measured; it does not say that a vehicle is safe. The vehicle maker's procedure, local codes and licensed
practice come first."""


class OneLineParser(argparse.ArgumentParser):
    """Says a usage error in one line that tells what to do; options are written in full, so that new ones break no script."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **{"allow_abbrev": False} | options)

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Values such as ``-5ms`` or ``-1e-3`` belong to the option before them; the library's own parser sees only ``-5``."""
        words: list[str] = []
        for word in sys.argv[1:] if args is None else args:
            if NEGATIVE.fullmatch(word) and words and words[-1].startswith("--") and "=" not in words[-1]:
                words[-1] = f"{words[-1]}={word}"
            else:
                words.append(word)
        return super().parse_known_args(words, namespace)

    def error(self, message: str) -> NoReturn:
        sys.stderr.write(f"{self.prog}: {message}. See: {self.prog} --help\n")
        raise SystemExit(COULD_NOT)


def build_parser(wanted: Container[str] = COMMANDS) -> OneLineParser:
    """The parser of all commands; the modules of those that are wanted are loaded, and add their options."""
    parser = OneLineParser(
        prog="loomlight",
        usage="loomlight [FILE ...]\n       loomlight COMMAND ...",
        description="Line a suspect wire up against a known-good one, see what is wrong, keep the proof. "
        "Files alone open the window.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = parser.add_subparsers(
        dest="command", metavar="COMMAND", title="commands", prog="loomlight", parser_class=OneLineParser
    )
    for name, does in COMMANDS.items():
        command = commands.add_parser(name, help=does, description=does[0].upper() + does[1:] + ".")
        if name in wanted:
            importlib.import_module(f"loomlight.viewer.commands.{name}").add_options(command)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command, or open the window.

    Returns
    -------
    int
        Exit status.
    """
    arguments = list(sys.argv[1:] if argv is None else argv)
    _write_any_sign()
    try:
        status = _run(arguments)
        sys.stdout.flush()  # here a reader that went away is still ours to handle; at the interpreter's end it is not
        return status
    except SystemExit as end:  # the parser's way out: help was shown, or the usage was wrong
        return int(end.code or NOTHING_WRONG)
    except LoomlightError as error:
        sys.stderr.write(f"loomlight: {' '.join(str(error).split())}\n")
        return COULD_NOT
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # The reader of our output went away (a pager was closed): nothing to say, and nobody to say it to.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return COULD_NOT
    except Exception as error:
        if "LOOMLIGHT_DEBUG" in os.environ:
            raise
        sys.stderr.write(f"loomlight: {logged(error)}\n")
        return COULD_NOT


def _write_any_sign() -> None:
    """A console that cannot show a sign gets a replacement, not an end."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _run(arguments: list[str]) -> int:
    first = arguments[0] if arguments else ""
    if first in COMMANDS or first.startswith("-"):
        parsed = build_parser({first}).parse_args(arguments)
        if parsed.command is not None:
            module = importlib.import_module(f"loomlight.viewer.commands.{parsed.command}")
            status: int = module.run(parsed)
            return status
    files = [Path(one) for one in arguments]
    for path in files:
        if not path.exists():
            known = ", ".join(COMMANDS)
            raise LoomlightError(f"{first if path == files[0] else path}: there is no such file or command ({known}).")
    application = importlib.import_module("loomlight.viewer.application")
    window_status: int = application.run_window(files)
    return window_status


if __name__ == "__main__":
    raise SystemExit(main())
