"""What support needs to know of an error, without what is the person's own: paths, names of files, the name of the account."""

import getpass
import platform
import re
import traceback
from pathlib import Path

from loomlight.signal.errors import FileProblem, LoomlightError

OURS = re.compile(r"^.*?((?:loomlight|site-packages|lib/python[\d.]+|Lib)[/\\].+)$")
IN_TRACE = re.compile(r'(File ")([^"]+)(")')
PATHS = re.compile(r"(?<![\w.])(?:[A-Za-z]:[\\/]|/|~/|\\\\)[^\s'\"<>|:*?]+(?: [^\s'\"<>|:*?/\\]+)*")
QUOTED = re.compile(r"(['\"])([^'\"\n]*[/\\.][^'\"\n]*)\1")
FILES = re.compile(
    r"(?<![^\s'\"/\\])[^\s'\"/\\]{1,200}(\.(?:csv|txt|tsv|dat|h5|hdf5|npy|npz|png|jpe?g|pdf|html|json|zip|ini))\b",
    re.IGNORECASE,
)
LONGEST_ACCOUNT = 3
"""An account of fewer letters is left: it would be found inside of other words."""


def shortened(text: str) -> str:
    """The same text with paths and names of files cut down to their endings; our own modules stay."""
    kept: list[str] = []

    def keep(module: str) -> str:
        kept.append(module)
        return f"\0{len(kept) - 1}\0"

    def in_trace(found: re.Match[str]) -> str:
        ours = OURS.match(found[2])
        return found[1] + keep(ours[1] if ours is not None else "…") + found[3]

    text = IN_TRACE.sub(in_trace, text)
    text = QUOTED.sub(lambda found: f"{found[1]}{_ending(found[2])}{found[1]}", text)
    text = PATHS.sub(lambda found: _ending(found[0]), text)
    text = FILES.sub(lambda found: f"…{found[1]}", text)
    for name in {getpass.getuser(), Path.home().name}:
        if len(name) >= LONGEST_ACCOUNT:
            text = re.sub(rf"\b{re.escape(name)}\b", "…", text)
    return re.sub("\0(\\d+)\0", lambda found: kept[int(found[1])], text)


def _ending(path: str) -> str:
    suffix = re.search(r"\.\w{1,5}$", path)
    return f"…{suffix[0]}" if suffix is not None else "…"


def details_of(error: BaseException) -> str:
    """An error with the versions of what it happened in, as text for a mail."""
    from loomlight.viewer.versions import version_of

    parts = [
        f"Loomlight {version_of('loomlight')}, Python {platform.python_version()}, "
        f"Qt binding {version_of('pyside6-essentials')}, NumPy {version_of('numpy')}, {platform.system()} {platform.release()}",
        f"{type(error).__name__}: {_told(error)}",
    ]
    if not isinstance(error, LoomlightError):
        parts.append(shortened("".join(traceback.format_exception(error))))
    return "\n".join(parts)


def _told(error: BaseException) -> str:
    """Of a file only its ending: its name is known here, whatever signs it has."""
    if isinstance(error, FileProblem):
        where = f", {error.where}" if error.where else ""
        return shortened(f"…{error.file.suffix}{where}: {error.what}. {error.do}.".replace(error.file.name, "…"))
    return shortened(str(error))
