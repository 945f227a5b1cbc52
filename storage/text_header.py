"""What stands above or beside the numbers of a text table: preamble, names, units."""

import re
from dataclasses import dataclass, replace
from pathlib import Path

from loomlight.signal.errors import FileProblem
from loomlight.storage.reading import TIME_UNITS, Reading
from loomlight.storage.text_cells import is_written, name_and_unit, quoted_away, unit_of, written_unit_in
from loomlight.storage.text_extremes import extremes_name

Rows = list[list[str]]
Preamble = dict[str, tuple[str, ...]]
TIME_NAMES = {"time", "t", "zeit", "x-axis", "x_value", "x", "seconds", "second", "tiempo", "temps", "times"}
MARKERS = {"waveform data", "data", "samples", "values"}
INDEX_UNITS = {"sequence", "index", "sample"}
UNIT_KEYS = ("vertical units", "vertical unit", "vert_units", "y_unit_label", "y units", "yunits", "units", "unit")
NAME_KEYS = ("source", "signal", "channel")


@dataclass(frozen=True)
class Column:
    """One column of numbers.

    Attributes
    ----------
    index : int
        Place in the row, from 0.
    name : str
        Empty where the file has none.
    unit, factor : str or None, float
        Base unit and what values are multiplied by; None where the file has none that is known.
    written_unit : str
        The unit as the file writes it, known or not.
    is_clock : bool
        Its cells are dates with the time of day; their value is seconds.
    month_first : bool
        Its dates with slashes have the month first.
    is_order_open : bool
        Nothing tells whether they do.
    """

    index: int
    name: str
    unit: str | None
    factor: float
    written_unit: str
    is_clock: bool = False
    month_first: bool = False
    is_order_open: bool = False


def is_time_name(name: str) -> bool:
    """Whether a column's name means the time; of a path only the last part counts."""
    return name.strip().lower().rsplit("/", 1)[-1] in TIME_NAMES


def preamble_of(head: Rows, data: Rows, numeric: list[int]) -> Preamble:
    """Keys in lower case with their values: of the lines above the data, of header cells with a number right below
    them, and of the cells to the left of the data."""
    found: Preamble = {}
    for row in head:
        _take(found, row)
    for above, below in zip(head, head[1:], strict=False):
        for index in range(min(len(above), len(below))):
            key, value = quoted_away(above[index]), quoted_away(below[index])
            if index not in numeric and key and not is_written(key, comma=False) and is_written(value, comma=False):
                found[key.lower()] = (value,)
    for first, _, cells in beside(data, numeric):
        if first == numeric[0]:
            for key, values in cells.items():
                found.setdefault(key, values)
    return found


def _take(found: Preamble, row: list[str]) -> None:
    cells = [quoted_away(cell) for cell in row]
    filled = [cell for cell in cells if cell]
    if len(filled) == 1 or (filled and filled[0].startswith("#") and re.match(r"#+\s*[^,;]+[:=]", filled[0])):
        text = re.sub(r"^#+\s*", "", filled[0])
        key, divider, value = text.partition(":" if ":" in text else "=")
        if divider:
            found.setdefault(key.strip().lower(), (value.strip(),))
    elif cells and cells[0]:
        key = re.sub(r"^#+\s*", "", cells[0]).rstrip(":").strip().lower()
        found.setdefault(key, tuple(cell for cell in cells[1:] if cell))


def beside(data: Rows, numeric: list[int]) -> list[tuple[int, int, Preamble]]:
    """Keys and values that stand left of a block of numeric columns, in the same rows: first and last column of the
    block, and what was found."""
    blocks: list[tuple[int, int, int]] = []
    left = 0
    for place, index in enumerate(numeric):
        if place == 0 or index != numeric[place - 1] + 1:
            blocks.append((left, index, index))
        else:
            blocks[-1] = (blocks[-1][0], blocks[-1][1], index)
        left = index + 1
    answer: list[tuple[int, int, Preamble]] = []
    for start, first, last in blocks:
        found: Preamble = {}
        for row in data if first > start else []:
            cells = [quoted_away(cell) for cell in row[start:first]]
            while cells and not cells[0]:
                cells.pop(0)
            if len(cells) > 1 and not is_written(cells[0], comma=False):
                found.setdefault(cells[0].lower(), tuple(cell for cell in cells[1:] if cell))
        if found:
            answer.append((first, last, found))
    return answer


def described(
    head: Rows, lines: list[str], data: Rows, numeric: list[int], *, comma: bool, delimiter: str
) -> tuple[Column, ...]:
    """Names and units of the numeric columns, from the rows right above the data, else from the preamble.

    Parameters
    ----------
    head, lines : list
        The rows above the data, as cells and as they stand.
    data : list
        The first rows of data.
    numeric : list of int
        Places of the columns that hold numbers.
    comma : bool
        Decimal comma.
    delimiter : str
        What divides the columns.
    """
    if delimiter == " ":
        head = [_by_wide_blanks(line, row, numeric) for line, row in zip(lines, head, strict=True)]
    header = [row for row in head if any(cell.strip() for cell in row)]
    units: list[str] = []
    if header and _is_units_row(header[-1]):
        units = header.pop()
    names = header[-1] if header and _is_names_row(header[-1], numeric, comma, bool(units)) else []
    if names:
        names = _symbols_kept(names, lines[max(place for place, row in enumerate(head) if row is names)], delimiter)
    preamble = preamble_of(head, data, numeric)
    labels = _in_order(preamble, ("label",), numeric)
    stated_names = labels if all(labels.get(index) for index in numeric[1:]) and labels else {}
    later_names = _in_order(preamble, NAME_KEYS, numeric)
    later_units = _in_order(preamble, UNIT_KEYS, numeric) or _for_extremes(preamble, names, numeric)
    for _, last, found in beside(data, numeric):
        for key, values in found.items():
            if values and key in NAME_KEYS:
                later_names[last] = values[0]
            elif values and key in UNIT_KEYS:
                later_units[last] = values[0]
    columns = []
    for index in numeric:
        cell = _cell(names, index)
        name, unit = name_and_unit(cell)
        written = quoted_away(_cell(units, index)).strip("()[] ") or written_unit_in(cell)
        unit = unit_of(written) or unit
        if unit is None and not written:
            written = later_units.get(index, "")
            unit = unit_of(written)
        columns.append(
            Column(
                index=index,
                name=stated_names.get(index) or _plain(name) or later_names.get(index, ""),
                unit=unit[0] if unit else None,
                factor=unit[1] if unit else 1.0,
                written_unit=written,
            )
        )
    return tuple(columns)


def _symbols_kept(row: list[str], line: str, delimiter: str) -> list[str]:
    """Header cells like ``"Bus" U_1 / V``, whose quotes close before the symbol and tell where the name ends."""
    cells = line.split(delimiter)
    has_symbols = any(re.match(r'(\w+=)?"[^"]+"\s*[^\s"]', cell.strip()) for cell in cells)
    return cells if has_symbols and len(cells) == len(row) else row


def _plain(name: str) -> str:
    name = re.sub(r"^#+\s*", "", name)
    return f"CH {name}" if name.isdecimal() else name


def _by_wide_blanks(line: str, row: list[str], numeric: list[int]) -> list[str]:
    """Header cells may hold single blanks where two or more divide the columns."""
    wide = re.split(r"\s{2,}|\t", line.strip())
    if len(row) != len(numeric) and len(wide) == len(numeric):
        return wide
    # The time has no name: the names stand over the other columns.
    return ["", *row] if len(numeric) > 2 and len(row) == len(numeric) - 1 and line.startswith(" ") else row


def _in_order(preamble: Preamble, keys: tuple[str, ...], numeric: list[int]) -> dict[int, str]:
    """A preamble line's values by column: one for each column, or one for each but the first."""
    for key in keys:
        values = preamble.get(key, ())
        if len(values) == 1 and re.match(r"\w+:", values[0]):
            values = tuple(part.partition(":")[2] for part in values[0].split())
        for columns in (numeric, numeric[1:]):
            if values and len(values) == len(columns):
                return dict(zip(columns, values, strict=True))
    return {}


def _for_extremes(preamble: Preamble, names: list[str], numeric: list[int]) -> dict[int, str]:
    """The one unit that is stated, where all columns but the time are extremes of one channel."""
    stated = next((preamble[key] for key in UNIT_KEYS if key in preamble), ())
    values = [_cell(names, index) for index in numeric[1:]]
    is_one = len(values) == 2 and extremes_name(*values) is not None
    return dict.fromkeys(numeric[1:], stated[0]) if is_one and len(stated) == 1 else {}


def _cell(row: list[str], index: int) -> str:
    return row[index].strip() if index < len(row) else ""


def _is_units_row(row: list[str]) -> bool:
    filled = [quoted_away(cell) for cell in row if cell.strip() and not is_written(cell, comma=False)]
    known = sum(unit_of(cell) is not None or cell.lower() in INDEX_UNITS for cell in filled)
    bracketed = sum(cell.startswith(("(", "[")) for cell in filled)
    first_is_number = bool(row) and is_written(row[0], comma=False)
    return bool(filled) and max(known, bracketed) >= 0.6 * len(filled) and not first_is_number


def _is_names_row(row: list[str], numeric: list[int], comma: bool, has_units: bool) -> bool:
    """Text over every column but perhaps the first; bare numbers are names only beside a time's name or above units."""
    cells = [quoted_away(_cell(row, index)) for index in numeric]
    texts = [bool(cell) and not is_written(cell, comma=comma) for cell in cells]
    if not any(texts) or not all(cells[1:]):
        return False
    if len(cells) == 1 and numeric[0] == 0 and not has_units and _is_key_line(row, cells[0]):
        return False
    return all(texts[1:]) or has_units or is_time_name(cells[0])


def as_said(columns: tuple[Column, ...], reading: Reading, path: Path) -> tuple[Column, ...]:
    """The columns with names and units as the user said, without those that were left out.

    Raises
    ------
    FileProblem
        If a column was spoken of that holds no numbers.
    """
    there = {column.index + 1 for column in columns}
    spoken = [one[0] for one in (*reading.units, *reading.names, *reading.scales)]
    for number in (*spoken, *([reading.time_column] if reading.time_column else [])):
        if number not in there:
            raise FileProblem(
                f"column {number} holds no numbers",
                file=path,
                do=f"Columns are counted from 1; those with numbers are {', '.join(str(one) for one in sorted(there))}",
            )
    return tuple(_as_said(column, reading) for column in columns if column.index + 1 not in reading.left_out)


def _as_said(column: Column, reading: Reading) -> Column:
    number = column.index + 1
    name, written = reading.name_of(number), reading.unit_of(number)
    if name is not None:
        column = replace(column, name=name)
    if number == reading.time_column and not column.is_clock and written is None and column.unit != "s":
        column = replace(column, unit="s", factor=1.0, written_unit="s")
    if written is not None:
        known = unit_of(f"({written})") or (written, 1.0)
        column = replace(column, unit=known[0], factor=known[1], written_unit=written)
    if number == reading.time_column and reading.time_unit is not None:
        column = replace(column, unit="s", factor=TIME_UNITS[reading.time_unit], written_unit=reading.time_unit)
    return column


def _is_key_line(row: list[str], cell: str) -> bool:
    """Whether what stands above a single column is a marker, or a key with its value, and no name."""
    alone = sum(bool(one.strip()) for one in row) == 1
    if not alone and written_unit_in(cell):
        return False
    return cell.lower() in MARKERS or not alone or bool(re.match(r"#+\s*\w[^:=]*[:=]", cell))
