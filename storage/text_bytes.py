"""Bytes of a text file as whole lines: encodings, stray marks and line ends made plain."""

import codecs
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

import numpy as np

from loomlight.signal.errors import FileProblem
from loomlight.signal.progress import Progress

BLOCK_BYTES = 1 << 20
HEAD_BYTES = 1 << 18
LONGEST_LINE = 1 << 24
LINE_FEED, CARRIAGE_RETURN = 10, 13


def read_head(path: Path) -> bytes:
    """First quarter of a megabyte, as it stands in the file.

    Raises
    ------
    FileProblem
        If there is no such file, it is a folder, it cannot be read, or it is empty.
    """
    try:
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except FileNotFoundError as error:
        raise FileProblem("there is no such file", file=path, do="Check the name and the folder") from error
    except IsADirectoryError as error:
        raise FileProblem("this is a folder", file=path, do="Choose a file inside it") from error
    except OSError as error:
        raise unreadable(path, error) from error
    if not head.strip(b"\0 \t\r\n"):
        raise FileProblem("the file is empty", file=path, do="Export the capture again")
    return head


def unreadable(path: Path, error: OSError) -> FileProblem:
    """What the system said about a file that cannot be read, in one line."""
    return FileProblem(
        f"it cannot be read ({error.strerror or error})",
        file=path,
        do="Check that the stick is still in, and try a copy",
    )


def encoding_of(head: bytes, path: Path) -> str:
    """Name of the encoding, told from the first bytes.

    Raises
    ------
    FileProblem
        If this is no text.
    """
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    if head.startswith(b"\xef\xbb\xbf"):
        return "utf-8-sig"
    sample = head[:4096]
    zeros = sample.count(b"\0")
    if zeros > 0.3 * len(sample):
        odd = sample[1::2].count(b"\0")
        if odd > 0.6 * len(sample[1::2]):
            return "utf-16-le"
        if zeros - odd > 0.6 * len(sample[::2]):
            return "utf-16-be"
    control = sum(byte < 9 or 13 < byte < 32 for byte in sample)
    if control > 0.02 * len(sample) + 4 or zeros > 0.1 * len(sample):
        raise FileProblem(
            "this is no text and no HDF5 file", file=path, do="Export the capture as CSV or HDF5 and open that"
        )
    try:
        head.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start < len(head) - 4:
            return "cp1252"
    return "utf-8"


def text_of(raw: bytes, encoding: str) -> str:
    """Decode, with stray NULs and byte-order marks dropped."""
    return raw.decode(encoding, errors="replace").replace("\0", "").lstrip("\ufeff")


def plain_lines(raw: bytes) -> bytes:
    """Line ends as single line feeds, blank lines and NULs dropped."""
    if b"\0" in raw:
        raw = raw.replace(b"\0", b"")
    if b"\r" in raw:
        raw = raw.replace(b"\r\n", b"\n") if not _ends_alike(raw) else raw.translate(None, b"\r")
        raw = raw.replace(b"\r", b"\n") if b"\r" in raw else raw
    signs = np.frombuffer(raw, dtype=np.uint8)
    ends = np.flatnonzero(signs == LINE_FEED)
    if (np.diff(ends) == 1).any():
        kept = np.ones(signs.size, dtype=np.bool_)
        kept[ends[1:][np.diff(ends) == 1]] = False
        raw = signs[kept].tobytes()
    return raw


def _ends_alike(raw: bytes) -> bool:
    """Whether every carriage return stands right before a line feed."""
    signs = np.frombuffer(raw, dtype=np.uint8)
    returns = np.flatnonzero(signs == CARRIAGE_RETURN)
    return bool(returns[-1] + 1 < signs.size and (signs[returns + 1] == LINE_FEED).all())


def blocks_of_lines(path: Path, encoding: str, progress: Progress) -> Iterator[bytes]:
    """The whole file as blocks of whole lines in an encoding that agrees with ASCII, the lines' ends as they stand.

    Raises
    ------
    FileProblem
        If the file can no longer be read, or a line never ends.
    """
    try:
        size = max(path.stat().st_size, 1)
        with path.open("rb") as file:
            rest = b""
            for piece in _pieces(file, encoding):
                progress(min(file.tell() / size, 1.0))
                rest += piece
                # A carriage return at the very end may be half a line end: keep it for the next block.
                cut = max(rest.rfind(b"\n"), rest.rfind(b"\r", 0, -1)) + 1
                if cut:
                    yield rest[:cut]
                    rest = rest[cut:]
                elif len(rest) > LONGEST_LINE:
                    raise FileProblem("a line does not end", file=path, do="Export one row for each instant")
            if rest.strip(b"\r\n\0 "):
                yield rest + b"\n"
    except OSError as error:
        raise unreadable(path, error) from error


def _pieces(file: BinaryIO, encoding: str) -> Iterator[bytes]:
    """A file's bytes, its byte-order mark left out, two-byte encodings as UTF-8."""
    if not encoding.startswith("utf-16"):
        mark = b"\xef\xbb\xbf" if encoding == "utf-8-sig" else b""
        yield file.read(BLOCK_BYTES).removeprefix(mark)
        while piece := file.read(BLOCK_BYTES):
            yield piece
        return
    decoder = codecs.getincrementaldecoder(encoding)(errors="replace")
    mark_is_left = True
    while raw := file.read(BLOCK_BYTES):
        text = decoder.decode(raw)
        if mark_is_left and text:
            text, mark_is_left = text.lstrip("\ufeff"), False
        yield text.encode("utf-8", errors="replace")
    yield decoder.decode(b"", final=True).encode("utf-8", errors="replace")
