"""Damage that the HDF5 library would never come back from, found before a file is handed to it.

In a global heap (the texts of attributes stand there) the library steps from object to object by their sizes; one that
is damaged sends it round in circles, and nothing can stop it. Structure: HDF5 File Format Specification 3.0, III.E.
"""

from pathlib import Path

from loomlight.signal.errors import FileProblem

SIGNATURE, HEADER, OBJECT = b"GCOL", 16, 16
WHOLE_BELOW = 1 << 23
"""Files up to this size are looked through; of longer ones the ends, where the heaps of their first and last texts stand."""
END = 1 << 20


def require_sound_heaps(path: Path) -> None:
    """Refuse a file whose global heaps lead nowhere.

    Raises
    ------
    FileProblem
        If one is damaged.
    """
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            parts = [file.read(size if size <= WHOLE_BELOW else END)]
            if size > WHOLE_BELOW:
                file.seek(-END, 2)
                parts.append(file.read())
    except OSError:
        return  # the library says better what is the matter
    if not all(_is_sound(part) for part in parts):
        raise FileProblem(
            "the file is damaged or was cut short", file=path, do="Take it again from the stick, or use another copy"
        )


def _is_sound(part: bytes) -> bool:
    at = part.find(SIGNATURE)
    while at >= 0:
        if part[at + 4 : at + 8] == b"\1\0\0\0":
            length = int.from_bytes(part[at + 8 : at + HEADER], "little")
            if HEADER < length <= len(part) - at and not _leads_through(part[at : at + length]):
                return False
        at = part.find(SIGNATURE, at + 1)
    return True


def _leads_through(heap: bytes) -> bool:
    """Whether the steps from object to object end where the heap does."""
    at = HEADER
    while at + OBJECT <= len(heap):
        number = int.from_bytes(heap[at : at + 2], "little")
        size = int.from_bytes(heap[at + 8 : at + OBJECT], "little")
        # Object 0 is what is free; its size is the whole of it, the others' are without the header, in steps of eight.
        step = OBJECT + -(-size // 8) * 8 if number else size
        if step < OBJECT or step > len(heap) - at:
            return False
        at += step
    return True
