"""All signal kinds there are: what a list of them shows, at hand at once; the kind itself is loaded when it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomlight.signal.errors import UnknownKind

if TYPE_CHECKING:
    from loomlight.signal.kinds.shape import SignalKind
    from loomlight.signal.lineup import WantedBy


@dataclass(frozen=True)
class ListedKind:
    """A kind as it stands in a list. What its own module says is the same; a test holds that.

    Attributes
    ----------
    key : str
        Name on the command line and in files.
    title : str
        Name on the screen.
    by : {"auto", "shape", "frame", "cycle"}
        How ``auto`` lines it up.
    load : callable
        Gives the kind; what it works with is loaded at the first call.
    """

    key: str
    title: str
    by: WantedBy
    load: Callable[[], SignalKind]


def _lin() -> SignalKind:
    from loomlight.signal.kinds.lin import LIN

    return LIN


def _can() -> SignalKind:
    from loomlight.signal.kinds.can import CAN

    return CAN


def _can_low_speed() -> SignalKind:
    from loomlight.signal.kinds.can_low_speed import CAN_LOW_SPEED

    return CAN_LOW_SPEED


def _can_single_wire() -> SignalKind:
    from loomlight.signal.kinds.can_single_wire import CAN_SINGLE_WIRE

    return CAN_SINGLE_WIRE


def _k_line() -> SignalKind:
    from loomlight.signal.kinds.k_line import K_LINE

    return K_LINE


def _sent() -> SignalKind:
    from loomlight.signal.kinds.sent import SENT

    return SENT


def _supply() -> SignalKind:
    from loomlight.signal.kinds.supply import SUPPLY

    return SUPPLY


def _toothed_wheel() -> SignalKind:
    from loomlight.signal.kinds.toothed_wheel import TOOTHED_WHEEL

    return TOOTHED_WHEEL


def _wheel_speed() -> SignalKind:
    from loomlight.signal.kinds.wheel_speed import WHEEL_SPEED

    return WHEEL_SPEED


def _pwm() -> SignalKind:
    from loomlight.signal.kinds.pwm import PWM

    return PWM


def _charging() -> SignalKind:
    from loomlight.signal.kinds.charging import CHARGING

    return CHARGING


def _coil() -> SignalKind:
    from loomlight.signal.kinds.coil import COIL

    return COIL


def _cranking() -> SignalKind:
    from loomlight.signal.kinds.cranking import CRANKING

    return CRANKING


def _own_limits() -> SignalKind:
    from loomlight.signal.kinds.own_limits import OWN_LIMITS

    return OWN_LIMITS


OWN_LIMITS = ListedKind("own-limits", "Own limits", "auto", _own_limits)

KINDS: tuple[ListedKind, ...] = (
    ListedKind("lin", "LIN bus", "frame", _lin),
    ListedKind("can", "High-speed CAN", "frame", _can),
    ListedKind("can-low-speed", "Low-speed CAN", "frame", _can_low_speed),
    ListedKind("can-single-wire", "Single-wire CAN", "frame", _can_single_wire),
    ListedKind("k-line", "K-line", "frame", _k_line),
    ListedKind("sent", "SENT sensor", "auto", _sent),
    ListedKind("supply", "Supply rail", "auto", _supply),
    ListedKind("toothed-wheel", "Toothed wheel", "cycle", _toothed_wheel),
    ListedKind("wheel-speed", "Wheel speed, two-wire current", "cycle", _wheel_speed),
    ListedKind("pwm", "Switched or PWM", "cycle", _pwm),
    ListedKind("charging", "Charging", "auto", _charging),
    ListedKind("coil", "Coil or injector", "cycle", _coil),
    ListedKind("cranking", "Cranking", "auto", _cranking),
    OWN_LIMITS,
)


def listed_kind(key: str) -> ListedKind:
    """What a list shows of the kind with this key.

    Raises
    ------
    UnknownKind
        Naming those there are.
    """
    for kind in KINDS:
        if kind.key == key:
            return kind
    raise UnknownKind(key, known=tuple(kind.key for kind in KINDS))


def kind_named(key: str) -> SignalKind:
    """The kind with this key, loaded with all that it works with.

    Raises
    ------
    UnknownKind
        Naming those there are.
    """
    return listed_kind(key).load()
