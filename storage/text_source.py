"""The tables of numbers that a text file holds: one as a rule, one for each channel where they are stacked."""

from dataclasses import dataclass, field, replace

from loomlight.signal.progress import Progress
from loomlight.storage.reading import Reading
from loomlight.storage.reading_questions import Account, Question
from loomlight.storage.text_blocks import Block, stacked
from loomlight.storage.text_head import TextHead
from loomlight.storage.text_layout import Layout, recognise, refuse_what_is_no_table
from loomlight.storage.text_rows import Turned, turned
from loomlight.storage.text_table import TextTable, read_table, table_of_lines


@dataclass(frozen=True, eq=False)
class Source:
    """How one table stands in the file.

    Attributes
    ----------
    head : TextHead
        The file's beginning.
    layout : Layout
        How the table is laid out.
    lines : list of str or None
        The table's own lines where they were taken apart or turned; None where the file is the table.
    before : int
        Non-empty lines of the file above them.
    """

    head: TextHead
    layout: Layout
    lines: list[str] | None = field(default=None, repr=False)
    before: int = 0

    def table(self, progress: Progress) -> TextTable:
        """All its numbers."""
        if self.lines is None:
            return read_table(self.head.path, self.head.encoding, self.layout, self.head.lines, progress)
        return self._of_lines(self.lines)

    def first_rows(self) -> TextTable:
        """The numbers of the file's first lines alone, for a preview."""
        if self.lines is not None:
            return self._of_lines(self.lines)
        lines = self.head.lines
        return self._of_lines(lines if self.head.is_whole or len(lines) < 3 else lines[:-1])

    def _of_lines(self, lines: list[str]) -> TextTable:
        table = table_of_lines(self.head.path, self.head.encoding, self.layout, lines)
        table.lines_before = self.before
        return table


def sources_of(head: TextHead, account: Account) -> tuple[Source, ...]:
    """The tables of a text file, recognised by its structure and by what was said.

    Raises
    ------
    FileProblem
        If it holds no table of samples, saying why.
    """
    refuse_what_is_no_table(head.lines, head.path)
    rows = turned(head, account.reading)
    if rows is not None:
        return (_turned_source(head, rows, account),)
    blocks = stacked(head)
    if blocks:
        account.say(f"{len(blocks)} channels stand under each other.")
        return tuple(_block_source(head, block, account.reading) for block in blocks)
    layout = recognise(head.lines, head.path, is_whole=head.is_whole, reading=account.reading, leading=head.leading)
    return (Source(head, layout),)


def _block_source(head: TextHead, block: Block, reading: Reading) -> Source:
    layout = recognise(block.lines, head.path, is_whole=True, reading=reading)
    return Source(head, layout, block.lines, block.before)


def _turned_source(head: TextHead, rows: Turned, account: Account) -> Source:
    reading = replace(account.reading, delimiter=";", decimal="," if rows.comma else ".", skip_rows=None)
    layout = recognise(rows.lines, head.path, is_whole=True, reading=reading)
    if rows.channels == 1:
        account.say("All values stand in one row: one channel.")
    else:
        account.say("Each row holds one channel.")
        if account.reading.rows_are_channels is None:
            account.ask(_rows_question(account))
    return Source(head, replace(layout, turned=True), rows.lines, rows.first_row)


def _rows_question(account: Account) -> Question:
    offers = account.offers(
        ("each row holds one channel", Reading(rows_are_channels=True)),
        ("each row holds one instant", Reading(rows_are_channels=False)),
    )
    return Question(
        "rows", "Does each row hold one channel?", "each row holds one channel", offers, option="--rows-are-channels"
    )
