"""The local log: what went wrong in the program itself. It rotates, and holds no personal data."""

import logging
from logging.handlers import RotatingFileHandler
from pathlib import Path

from loomlight.storage.places import log_folder
from loomlight.viewer.support import shortened

LOG = logging.getLogger("loomlight")
HANDLER_NAME = "loomlight file"
LARGEST_BYTES = 500_000


class OwnKeptOut(logging.Formatter):
    """Writes no path, no name of a file and no account."""

    def format(self, record: logging.LogRecord) -> str:
        return shortened(super().format(record))


def log_file() -> Path:
    """Where the log stands."""
    return log_folder() / "loomlight.log"


def start_log() -> None:
    """Begin to write the log; where its folder cannot be written, do without."""
    if any(handler.get_name() == HANDLER_NAME for handler in LOG.handlers):
        return
    try:
        log_folder().mkdir(parents=True, exist_ok=True)
        handler: logging.Handler = RotatingFileHandler(
            log_file(), maxBytes=LARGEST_BYTES, backupCount=2, encoding="utf-8", delay=True
        )
    except OSError:
        handler = logging.NullHandler()
    handler.set_name(HANDLER_NAME)
    handler.setFormatter(OwnKeptOut("%(asctime)s %(levelname)s %(message)s"))
    LOG.addHandler(handler)
    LOG.setLevel(logging.INFO)
    LOG.propagate = False


def logged(error: BaseException) -> str:
    """Write our own bug into the log in full, and give one plain line for the user."""
    start_log()
    LOG.error("unexpected", exc_info=error)
    return f"Something went wrong in Loomlight itself ({type(error).__name__}). The details are in {log_file()}."
