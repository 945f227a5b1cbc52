"""Clocks that stand in rows of their own at both ends of a list of readings."""

from loomlight.storage.text_bytes import unreadable
from loomlight.storage.text_cells import clock_s, quoted_away
from loomlight.storage.text_signs import cells_of
from loomlight.storage.text_table import TextTable

TAIL_BYTES = 4096
BETWEEN = slice(2, 20)


def rough_interval(table: TextTable) -> float | None:
    """Seconds between the clock of the first row and that of the last, which count whole seconds; None without them."""
    rows = table.lines[table.layout.first_row :][BETWEEN]
    if any(_clock_in(line, table) is not None for line in rows):
        return None  # each row has a clock of its own
    first = next((found for line in table.lines[:3] if (found := _clock_in(line, table)) is not None), None)
    last = next((found for line in reversed(_last_lines(table)) if (found := _clock_in(line, table)) is not None), None)
    return last - first if first is not None and last is not None and last > first else None


def _clock_in(line: str, table: TextTable) -> float | None:
    """A date and a time of day in one cell, or in two beside each other."""
    cells = [quoted_away(cell) for cell in cells_of(line, table.layout.delimiter)]
    for place, cell in enumerate(cells):
        for text in (cell, f"{cell} {cells[place + 1]}" if place + 1 < len(cells) else ""):
            found = clock_s(text)
            if found is not None:
                return found
    return None


def _last_lines(table: TextTable) -> list[str]:
    if table.encoding.startswith("utf-16"):
        return table.lines[-3:]
    try:
        with table.path.open("rb") as file:
            size = file.seek(0, 2)
            file.seek(max(size - TAIL_BYTES, 0))
            text = file.read().decode(table.encoding, errors="replace")
    except OSError as error:
        raise unreadable(table.path, error) from error
    lines = [line for line in text.replace("\r", "\n").split("\n") if line.strip()]
    return lines[-3:]
