"""What a report is made of, before it becomes a page: headings, texts, tables, pictures."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Heading:
    """A heading; level 1 begins the report or its technical record."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Text:
    """A paragraph; line ends inside it stay."""

    text: str
    bold: bool = False


@dataclass(frozen=True)
class Bullets:
    """A list; ``signs`` False where each line brings its own number."""

    lines: tuple[str, ...]
    signs: bool = True


@dataclass(frozen=True)
class Facts:
    """Names and values, side by side."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Table:
    """A table; its head is repeated on each page.

    Attributes
    ----------
    head : tuple of str
        One a column.
    rows : tuple of tuple of str
        As wide as the head.
    shares : tuple of float
        Widths of the columns, together 1.
    strong : tuple of int
        Rows in bold.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    strong: tuple[int, ...] = ()


@dataclass(frozen=True)
class Picture:
    """A PNG or JPEG picture.

    Attributes
    ----------
    content : bytes
        The file's bytes.
    words : str
        What it shows, for those who do not see it.
    caption : str
        Under it; may be empty.
    most_height : float
        At most this share of a page's height.
    """

    content: bytes
    words: str
    caption: str = ""
    most_height: float = 1.0


@dataclass(frozen=True)
class Boxed:
    """A text in a box: a caution."""

    text: str


@dataclass(frozen=True)
class NewPage:
    """What follows begins on a new page."""


Block = Heading | Text | Bullets | Facts | Table | Picture | Boxed | NewPage


@dataclass(frozen=True)
class Business:
    """Who wrote the report; empty where it was not said.

    Attributes
    ----------
    name, address, contact, tax_number : str
        Free text; the address may have several lines.
    logo : bytes
        A PNG or JPEG picture, or empty.
    """

    name: str = ""
    address: str = ""
    contact: str = ""
    tax_number: str = ""
    logo: bytes = b""


@dataclass(frozen=True)
class Report:
    """A whole report.

    Attributes
    ----------
    title : str
        Of the job.
    business : Business
        At the top of page one.
    made : str
        When and by which version, for the foot.
    blocks : tuple of Block
        In order.
    """

    title: str
    business: Business
    made: str
    blocks: tuple[Block, ...]
