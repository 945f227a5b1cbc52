"""How often a waveform is found again among 10 000, and how far the sureness can be trusted: the figures behind `match.py`.

Run ``python tests/signal/match_calibration.py FOLDER`` (half an hour on two cores that others use too; it may be stopped and
started again); it writes ``match_calibration.md`` beside this file from what FOLDER holds so far, ``--table`` only that.

What decides was set by looking at entries and queries of the seeds 1 and 2; the table is of the seeds below.
"""

import json
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from pathlib import Path
from time import process_time

import made_library
import numpy as np

from loomlight.signal.fingerprint import VERSION, fingerprint
from loomlight.signal.match import Match, matches
from loomlight.signal.match_sureness import surenesses

SEED, STRANGERS_SEED = 90_011, 90_012
ENTRIES, QUERIES, STRANGERS = 10_000, 1000, 300
LEAST_FIRST, LEAST_AMONG_FIVE = 0.95, 0.99
WORKERS = 2
BARS = (0.5, 0.8, 0.9, 0.95, 0.99)


def _vector(number: int) -> np.ndarray:
    return fingerprint(made_library.entry(SEED, number)).vector


def table_of(folder: Path) -> np.ndarray:
    """Fingerprints of all entries, made once."""
    path = folder / f"fingerprints_{VERSION}.npy"
    if not path.exists():
        with ProcessPoolExecutor(WORKERS) as pool:
            made = np.array(list(pool.map(_vector, range(ENTRIES), chunksize=50)))
        np.save(path, made)
    return np.load(path)


@lru_cache(maxsize=1)
def _table(folder: str) -> np.ndarray:
    return table_of(Path(folder))


def asked() -> list[tuple[int, int]]:
    """Seed and number of every query: entries drawn from all, and then signals that are not in the library."""
    drawn = np.random.default_rng(SEED).choice(ENTRIES, QUERIES, replace=False).tolist()
    own, strange = [(SEED, one) for one in drawn], [(STRANGERS_SEED, one) for one in range(STRANGERS)]
    ahead = QUERIES // STRANGERS  # mixed, so that a part of the work is a fair part
    return [
        one for place in range(STRANGERS) for one in (*own[place * ahead : (place + 1) * ahead], strange[place])
    ] + own[STRANGERS * ahead :]


def outcome(folder: str, seed: int, number: int) -> dict[str, object]:
    """One query; the entries' own making is left out of the time."""
    spent = 0.0

    def opened(index: int) -> object:
        nonlocal spent
        started = process_time()
        channel = made_library.entry(SEED, index)
        spent += process_time() - started
        return channel

    table, query = _table(folder), made_library.query(seed, number)
    started = process_time()
    found: tuple[Match, ...] = matches(query, table, opened)  # type: ignore[arg-type]
    taken_s = process_time() - started - spent
    told = [(one.index, one.distance, one.said, one.fit, one.lined_up) for one in found]
    return {"seed": seed, "number": number, "found": told, "seconds": taken_s}


def _outcome(job: tuple[str, int, int]) -> dict[str, object]:
    return outcome(*job)


def _work_through(folder: Path) -> None:
    table_of(folder)
    path = folder / "queries.jsonl"
    done = {(one["seed"], one["number"]) for one in _read(path)}
    left = [(str(folder), *one) for one in asked() if one not in done]
    with path.open("a") as file, ProcessPoolExecutor(WORKERS) as pool:
        for one in pool.map(_outcome, left, chunksize=4):
            file.write(json.dumps(one) + "\n")
            file.flush()


def _read(path: Path) -> list[dict]:
    if not path.exists():
        return []
    return [json.loads(line) for line in path.read_text().splitlines() if line.endswith("}")]


def place_of(one: dict) -> int:
    """Place of the right entry among those found, from 0; 99 where it is not among them."""
    return next((place for place, found in enumerate(one["found"]) if found[0] == one["number"]), 99)


def table(folder: Path) -> str:
    """The figures as a page of text."""
    read = _read(folder / "queries.jsonl")
    own, strange = ([one for one in read if one["seed"] == seed] for seed in (SEED, STRANGERS_SEED))
    places = np.array([place_of(one) for one in own])
    seconds = np.array([one["seconds"] for one in read])
    first, five = int((places < 1).sum()), int((places < 5).sum())
    lines = [
        "# Match: how often the right one is found",
        "",
        "Made by `python tests/signal/match_calibration.py FOLDER`; entries and queries are those of `made_library.py`: 16",
        f"sorts of signals, 625 entries of each among {ENTRIES}. A query is another recording of an entry's signal: 10 to 20 dB",
        "of noise, begun up to 45 % of the entry's length earlier or later, 0.7 to 1.3 times as long, at 0.5 to 2 times the",
        "rate, with 0.25 to 4 times the gain, and an offset.",
        f"Seeds {SEED} (library and queries) and {STRANGERS_SEED} (signals that are not in it).",
        "",
        f"Done so far: {len(own)} queries of {QUERIES} and {len(strange)} strangers of {STRANGERS}. Processor time a query:",
        f"median {np.median(seconds):.2f} s, 90 % below {np.quantile(seconds, 0.9):.2f} s, at most {seconds.max():.2f} s, on a",
        "machine that others used too.",
        "",
        "| wanted | found | share | asked for |",
        "| --- | --- | --- | --- |",
        f"| right one first | {first} of {len(own)} | {first / len(own):.1%} | {LEAST_FIRST:.0%} |",
        f"| right one among five | {five} of {len(own)} | {five / len(own):.1%} | {LEAST_AMONG_FIVE:.0%} |",
        "",
        "| sort | queries | first | among five |",
        "| --- | --- | --- | --- |",
    ]
    for sort in sorted({made_library.sort_of(one["number"]) for one in own}):
        of_sort = np.array([place_of(one) for one in own if made_library.sort_of(one["number"]) == sort])
        lines.append(
            f"| {sort.replace('_', ' ')} | {of_sort.size} | {(of_sort < 1).mean():.0%} | {(of_sort < 5).mean():.0%} |"
        )
    return "\n".join(lines + _sureness_rows(own, strange)) + "\n"


def _sureness_rows(own: list[dict], strange: list[dict]) -> list[str]:
    """Among matches reported as this sure or surer, how many are right; a stranger has no right one."""
    told = [
        (sure, one["seed"] == SEED and found[0] == one["number"], one["seed"] == SEED)
        for one in (*own, *strange)
        for sure, found in zip(surenesses([(each[1], each[2]) for each in one["found"]]), one["found"], strict=True)
    ]
    rows = [
        "",
        "Sureness: of all matches reported (five a query), how many are right.",
        "",
        "| sureness | matches | right | share right | of strangers |",
        "| --- | --- | --- | --- | --- |",
    ]
    for low, high in ((0.0, 0.1), (0.1, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 1.01)):
        inside = [one for one in told if low <= one[0] < high]
        right = sum(one[1] for one in inside)
        share = f"{right / len(inside):.1%}" if inside else "-"
        rows.append(
            f"| {low:g} to {min(high, 1):g} | {len(inside)} | {right} | {share} | {sum(not one[2] for one in inside)} |"
        )
    for bar in BARS:
        above = [one for one in told if one[0] >= bar]
        right = sum(one[1] for one in above)
        share = f"{right / len(above):.1%}" if above else "-"
        rows.append(f"| {bar:g} and more | {len(above)} | {right} | {share} | {sum(not one[2] for one in above)} |")
    return rows


if __name__ == "__main__":
    into = Path(sys.argv[1])
    into.mkdir(parents=True, exist_ok=True)
    if "--table" not in sys.argv:
        _work_through(into)
    Path(__file__).with_suffix(".md").write_text(table(into))
