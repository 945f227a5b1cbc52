"""WCAG 2.2, success criteria 1.4.6 (text, 7:1) and 1.4.11 (marks, 3:1), with the contrast formula of its glossary."""

import itertools

import pytest

from loomlight.viewer.theme import THEMES, Theme


def _luminance(colour: str) -> float:
    shares = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_on_white_as_published() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES.keys())
def test_text_keeps_seven_to_one(theme: Theme) -> None:
    for text, ground in itertools.product((theme.text, theme.quiet_text), (theme.ground, theme.panel, theme.raised)):
        assert contrast(text, ground) >= 7.0, (text, ground)


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES.keys())
def test_marks_keep_three_to_one_on_their_ground(theme: Theme) -> None:
    for colour in (*theme.traces.values(), *theme.greys, *theme.density):
        assert contrast(colour, theme.ground) >= 3.0, colour
    for ground in (theme.ground, theme.panel, theme.raised):
        assert contrast(theme.rule, ground) >= 3.0
        assert contrast(theme.accent, ground) >= 3.0
