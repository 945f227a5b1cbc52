"""A signal kind in full: what stands beside, figures that may be changed; what is chosen reaches the judgement."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pytestqt.qtbot import QtBot

from loomlight.signal.beside import Role
from loomlight.signal.capture import Capture, Channel
from loomlight.signal.errors import LoomlightError
from loomlight.signal.kinds.lin import LIN
from loomlight.signal.kinds.listing import KINDS, ListedKind
from loomlight.signal.samples import FloatSamples
from loomlight.signal.setting import Setting
from loomlight.viewer import judging
from loomlight.viewer.ask import Ask
from loomlight.viewer.choice import Opened
from loomlight.viewer.judging import besides_in
from loomlight.viewer.kind_dialog import KindDialog

CLAMP = Role("current", "current in the wire", "A", "It tells ohms.")
SHUNT = Setting("shunt", "shunt", "Ω", 115.0, "from memory", 1.0, 10_000.0, "It turns volts into amperes.")
KIND = replace(LIN, roles=(CLAMP,), settings=(SHUNT,))


def _opened(name: str = "one.csv") -> Opened:
    flat = FloatSamples(np.zeros(10, np.float32))
    channels = [Channel(text, unit, flat, 0.0, 1e-3) for text, unit in (("LIN", "V"), ("clamp", "A"), ("other", "V"))]
    return Opened(Path(name), Capture(name, "made", tuple(channels)))


@pytest.fixture
def dialog(qtbot: QtBot) -> KindDialog:
    suspect = _opened().choices()[0]
    found = KindDialog(KIND, Ask(), suspect, _opened("two.csv").choices()[0])
    qtbot.addWidget(found)
    return found


def test_channels_of_the_right_unit_are_offered_on_both_sides(dialog: KindDialog) -> None:
    for side in ("suspect", "known-good"):
        box = dialog.boxes[side, "current"]
        assert [box.itemText(place) for place in range(box.count())] == ["none", "clamp"]
    dialog.boxes["suspect", "current"].setCurrentIndex(1)
    assert dialog.changed() == Ask(besides=(("current", "clamp"),))


@pytest.mark.parametrize(("typed", "ohm"), [("220", 220.0), ("2,2 k", 2200.0), ("1.5 kΩ", 1500.0)])
def test_figures_as_typed(dialog: KindDialog, typed: str, ohm: float) -> None:
    dialog.fields["shunt"].setText(typed)
    assert dialog.changed().settings == (("shunt", pytest.approx(ohm)),)


@pytest.mark.parametrize(("typed", "told"), [("x", "no number"), ("0.2", "makes no sense")])
def test_a_figure_that_is_none_is_told_and_not_taken(dialog: KindDialog, typed: str, told: str) -> None:
    dialog.fields["shunt"].setText(typed)
    assert told in dialog.problem.text()
    assert not dialog.use_button.isEnabled()
    dialog.fields["shunt"].setText("")
    assert dialog.changed().settings == ()
    assert dialog.use_button.isEnabled()


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.key)
def test_every_kind_can_be_shown(qtbot: QtBot, kind: ListedKind) -> None:
    shown = KindDialog(kind.load(), Ask(kind=kind.key), _opened().choices()[0], None)
    qtbot.addWidget(shown)
    assert shown.use_button.isEnabled()
    assert shown.changed() == Ask(kind=kind.key)


def test_a_channel_beside_is_looked_for_in_the_capture(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(judging, "kind_named", lambda key: KIND)
    choice = _opened().choices()[0]
    (found,) = besides_in(choice, (("current", "clamp"),), "lin")
    assert found.channel.unit == "A"
    with pytest.raises(LoomlightError, match="is in A, but 'other' is in V"):
        besides_in(choice, (("current", "other"),), "lin")
    with pytest.raises(LoomlightError, match="no channel beside"):
        besides_in(replace(choice, capture=None), (("current", "clamp"),), "lin")
