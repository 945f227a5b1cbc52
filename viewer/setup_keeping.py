"""Where set-ups of channels are kept: with the job's capture, else remembered by the file's content."""

from pathlib import Path

from loomlight.signal.channel_setup import ChannelSetup
from loomlight.storage.job_folder import JobFolder
from loomlight.storage.setup_memory import SetupMemory


def kept_setups(folder: JobFolder | None, path: Path) -> tuple[ChannelSetup, ...]:
    """The set-ups that are kept for a file. Reads from disk: for aside.

    Raises
    ------
    LoomlightError
        If the file cannot be read.
    """
    kept = folder.capture_of(path) if folder is not None else None
    return kept.setups if kept is not None else SetupMemory().of(path)


def bring_setups(folder: JobFolder, source: Path, copy: Path) -> None:
    """A file that was set up before it was copied into the job keeps that there. For aside.

    Raises
    ------
    LoomlightError
        If the job cannot be written.
    """
    kept, known = folder.capture_of(copy), SetupMemory().of(source)
    if kept is not None and known and not kept.setups:
        folder.set_setups(kept.file, known, kept.notes)
