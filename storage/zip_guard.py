"""Take the entries out of a zip file that may come from anybody: nothing lands outside, nothing blows up."""

import shutil
import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress, unwatched
from loomlight.storage.library_bin import BIN_NAME, OLD_BIN_NAME
from loomlight.storage.library_index import ENDING, INDEX_NAME
from loomlight.storage.places import file_name

BLOCK = 1 << 20
MOST_FILES = 100_000
MOST_PACKED, LONG = 200, 1 << 26
"""A file of more bytes than the second that is packed more than so many to one is no capture."""
PASSED_OVER = ("library.json", INDEX_NAME, f"{INDEX_NAME}-journal", "recent.json", ".lock")
"""What stands in a library beside its entries."""


def unpacked(source: Path, into: Path, progress: Progress = unwatched) -> tuple[Path, ...]:
    """Unpack the entries of a zip file into an empty folder, under their own names.

    Raises
    ------
    FileProblem
        If it is no zip file, is damaged, or holds what no library holds; nothing of it is unpacked then.
    """
    try:
        with zipfile.ZipFile(source) as packed:
            wanted = [one for one in packed.infolist() if _is_wanted(one, source)]
            _require_modest(wanted, source, into)
            return _taken_out(packed, wanted, into, progress)
    except FileNotFoundError as error:
        raise FileProblem("there is no such file", file=source, do="Check the name and the folder") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        raise FileProblem(
            "it is no zip file, or a damaged one", file=source, do="Have it sent again; nothing was taken from it"
        ) from error
    except OSError as error:
        raise FileProblem(f"it cannot be read ({error.strerror or error})", file=source, do="Try a copy") from error


def _refused(source: Path, why: str) -> FileProblem:
    return FileProblem(why, file=source, do="Do not use it; nothing was taken from it")


def _is_wanted(info: zipfile.ZipInfo, source: Path) -> bool:
    """Whether a member is an entry; raises where a library never holds such a thing."""
    # The name as it stands in the file: the library makes slashes of other signs on some systems.
    name, told = info.orig_filename, ascii(info.orig_filename)[1:-1][:60]
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or any(sign in name for sign in "\\:\0") or name.startswith("/"):
        raise _refused(source, f"it would write outside of its folder ({told})")
    kind = stat.S_IFMT(info.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise _refused(source, f"it holds a link or a device ({told})")
    if info.is_dir():
        return False
    if info.flag_bits & 0x1:
        raise FileProblem("it needs a password", file=source, do="Have it sent without one")
    if path.name in PASSED_OVER or path.parent.name in (BIN_NAME, OLD_BIN_NAME) or path.name.startswith("."):
        return False
    if path.suffix.lower() != ENDING or len(path.parts) > 3 or file_name(path.stem) != path.stem:
        raise _refused(source, f"it holds {told}, which belongs to no library")
    return True


def _require_modest(wanted: list[zipfile.ZipInfo], source: Path, into: Path) -> None:
    names = [PurePosixPath(one.filename).name.casefold() for one in wanted]
    if len(names) > MOST_FILES or len(set(names)) < len(names):
        raise _refused(source, "it holds too many files, or several of one name")
    if not wanted:
        raise FileProblem(
            "there is no library entry in it", file=source, do="Choose a zip file that was exported from one"
        )
    for one in wanted:
        if one.file_size > LONG and one.file_size > MOST_PACKED * max(one.compress_size, 1):
            raise _refused(source, "it would unpack to far more than a capture holds")
    packed = sum(one.compress_size for one in wanted)
    if packed > source.stat().st_size:
        raise _refused(source, "its files lie over one another")
    if sum(one.file_size for one in wanted) > shutil.disk_usage(into).free:
        raise FileProblem("there is no room to unpack it", file=source, do="Free some space; nothing was changed")


def _taken_out(
    packed: zipfile.ZipFile, wanted: list[zipfile.ZipInfo], into: Path, progress: Progress
) -> tuple[Path, ...]:
    found = []
    for number, one in enumerate(wanted):
        progress(number / len(wanted))
        path = into / PurePosixPath(one.filename).name
        left = one.file_size
        with packed.open(one) as source, path.open("xb") as target:
            while block := source.read(BLOCK):
                left -= len(block)
                if left < 0:
                    raise zipfile.BadZipFile("longer than it says")
                target.write(block)
        if left:
            raise zipfile.BadZipFile("shorter than it says")
        found.append(path)
    return tuple(found)
