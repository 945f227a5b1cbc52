"""An entry with further captures that were confirmed: comparing uses their envelope, in the window and by the command."""

import json
from pathlib import Path

import numpy as np
import pytest

from loomlight.signal.capture import Capture, Channel
from loomlight.signal.comparison import Comparison, compare
from loomlight.signal.entry import Entry
from loomlight.signal.entry_envelope import envelope_for
from loomlight.signal.envelope_lane import envelope_apart
from loomlight.signal.examination import Conditions
from loomlight.signal.samples import FloatSamples
from loomlight.storage.capture_file import write_capture
from loomlight.storage.library import Library
from loomlight.viewer.command_line import main
from loomlight.viewer.commands.sources import known_good
from loomlight.viewer.desk import Desk
from loomlight.viewer.lanes_of import DIFFERENCE, compare_lanes, drawn

COUNT, STEP_S = 8000, 1e-4
LIMITS = Conditions(upper_v=20.0, lower_v=-20.0)


def captured(seed: int, *, shift: int = 0, gain: float = 1.0, bump: float = 0.0) -> Channel:
    at_s = (np.arange(COUNT) + shift) * STEP_S
    knots = np.random.default_rng(11).uniform(0, 5, 300)
    values = gain * np.interp(at_s, np.linspace(-0.2, 1.2, 300), knots) + bump * np.exp(-(((at_s - 0.4) / 0.01) ** 2))
    values += np.random.default_rng(seed).normal(0, 0.02, COUNT)
    return Channel("pressure", "V", FloatSamples(values), 0.0, STEP_S)


def capture_of(channel: Channel, name: str) -> Capture:
    return Capture(name, "made", (channel,))


OTHERS = tuple(captured(seed, shift=40 * seed, gain=1.0 + 0.01 * (seed - 2)) for seed in (1, 2, 3, 4))


@pytest.fixture(scope="module")
def compared() -> Comparison:
    envelope = envelope_for((captured(0), *OTHERS), "own-limits", LIMITS).envelope
    suspect = captured(9, shift=-70, bump=1.5)
    return compare(suspect, captured(0), kind="own-limits", conditions=LIMITS, envelope=envelope)


@pytest.fixture
def library(tmp_path: Path) -> tuple[Library, Entry]:
    library = Library(tmp_path / "library")
    first = capture_of(captured(0), "first.csv")
    entry = library.add(first, "pressure", Entry("", "Rail pressure, idle", "own-limits", ""))
    for number, channel in enumerate(OTHERS):
        entry = library.add_capture(entry, capture_of(channel, f"{number}.csv"), "pressure")
        if number != 1:
            entry = library.confirm(entry, number)
    return library, entry


def test_what_leaves_the_envelope_is_found_and_the_verdict_says_what_it_rests_on(compared: Comparison) -> None:
    assert compared.verdict.state == "cannot tell"
    assert all(0.36 < one.start_s < 0.44 for one in compared.findings)
    assert compared.verdict.reasons[-1].startswith("Envelope: Rests on 5 good captures")


def test_the_difference_lane_shows_the_envelope_instead_of_one_width(compared: Comparison) -> None:
    lanes = {lane.key: lane for lane in compare_lanes(drawn(compared))}
    ends = lanes[DIFFERENCE].ends
    assert ends is not None
    low, high = (one.channel.samples.block(0, one.channel.samples.size) for one in ends)
    known = np.isfinite(low) & np.isfinite(high)
    assert known.mean() > 0.9
    assert (low[known] < 0).all()
    assert (high[known] > 0).all()
    assert np.ptp(high[known]) > 0.02
    low_end, high_end = lanes[DIFFERENCE].value_range()
    assert low_end < float(low[known].min())
    assert high_end > float(high[known].max())


def test_no_captures_beside_no_envelope() -> None:
    found = compare(captured(9), captured(0), kind="own-limits", conditions=LIMITS)
    assert found.lineup is not None
    assert envelope_apart(found.suspect, captured(0), found.lineup, 1.0) is None
    assert compare_lanes(drawn(found))[1].ends is None
    assert not any("nvelope" in one for one in found.verdict.reasons)


def test_the_desk_and_the_command_take_the_entrys_confirmed_captures(
    library: tuple[Library, Entry], tmp_path: Path, qapp: object, capsys: pytest.CaptureFixture[str]
) -> None:
    kept, entry = library
    assert len(Desk(kept).entry_choice(entry).further) == 3
    assert len(known_good(entry.id, None, kept).further) == 3
    suspect = tmp_path / "suspect.h5"
    write_capture(suspect, capture_of(captured(9, shift=-70, bump=1.5), "suspect.csv"))
    given = ["--channel", "pressure", "--good", entry.id, "--library", str(kept.folder), "--upper", "20", "--lower=-20"]
    status = main(["compare", str(suspect), *given, "--kind", "own-limits", "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert status == 1
    assert {one["rule"] for one in answer["findings"]} == {"out of the envelope of 4 good captures"}


def test_the_proof_takes_the_envelope_too(
    library: tuple[Library, Entry], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept, entry = library
    paths = []
    for name, channel in (("before.h5", captured(9, bump=1.5)), ("after.h5", captured(10))):
        paths.append(str(tmp_path / name))
        write_capture(tmp_path / name, capture_of(channel, name))
    main(
        [
            *("prove", *paths, "--channel", "pressure", "--good", entry.id, "--library", str(kept.folder)),
            *("--upper", "20", "--lower", "-20", "--json"),
        ]
    )
    answer = json.loads(capsys.readouterr().out)
    for side in ("before", "after"):
        assert any(one.startswith("Envelope: Rests on 4 good captures") for one in answer[side]["verdict"]["reasons"])
