"""Channels that stand beside the one that is judged: the other wire of a pair, a current clamp, a cam sensor."""

from dataclasses import dataclass

from loomlight.signal.capture import Channel
from loomlight.signal.errors import CannotUse


@dataclass(frozen=True)
class Role:
    """What a channel beside the judged one can be.

    Attributes
    ----------
    key : str
        Name on the command line and in files: ``"current"``.
    title : str
        Name on the screen: "current in the same wire".
    unit : str
        Base unit that it must have.
    hint : str
        What it adds, one sentence.
    """

    key: str
    title: str
    unit: str
    hint: str


@dataclass(frozen=True, eq=False)
class Beside:
    """A channel in its role, recorded together with the one that is judged, on the same axis.

    Attributes
    ----------
    role : str
        Key of a `Role`.
    channel : Channel
        As recorded.
    """

    role: str
    channel: Channel


def role_named(roles: tuple[Role, ...], key: str, kind: str) -> Role:
    """The role with this key.

    Raises
    ------
    CannotUse
        Naming those that the kind has.
    """
    for role in roles:
        if role.key == key:
            return role
    known = ", ".join(role.key for role in roles)
    has = f"It has: {known}." if known else "It judges one channel alone."
    raise CannotUse(f"{kind} has no role {key!r} for a channel beside. {has}")
