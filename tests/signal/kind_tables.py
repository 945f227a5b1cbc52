"""Signal kind × fault × found or falsely alarmed, over random made signals.

Make a kind's whole table anew (it goes to ``tests/signal/kind_tables/KIND.md``):

    python tests/signal/kind_tables.py KIND
"""

import importlib
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from loomlight.sample_captures.makers.shape import Made, Maker
from loomlight.signal.comparison import Comparison, check, compare

SEED = 7_2026
FAULTY, CLEAN = 300, 600
"""How many instances of each fault, and of clean ones, the whole table has."""
LEAST_FOUND = 0.99
WAYS = ("plain", "20 dB noise", "half rate", "double rate")
FOLDER = Path(__file__).with_name("kind_tables")


@dataclass(frozen=True)
class Row:
    """One fault under one way of recording.

    ``named`` counts those whose picture is one of the right ones; ``broken`` those where a limit is broken, ``broken_found``
    those of them that were found.
    """

    fault: str
    way: str
    instances: int
    found: int
    named: int
    broken: int
    broken_found: int
    cannot_tell: int
    wrong: tuple[int, ...]
    """Numbers of the instances that were judged wrongly."""


def maker_of(kind: str) -> Maker:
    """The module that makes this kind."""
    return importlib.import_module(f"loomlight.sample_captures.makers.{kind.replace('-', '_')}")  # type: ignore[return-value]


def instance(maker: Maker, fault: str, number: int) -> tuple[str, Made]:
    """The instance with this number and how it is recorded; the same one each time."""
    way = WAYS[number % len(WAYS)]
    place = maker.FAULTS.index(fault) + 1 if fault else 0
    seed = (SEED, place, number)
    if way == "plain":
        return way, maker.made(fault, np.random.default_rng(seed))
    if way == "20 dB noise":
        return way, maker.made(fault, np.random.default_rng(seed), noise_db=20.0)
    # A maker that can tell its step without making the whole signal saves half of the work.
    told = getattr(maker, "usual_step_s", None)
    usual = told(np.random.default_rng(seed)) if told else maker.made(fault, np.random.default_rng(seed)).suspect.step_s
    assert usual is not None
    rate = (0.5 if way == "half rate" else 2.0) / usual
    return way, maker.made(fault, np.random.default_rng(seed), samples_per_s=rate)


def judged(made: Made) -> Comparison:
    """Against the known-good where there is one, else alone."""
    if made.good is None:
        return check(made.suspect, kind=made.kind, conditions=made.conditions)
    good = made.good.channel(made.channel)
    return compare(made.suspect, good, kind=made.kind, conditions=made.conditions, good_besides=made.good_besides)


def is_alarm(found: Comparison) -> bool:
    """Whether a clean signal would be called faulty: by the verdict, or by a severe finding."""
    return found.verdict.state == "faulty" or any(one.severity == "severe" for one in found.findings)


def rows(kind: str, share: float = 1.0) -> Iterator[Row]:
    """The table; ``share`` 0.1 for its seeded tenth."""
    maker = maker_of(kind)
    for fault in ("", *maker.FAULTS):
        count = max(round((FAULTY if fault else CLEAN) * share), len(WAYS))
        tally: dict[str, Counter[str]] = {way: Counter() for way in WAYS}
        wrong: dict[str, list[int]] = {way: [] for way in WAYS}
        for number in range(count):
            way, made = instance(maker, fault, number)
            found = judged(made)
            faulty = found.verdict.state == "faulty" if fault else is_alarm(found)
            named = faulty and (not made.expected or found.verdict.picture in made.expected)
            tally[way].update(
                instances=1,
                found=faulty,
                named=named,
                broken=made.limit_broken,
                broken_found=made.limit_broken and faulty,
                cannot_tell=found.verdict.state == "cannot tell",
            )
            if not named if fault else faulty:
                wrong[way].append(number)
        for way in WAYS:
            one = tally[way]
            yield Row(
                fault,
                way,
                one["instances"],
                one["found"],
                one["named"],
                one["broken"],
                one["broken_found"],
                one["cannot_tell"],
                tuple(wrong[way]),
            )


def whole_table(kind: str, share: float = 1.0) -> list[Row]:
    """`rows` at once, for another process."""
    return list(rows(kind, share))


def problems(table: list[Row]) -> list[str]:
    """What does not hold: a false alarm, or a fault with a broken limit found too seldom (named ones count for the table)."""
    found = [f"clean, {one.way}: false alarm at {one.wrong}" for one in table if not one.fault and one.found]
    for fault in dict.fromkeys(one.fault for one in table if one.fault):
        of_fault = [one for one in table if one.fault == fault]
        broken, hit = sum(one.broken for one in of_fault), sum(one.broken_found for one in of_fault)
        if broken and hit < LEAST_FOUND * broken and broken - hit > 1:
            wrong = {one.way: one.wrong for one in of_fault if one.wrong}
            found.append(f"{fault}: {hit} of {broken} found; wrong: {wrong}")
    return found


def as_text(kind: str, table: list[Row]) -> str:
    """The table as it is committed."""
    lines = [
        f"# {kind}: faults found and false alarms",
        "",
        f"Made by `python tests/signal/kind_tables.py {kind}` from seed {SEED}: random signals of",
        f"`sample_captures/makers/{kind.replace('-', '_')}.py`, judged as `loomlight check` and `compare` judge them.",
        "“Found”: called faulty (clean ones: a faulty verdict or a severe finding, which is a false alarm).",
        "“Named”: found, with the right picture.",
        "",
        "| fault | recorded | made | found | named | limit broken | of these found | cannot tell |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for one in table:
        broken = (one.broken, one.broken_found) if one.fault else ("–", "–")
        cells = (one.fault or "none (clean)", one.way, one.instances, one.found, one.named, *broken, one.cannot_tell)
        lines.append(f"| {' | '.join(str(cell) for cell in cells)} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    wanted = sys.argv[1]
    made_table = list(rows(wanted, float(sys.argv[2]) if len(sys.argv) > 2 else 1.0))
    if len(sys.argv) <= 2:
        FOLDER.mkdir(exist_ok=True)
        (FOLDER / f"{wanted}.md").write_text(as_text(wanted, made_table), encoding="utf-8")
    print(as_text(wanted, made_table))
    print("\n".join(problems(made_table)) or "all held")
    raise SystemExit(1 if problems(made_table) else 0)
