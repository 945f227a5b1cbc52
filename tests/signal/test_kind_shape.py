"""Every signal kind brings what the window and the commands take from it."""

import numpy as np
import pytest

from loomlight.signal.beside import Beside, Role, role_named
from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse
from loomlight.signal.examination import Conditions
from loomlight.signal.kinds.listing import KINDS, ListedKind, kind_named
from loomlight.signal.samples import FloatSamples
from loomlight.signal.setting import Setting, setting_named
from loomlight.signal.track import Track

TEETH = Setting("teeth", "teeth on the wheel", "", 60.0, "common practice, no source", lowest=2, highest=200)


@pytest.mark.parametrize("key", [listed.key for listed in KINDS])
def test_what_a_kind_brings(key: str) -> None:
    kind = kind_named(key)
    assert kind.cautions
    assert any("maker's procedure" in one for one in kind.cautions)
    assert all(limit.source for limit in kind.limits)
    assert all(setting.source and setting.title for setting in kind.settings)
    assert all(
        setting.default is None or setting.checked(setting.default) == setting.default for setting in kind.settings
    )
    assert len({one.key for one in kind.settings}) == len(kind.settings)
    assert len({one.key for one in kind.roles}) == len(kind.roles)
    assert all(role.title and role.hint for role in kind.roles)
    assert kind.recipe.length_s > 0
    assert kind.recipe.samples_per_s > 0
    assert all((kind.recipe.where, kind.recipe.switched_on, kind.recipe.coupling))


@pytest.mark.parametrize("listed", KINDS, ids=lambda listed: listed.key)
def test_the_list_says_what_the_kind_says(listed: ListedKind) -> None:
    kind = kind_named(listed.key)
    assert (listed.key, listed.title, listed.by) == (kind.key, kind.title, kind.by)


def test_kinds_have_different_names() -> None:
    assert len({kind.key for kind in KINDS}) == len({kind.title for kind in KINDS}) == len(KINDS)


def test_a_figure_is_what_was_given_else_the_default() -> None:
    assert Conditions().figure(TEETH) == 60.0
    assert Conditions(settings=(("teeth", 36.0),)).figure(TEETH) == 36.0


@pytest.mark.parametrize("value", [1.0, 201.0, float("nan"), float("inf")])
def test_a_figure_that_makes_no_sense_is_refused(value: float) -> None:
    with pytest.raises(CannotUse, match="Give 2 to 200"):
        TEETH.checked(value)


def test_unknown_settings_and_roles_name_those_there_are() -> None:
    with pytest.raises(CannotUse, match="teeth"):
        setting_named((TEETH,), "tooth", "toothed-wheel")
    with pytest.raises(CannotUse, match="cam"):
        role_named((Role("cam", "cam sensor", "V", "It tells the turns apart."),), "came", "toothed-wheel")


def test_a_channel_beside_is_found_by_its_role() -> None:
    cam = Channel("CAM", "V", FloatSamples(np.zeros(4, np.float32)), 0.0, 1e-3)
    conditions = Conditions(besides=(Beside("cam", cam),))
    assert conditions.beside("cam") is cam
    assert conditions.beside("current") is None


def test_a_track_becomes_a_channel_for_a_lane() -> None:
    track = Track("speed", "rpm", np.array([0.0, 0.5, 1.0]), np.array([800.0, np.nan, 810.0]))
    channel = track.as_channel()
    assert channel.form == "uneven"
    assert channel.samples.block(0, 3)[2] == 810.0
    with pytest.raises(ValueError, match="rise"):
        Track("speed", "rpm", np.array([0.0, -1.0]), np.zeros(2))
