"""Round trips through a general-purpose table library: what pandas writes is read the same, what is written pandas reads."""

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from layout_examples import EXAMPLES

from loomlight.signal.capture import Capture
from loomlight.storage.open_capture import open_capture
from loomlight.storage.plain_csv import write_csv

pytestmark = [pytest.mark.outside, pytest.mark.filterwarnings("ignore::DeprecationWarning")]
ROWS = 700


WRITTEN: dict[str, dict[str, Any]] = {
    "commas": {},
    "semicolons, decimal comma": {"sep": ";", "decimal": ","},
    "tabs, decimal comma": {"sep": "\t", "decimal": ","},
    "tabs": {"sep": "\t"},
    "exponents": {"float_format": "%.7e"},
    "fixed decimals": {"float_format": "%.6f"},
    "few digits": {"float_format": "%.5g"},
    "every cell quoted": {"quoting": csv.QUOTE_ALL},
    "quoted, decimal comma between commas": {"quoting": csv.QUOTE_ALL, "decimal": ","},
    "two bytes a sign": {"encoding": "utf-16"},
    "with a mark": {"encoding": "utf-8-sig"},
    "one byte a sign": {"encoding": "cp1252"},
    "carriage returns alone": {"lineterminator": "\r"},
    "carriage return and line feed": {"lineterminator": "\r\n"},
    "gaps as nan": {"na_rep": "nan"},
    "gaps as empty cells": {"na_rep": ""},
}


def made(options: dict[str, Any]) -> pd.DataFrame:
    rng = np.random.default_rng(21)
    table = pd.DataFrame(
        {
            "Time (ms)": np.round(-50 + np.arange(ROWS) * 0.2, 6),
            "Gebläse (V)": rng.normal(12, 3, ROWS),
            "seat switch (mV)": rng.normal(0, 900, ROWS),
            "lamp (A)": rng.integers(0, 3, ROWS) * 1.5,
        }
    )
    if "na_rep" in options:
        table.iloc[40:60, 1] = table.iloc[300, 3] = np.nan
    return table


@pytest.mark.parametrize("options", WRITTEN.values(), ids=WRITTEN.keys())
def test_what_pandas_writes_is_read_the_same(tmp_path: Path, options: dict[str, Any]) -> None:
    path = tmp_path / "made.csv"
    table = made(options)
    table.to_csv(path, index=False, **options)
    read = {key: options[key] for key in ("sep", "decimal", "encoding") if key in options}
    again = pd.read_csv(path, float_precision="round_trip", **read)
    capture = open_capture(path)
    assert [(one.name, one.unit) for one in capture.channels] == [("Gebläse", "V"), ("seat switch", "V"), ("lamp", "A")]
    for channel, name in zip(capture.channels, list(table.columns)[1:], strict=True):
        factor = 1e-3 if "(mV)" in name else 1.0
        np.testing.assert_allclose(channel.samples.block(0, ROWS), again[name] * factor, rtol=2e-7)
        assert (channel.start_s, channel.step_s) == (pytest.approx(-0.05), pytest.approx(2e-4))


@pytest.mark.parametrize("example", EXAMPLES.values(), ids=EXAMPLES.keys())
def test_every_layout_written_plain_is_what_pandas_reads(tmp_path: Path, example: Any) -> None:
    (tmp_path / "export.csv").write_bytes(example.content)
    capture = open_capture(tmp_path / "export.csv", reading=example.reading)
    write_csv(tmp_path / "plain.csv", capture)
    table = pd.read_csv(tmp_path / "plain.csv", float_precision="round_trip", header=None, skiprows=1)
    at, axis = -1, None
    for channel in in_written_order(capture):
        mark = (
            channel.intervals,
            channel.start_s,
            channel.step_s,
            channel.times_s is None or channel.times_s.tobytes(),
        )
        if mark != axis:
            at, axis = at + 1, mark
            if channel.times_s is None:
                times = channel.start_s + np.arange(channel.intervals) * channel.step_s
                np.testing.assert_allclose(table[at][: times.size], times, atol=1e-5 * channel.step_s, rtol=1e-12)
            else:
                assert np.array_equal(table[at][: channel.times_s.size], channel.times_s)
        values = channel.samples.block(0, channel.samples.size)
        for part in (values[::2], values[1::2]) if channel.form == "pairs" else (values,):
            at += 1
            assert np.array_equal(table[at][: part.size].astype(np.float32), part, equal_nan=True)
            assert table[at][part.size :].isna().all()
    assert at == table.shape[1] - 1


def in_written_order(capture: Capture) -> list[Any]:
    """Channels that share an axis stand together."""
    axes: dict[Any, list[Any]] = {}
    for channel in capture.channels:
        times = channel.times_s.tobytes() if channel.times_s is not None else None
        axes.setdefault((channel.intervals, channel.start_s, channel.step_s, times), []).append(channel)
    return [channel for group in axes.values() for channel in group]
