"""Own limits under their names: kept, found, replaced, put aside; what is damaged is told and not written over."""

from pathlib import Path

import pytest

from loomlight.signal.errors import FileProblem, LoomlightError
from loomlight.signal.limit_curve import LimitCurve, OwnLimits
from loomlight.storage.limits_store import LimitsStore, read_limits

CURVE = LimitCurve(((0.0, 1.0), (0.5, 2.0)))
SOME = OwnLimits("Throttle sweep", "V", upper=CURVE, lower_level=0.2, on_good=True)


def test_what_is_kept_comes_back(tmp_path: Path) -> None:
    store = LimitsStore(tmp_path)
    store.keep(SOME)
    assert store.all() == (SOME,)
    assert store.named("throttle SWEEP ") == SOME
    changed = OwnLimits("Throttle sweep", within=0.3)
    store.keep(changed)
    assert store.all() == (changed,)


def test_different_names_never_share_a_file(tmp_path: Path) -> None:
    store = LimitsStore(tmp_path)
    store.keep(SOME.named("a/b"))
    store.keep(SOME.named("a:b"))
    assert [one.name for one in store.all()] == ["a/b", "a:b"]


def test_putting_aside_loses_nothing(tmp_path: Path) -> None:
    store = LimitsStore(tmp_path)
    store.keep(SOME)
    first = store.take_away("Throttle sweep")
    store.keep(SOME)
    second = store.take_away("Throttle sweep")
    assert store.all() == ()
    assert read_limits(first) == read_limits(second) == SOME


@pytest.mark.parametrize(
    ("content", "about"),
    [
        ("", "cannot be used"),
        ("[]", "holds no limits"),
        ('{"format": "loomlight limits", "version": 9}', "newer"),
        ('{"format": "loomlight limits", "version": 1, "name": "x", "upper": [[0, 1]]}', "2 to 2000"),
        ('{"format": "loomlight limits", "version": 1, "name": "x", "upper": "no"}', "cannot be used"),
    ],
)
def test_a_damaged_file_is_told_kept_and_no_hindrance(tmp_path: Path, content: str, about: str) -> None:
    store = LimitsStore(tmp_path)
    store.folder.mkdir(parents=True)
    spoilt = store.folder / "Throttle sweep.json"
    spoilt.write_text(content)
    with pytest.raises(FileProblem, match=about):
        read_limits(spoilt)
    store.keep(SOME)
    assert store.all() == (SOME,)
    assert spoilt.name in store.problems[0]
    assert spoilt.read_text() == content


def test_nothing_and_nameless_are_refused(tmp_path: Path) -> None:
    store = LimitsStore(tmp_path)
    with pytest.raises(LoomlightError, match="name"):
        store.keep(SOME.named(" "))
    with pytest.raises(LoomlightError, match="nothing to keep"):
        store.keep(OwnLimits("x"))
    with pytest.raises(LoomlightError, match="None are"):
        store.named("x")
