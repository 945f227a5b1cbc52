"""What the user said about how a text is to be read, where its structure leaves a question open."""

from dataclasses import dataclass, fields, replace
from typing import Any, Literal, Self

Delimiter = Literal[";", ",", "\t", " "]
Decimal = Literal[".", ","]
TimeUnit = Literal["s", "ms", "us", "ns"]
DateOrder = Literal["day-first", "month-first"]

DELIMITER_WORDS: dict[str, Delimiter] = {"semicolon": ";", "comma": ",", "tab": "\t", "blank": " "}
DECIMAL_WORDS: dict[str, Decimal] = {"point": ".", "comma": ","}
TIME_UNITS: dict[str, float] = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
DATE_ORDERS: tuple[DateOrder, ...] = ("day-first", "month-first")


@dataclass(frozen=True)
class Reading:
    """Answers; every field None or empty leaves that question to the structure.

    Columns are counted from 1 as they stand in the file; where a row holds a channel, rows are counted instead.

    Attributes
    ----------
    skip_rows : int or None
        Non-empty rows before the first row of data.
    delimiter, decimal : str or None
        ``; , tab blank`` between the columns; ``.`` or ``,`` before the decimals.
    time_column : int or None
        Number of the time column; 0 where there is none.
    time_unit : str or None
        Unit of the time column: ``s``, ``ms``, ``us``, ``ns``.
    step_s, start_s : float or None
        Sample spacing and time of the first sample, seconds; they win over the time column and the preamble.
    date_order : str or None
        ``day-first`` or ``month-first``, for dates with slashes.
    units : tuple of (int, str)
        Column and its unit, with an SI prefix where the numbers have one: ``(2, "mV")``; ``counts`` for converter counts.
    names : tuple of (int, str)
        Column and its name.
    scales : tuple of (int, float, float)
        Column, scale, offset: value = number · scale + offset, for converter counts.
    left_out : tuple of int
        Columns that are no channels.
    pairs : bool or None
        Whether minimum and maximum of each interval follow each other without a mark.
    rows_are_channels : bool or None
        Whether each row holds one channel.
    """

    skip_rows: int | None = None
    delimiter: Delimiter | None = None
    decimal: Decimal | None = None
    time_column: int | None = None
    time_unit: TimeUnit | None = None
    step_s: float | None = None
    start_s: float | None = None
    date_order: DateOrder | None = None
    units: tuple[tuple[int, str], ...] = ()
    names: tuple[tuple[int, str], ...] = ()
    scales: tuple[tuple[int, float, float], ...] = ()
    left_out: tuple[int, ...] = ()
    pairs: bool | None = None
    rows_are_channels: bool | None = None

    def __post_init__(self) -> None:
        if self.step_s is not None and not 0 < self.step_s < float("inf"):
            raise ValueError(f"the step must be above 0 s, got {self.step_s}")
        if self.start_s is not None and not abs(self.start_s) < float("inf"):
            raise ValueError(f"the start must be finite, got {self.start_s}")
        if any(not (abs(scale) < float("inf") and scale and abs(at) < float("inf")) for _, scale, at in self.scales):
            raise ValueError("a scale must be finite and not 0")
        for name, least in (("skip_rows", 0), ("time_column", 0)):
            value = getattr(self, name)
            if value is not None and value < least:
                raise ValueError(f"{name} must be at least {least}, got {value}")
        numbers = [*self.left_out, *dict(self.units), *dict(self.names), *(one[0] for one in self.scales)]
        if any(number < 1 for number in numbers):
            raise ValueError("columns are counted from 1")

    @property
    def is_empty(self) -> bool:
        """Whether nothing was said."""
        return self == Reading()

    def unit_of(self, column: int) -> str | None:
        """The unit said for a column, or None."""
        return dict(self.units).get(column)

    def name_of(self, column: int) -> str | None:
        """The name said for a column, or None."""
        return dict(self.names).get(column)

    def scale_of(self, column: int) -> tuple[float, float] | None:
        """Scale and offset said for a column, or None."""
        return next(((scale, offset) for number, scale, offset in self.scales if number == column), None)

    def with_unit(self, column: int, unit: str) -> Self:
        """The same with another unit for one column."""
        return replace(self, units=_set(self.units, (column, unit)))

    def with_name(self, column: int, name: str) -> Self:
        """The same with another name for one column."""
        return replace(self, names=_set(self.names, (column, name)))

    def with_scale(self, column: int, scale: float, offset: float) -> Self:
        """The same with another scale for one column."""
        return replace(self, scales=_set(self.scales, (column, scale, offset)))

    def over(self, other: "Reading") -> "Reading":
        """These answers, and the other's where these say nothing."""
        said = {one.name: getattr(self, one.name) for one in fields(self) if getattr(self, one.name) not in (None, ())}
        return replace(other, **said)

    def of_the_structure(self) -> Self:
        """Only what holds for every file of the same structure: another record has another step, start and range."""
        return replace(self, step_s=None, start_s=None, scales=())

    def options(self) -> tuple[str, ...]:
        """The command-line options that reproduce these answers."""
        words: list[str] = []
        for option, value in (
            ("--skip-rows", self.skip_rows),
            ("--delimiter", _word(self.delimiter, DELIMITER_WORDS)),
            ("--decimal", _word(self.decimal, DECIMAL_WORDS)),
            ("--time-column", self.time_column),
            ("--time-unit", self.time_unit),
            ("--step", self.step_s),
            ("--start", self.start_s),
            ("--date-order", self.date_order),
        ):
            words += [option, str(value)] if value is not None else []
        for number, text in self.units:
            words += ["--unit", f"{number}={text}"]
        for number, text in self.names:
            words += ["--name", f"{number}={text}"]
        for number, scale, offset in self.scales:
            words += ["--scale", f"{number}={scale!r},{offset!r}" if offset else f"{number}={scale!r}"]
        for number in self.left_out:
            words += ["--leave-out", str(number)]
        for option, said in (("pairs", self.pairs), ("rows-are-channels", self.rows_are_channels)):
            words += [f"--{'' if said else 'no-'}{option}"] if said is not None else []
        return tuple(words)

    def to_json(self) -> dict[str, Any]:
        """What was said, as plain JSON values."""
        said = {one.name: getattr(self, one.name) for one in fields(self)}
        return {name: _plain(value) for name, value in said.items() if value not in (None, ())}

    @classmethod
    def from_json(cls, kept: object) -> "Reading":
        """The answers that `to_json` gave; fields of a later version are left out.

        Raises
        ------
        ValueError
            If a value is of the wrong sort.
        """
        if not isinstance(kept, dict):
            raise ValueError("answers about a file must be an object")
        try:
            said = {one.name: _PARSERS[one.name](kept[one.name]) for one in fields(cls) if one.name in kept}
        except (TypeError, LookupError) as error:
            raise ValueError(f"an answer about a file is of the wrong sort ({error})") from error
        return cls(**said)


NOTHING_SAID = Reading()


def _set(kept: tuple[Any, ...], new: tuple[Any, ...]) -> tuple[Any, ...]:
    return tuple(sorted([*(one for one in kept if one[0] != new[0]), new]))


def _word(sign: str | None, words: dict[str, Any]) -> str | None:
    return next((word for word, meant in words.items() if meant == sign), None)


def _plain(value: object) -> object:
    return [_plain(one) for one in value] if isinstance(value, tuple) else value


def _whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise TypeError(f"{value!r} is no whole number")
    return value


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{value!r} is no number")
    return float(value)


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is no text")
    return value


def _yes_no(value: object) -> bool:
    if not isinstance(value, bool):
        raise TypeError(f"{value!r} is neither true nor false")
    return value


def _one_of(allowed: Any) -> Any:
    def parse(value: object) -> str:
        if value not in allowed:
            raise TypeError(f"{value!r} is none of the answers")
        return str(value)

    return parse


def _rows_of(*parsers: Any) -> Any:
    def parse(value: object) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise TypeError(f"{value!r} is no list")
        if len(parsers) == 1:
            return tuple(parsers[0](one) for one in value)
        return tuple(tuple(one(part) for one, part in zip(parsers, row, strict=True)) for row in value)

    return parse


_PARSERS: dict[str, Any] = {
    "skip_rows": _whole,
    "delimiter": _one_of(tuple(DELIMITER_WORDS.values())),
    "decimal": _one_of(tuple(DECIMAL_WORDS.values())),
    "time_column": _whole,
    "time_unit": _one_of(TIME_UNITS),
    "step_s": _number,
    "start_s": _number,
    "date_order": _one_of(DATE_ORDERS),
    "units": _rows_of(_whole, _text),
    "names": _rows_of(_whole, _text),
    "scales": _rows_of(_whole, _number, _number),
    "left_out": _rows_of(_whole),
    "pairs": _yes_no,
    "rows_are_channels": _yes_no,
}
