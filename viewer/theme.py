"""Two themes, daylight and night: colours by role.

Role colours come from the Okabe–Ito set (Okabe & Ito 2008), shaded so that every mark keeps at least 3:1 against its
ground (WCAG 2.2, 1.4.11); text keeps at least 7:1 (WCAG 2.2, 1.4.6). Role colours never colour text.
"""

from dataclasses import dataclass, replace
from typing import Literal

from loomlight.viewer.roles import RoleKey

ThemeKey = Literal["daylight", "night"]


@dataclass(frozen=True)
class Theme:
    """Colours as ``#rrggbb`` and the factor on line widths.

    Attributes
    ----------
    ground, panel, raised : str
        Behind traces; behind controls; of buttons and fields.
    text, quiet_text : str
        Both at least 7:1 on ground, panel and raised.
    rule, grid : str
        Borders of controls (3:1); lines behind traces (decoration only).
    accent : str
        Focus ring and the chosen place (3:1), never the only sign of it.
    finding : str
        Hatch of a severe finding; its outline is the text colour.
    traces : dict
        One colour a role.
    greys : tuple
        Of channels without a role that lie over one another.
    density : tuple of str
        Of a folded view: where the signal passed once, and where it passed most often.
    width_factor : float
        Daylight draws thicker lines, for a laptop in the sun.
    """

    key: ThemeKey
    ground: str
    panel: str
    raised: str
    text: str
    quiet_text: str
    rule: str
    grid: str
    accent: str
    finding: str
    traces: dict[RoleKey, str]
    greys: tuple[str, ...]
    density: tuple[str, str]
    width_factor: float


DAYLIGHT = Theme(
    key="daylight",
    ground="#ffffff",
    panel="#f4f4f2",
    raised="#ffffff",
    text="#000000",
    quiet_text="#3d3d3d",
    rule="#6b6b6b",
    grid="#d9d9d9",
    accent="#005a8f",
    finding="#e69f00",
    traces={
        "known-good": "#008060",
        "suspect": "#c24f00",
        "after repair": "#0072b2",
        "difference": "#a3527f",
        "other": "#5f5f5f",
    },
    greys=("#5f5f5f", "#1f1f1f", "#8a8a8a"),
    density=("#8b8577", "#15100a"),
    width_factor=1.5,
)

NIGHT = Theme(
    key="night",
    ground="#14181c",
    panel="#1c2127",
    raised="#272d34",
    text="#e2e2dc",
    quiet_text="#c2c6ca",
    rule="#8a9097",
    grid="#2f363d",
    accent="#56b4e9",
    finding="#e69f00",
    traces={
        "known-good": "#00a87f",
        "suspect": "#e0701a",
        "after repair": "#3d9bd4",
        "difference": "#cc79a7",
        "other": "#9a9a9a",
    },
    greys=("#9a9a9a", "#e6e6e6", "#6c7176"),
    density=("#6f6a5e", "#fbf3df"),
    width_factor=1.0,
)

HEAVIER = 1.4
"""Times the lines' width with more contrast."""


def with_more_contrast(theme: Theme) -> Theme:
    """The same theme with all text and edges in the strongest contrast: black and white, and heavier lines."""
    is_dark = theme.key == "night"
    ground, text = ("#000000", "#ffffff") if is_dark else ("#ffffff", "#000000")
    return replace(
        theme,
        ground=ground,
        panel=ground,
        raised=ground,
        text=text,
        quiet_text=text,
        rule=text,
        grid="#5a5a5a" if is_dark else "#a6a6a6",
        accent="#ffd400" if is_dark else "#00377a",
        width_factor=theme.width_factor * HEAVIER,
    )


THEMES: dict[ThemeKey, Theme] = {"daylight": DAYLIGHT, "night": NIGHT}
