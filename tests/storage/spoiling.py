"""Spoils a file's bytes in the ways that sticks, spreadsheets and broken exports do."""

import numpy as np

Rng = np.random.Generator
DELIMITERS = (b",", b";", b"\t", b" ")
CELLS = (b"", b"nan", b"inf", b"-inf", b"1e400", b"-1e-400", b"####", b"0x1F", b"1,5", b"1.5.2", b'"', b"--", b"9" * 40)
ENCODINGS = ("utf-16", "utf-16-le", "utf-16-be", "utf-8-sig", "cp1252")


def spoiled(content: bytes, rng: Rng) -> bytes:
    """The content with one to four things done to it."""
    for _ in range(int(rng.integers(1, 5))):
        content = WAYS[int(rng.integers(len(WAYS)))](content, rng)
    return content


def spoiled_binary(content: bytes, rng: Rng) -> bytes:
    """Binary content with a few bytes changed, mostly where the structure stands; now and then cut off."""
    if rng.random() < 0.1:
        return _cut_off(content, rng)
    reach = int((len(content), 3000, 900)[int(rng.integers(3))])
    return (
        _bits_turned(content[:reach], rng) + content[reach:]
        if rng.random() < 0.5
        else (_bytes_changed(content[:reach], rng) + content[reach:])
    )


def _place(content: bytes, rng: Rng) -> int:
    return int(rng.integers(len(content) + 1))


def _cut_off(content: bytes, rng: Rng) -> bytes:
    return content[: _place(content, rng)]


def _without_a_stretch(content: bytes, rng: Rng) -> bytes:
    start = _place(content, rng)
    return content[:start] + content[start + int(rng.integers(1, 400)) :]


def _bytes_changed(content: bytes, rng: Rng) -> bytes:
    raw = bytearray(content)
    for place in rng.integers(len(raw), size=int(rng.integers(1, 12))) if raw else ():
        raw[place] = int(rng.integers(256))
    return bytes(raw)


def _bits_turned(content: bytes, rng: Rng) -> bytes:
    raw = bytearray(content)
    for place in rng.integers(len(raw), size=int(rng.integers(1, 12))) if raw else ():
        raw[place] ^= 1 << int(rng.integers(8))
    return bytes(raw)


def _zeros(content: bytes, rng: Rng) -> bytes:
    start = _place(content, rng)
    count = int(rng.integers(1, 600))
    return content[:start] + bytes(count) + content[start + count :]


def _stretch_again(content: bytes, rng: Rng) -> bytes:
    start, target = _place(content, rng), _place(content, rng)
    return content[:target] + content[start : start + int(rng.integers(1, 900))] + content[target:]


def _other_delimiter(content: bytes, rng: Rng) -> bytes:
    one, other = (DELIMITERS[int(place)] for place in rng.integers(len(DELIMITERS), size=2))
    start = _place(content, rng)
    return content[:start] + content[start:].replace(one, other)


def _other_line_ends(content: bytes, rng: Rng) -> bytes:
    end = (b"\n", b"\r", b"\r\n", b"\r\r\n", b"\n\n", b"")[int(rng.integers(6))]
    return content.replace(b"\r\n", b"\n").replace(b"\n", end)


def _lines(content: bytes, rng: Rng) -> tuple[list[bytes], int]:
    lines = content.split(b"\n")
    return lines, int(rng.integers(len(lines)))


def _line_gone(content: bytes, rng: Rng) -> bytes:
    lines, place = _lines(content, rng)
    return b"\n".join(lines[:place] + lines[place + int(rng.integers(1, 6)) :])


def _lines_changed_round(content: bytes, rng: Rng) -> bytes:
    lines, place = _lines(content, rng)
    other = int(rng.integers(len(lines)))
    lines[place], lines[other] = lines[other], lines[place]
    return b"\n".join(lines)


def _cell_changed(content: bytes, rng: Rng) -> bytes:
    lines, place = _lines(content, rng)
    delimiter = max(DELIMITERS, key=lines[place].count)
    cells = lines[place].split(delimiter)
    where = int(rng.integers(len(cells)))
    what = int(rng.integers(4))
    if what == 0:
        cells[where] = CELLS[int(rng.integers(len(CELLS)))]
    elif what == 1:
        del cells[where]
    elif what == 2:
        cells.insert(where, b"7.25")
    else:
        cells[where] = b'"' + cells[where] + b'"'
    lines[place] = delimiter.join(cells)
    return b"\n".join(lines)


def _other_decimal_sign(content: bytes, rng: Rng) -> bytes:
    start = _place(content, rng)
    return content[:start] + (
        content[start:].replace(b".", b",") if rng.random() < 0.5 else content[start:].replace(b",", b".")
    )


def _other_encoding(content: bytes, rng: Rng) -> bytes:
    text = content.decode("utf-8", errors="replace")
    return text.encode(ENCODINGS[int(rng.integers(len(ENCODINGS)))], errors="replace")


def _head_only(content: bytes, rng: Rng) -> bytes:
    return b"\n".join(content.split(b"\n")[: int(rng.integers(1, 30))])


def _long_line(content: bytes, rng: Rng) -> bytes:
    start = _place(content, rng)
    return content[:start] + b"1234567890," * int(rng.integers(50, 3000)) + content[start:]


WAYS = (
    _cut_off,
    _without_a_stretch,
    _bytes_changed,
    _bits_turned,
    _zeros,
    _stretch_again,
    _other_delimiter,
    _other_line_ends,
    _line_gone,
    _lines_changed_round,
    _cell_changed,
    _cell_changed,
    _other_decimal_sign,
    _other_encoding,
    _head_only,
    _long_line,
)
