"""What a trace stands for, told by word, marker and weight as well as by colour."""

from dataclasses import dataclass
from typing import Literal

RoleKey = Literal["known-good", "suspect", "after repair", "difference", "other"]


@dataclass(frozen=True)
class Role:
    """A role's word, marker and line weight; its colour is the theme's.

    Attributes
    ----------
    key : str
        The word, as on screen and in reports.
    marker : str
        One sign that stands before the word wherever the role is named.
    weight : int
        Line width in pixels at normal size (the suspect is the heaviest).
    """

    key: RoleKey
    marker: str
    weight: int


ROLES: dict[RoleKey, Role] = {
    "known-good": Role("known-good", "●", 1),
    "suspect": Role("suspect", "■", 2),
    "after repair": Role("after repair", "▲", 1),
    "difference": Role("difference", "◆", 1),
    "other": Role("other", "", 1),
}
