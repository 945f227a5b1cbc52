"""All signal kinds there are."""

from loomlight.signal.errors import UnknownKind
from loomlight.signal.kinds.can import CAN
from loomlight.signal.kinds.can_low_speed import CAN_LOW_SPEED
from loomlight.signal.kinds.can_single_wire import CAN_SINGLE_WIRE
from loomlight.signal.kinds.charging import CHARGING
from loomlight.signal.kinds.coil import COIL
from loomlight.signal.kinds.cranking import CRANKING
from loomlight.signal.kinds.k_line import K_LINE
from loomlight.signal.kinds.lin import LIN
from loomlight.signal.kinds.own_limits import OWN_LIMITS
from loomlight.signal.kinds.pwm import PWM
from loomlight.signal.kinds.sent import SENT
from loomlight.signal.kinds.shape import SignalKind
from loomlight.signal.kinds.supply import SUPPLY
from loomlight.signal.kinds.toothed_wheel import TOOTHED_WHEEL
from loomlight.signal.kinds.wheel_speed import WHEEL_SPEED

KINDS: tuple[SignalKind, ...] = (
    LIN,
    CAN,
    CAN_LOW_SPEED,
    CAN_SINGLE_WIRE,
    K_LINE,
    SENT,
    SUPPLY,
    TOOTHED_WHEEL,
    WHEEL_SPEED,
    PWM,
    CHARGING,
    COIL,
    CRANKING,
    OWN_LIMITS,
)


def kind_named(key: str) -> SignalKind:
    """The kind with this key.

    Raises
    ------
    UnknownKind
        Naming those there are.
    """
    for kind in KINDS:
        if kind.key == key:
            return kind
    raise UnknownKind(key, known=tuple(kind.key for kind in KINDS))
