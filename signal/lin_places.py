"""Where in a LIN frame a moment falls: whose part, which field, which bit."""

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np

from loomlight.signal.lin_decode import LinFrame, LinTraffic
from loomlight.signal.lin_parts import COMMANDER
from loomlight.signal.lin_words import BREAK_BITS, BYTE_BITS, DELIMITER_BITS, HEADER_BITS

HEADER_FIELDS = 2
FIELDS = ("break", "sync field", "identifier", *(f"data byte {number}" for number in range(1, 9)), "checksum")
"""In the order in which they come."""
BETWEEN = "between bytes"
SOMEWHERE = "header"
"""Where a header is known to stand, and not to the bit."""


@dataclass(frozen=True)
class FramePlace:
    """Where in a frame a moment falls.

    Attributes
    ----------
    talker : str
        ``"commander"`` or ``"response 0x21"``.
    identifier : int or None
        Of the frame; None where it could not be read.
    field : str
        One of `FIELDS`, "between bytes", or "header" where more is not known.
    bit : int or None
        0 for the start bit, 1 to 8, 9 for the stop bit; in a break the bits are counted from 1; None between bytes.
    """

    talker: str
    identifier: int | None
    field: str
    bit: int | None

    def in_words(self) -> str:
        """As a phrase: "bit 3 of data byte 2 of response 0x21", "bit 7 of the break of header 0x21"."""
        whose = self.talker
        if self.talker == COMMANDER:
            whose = (
                f"header {self.identifier:#04x}" if self.identifier is not None else "a header that could not be read"
            )
        if self.field == SOMEWHERE:
            return whose
        if self.bit is None:
            return f"{self.field} of {whose}"
        named = {0: "start bit", BYTE_BITS - 1: "stop bit"} if self.field != "break" else {}
        article = "the " if self.field[-1].isalpha() else ""
        return f"{named.get(self.bit, f'bit {self.bit}')} of {article}{self.field} of {whose}"


def places_in(traffic: LinTraffic, times_s: list[float]) -> list[FramePlace | None]:
    """Place of each moment; None outside all frames.

    Parameters
    ----------
    traffic : LinTraffic
        Frames in order.
    times_s : list of float
        Seconds on its axis.
    """
    starts, torn = np.array([frame.start_s for frame in traffic.frames]), np.array(traffic.broken_breaks)
    in_frame, in_torn = (np.searchsorted(one, times_s, side="right") - 1 for one in (starts, torn))
    found: list[FramePlace | None] = []
    for at_s, place, number in zip(times_s, in_frame.tolist(), in_torn.tolist(), strict=True):
        if place >= 0 and at_s <= traffic.frames[place].stop_s:
            found.append(_in_frame(traffic.frames[place], at_s))
        else:
            found.append(_in_torn(float(torn[number]), at_s, traffic.bit_s) if number >= 0 else None)
    return found


def _in_torn(start_s: float, at_s: float, bit_s: float | None) -> FramePlace | None:
    """Where a header that could not be read would have it, by the nominal lengths of its fields."""
    bits = (at_s - start_s) / bit_s if bit_s else float("inf")
    if bits >= HEADER_BITS:
        return None
    begun = bits - BREAK_BITS - DELIMITER_BITS
    if begun < 0:
        return FramePlace(COMMANDER, None, "break", int(bits) + 1)
    return FramePlace(COMMANDER, None, FIELDS[1 + int(begun // BYTE_BITS)], int(begun % BYTE_BITS))


def _in_frame(frame: LinFrame, at_s: float) -> FramePlace:
    bits = frame.bit_s
    starts = frame.byte_starts_s
    number = bisect_right(starts, at_s + 1e-9) - 1
    if number < 0:
        return FramePlace(COMMANDER, frame.identifier, "break", int((at_s - frame.start_s) / bits) + 1)
    talker = COMMANDER
    if number >= HEADER_FIELDS:
        talker = f"response {frame.identifier:#04x}" if frame.identifier is not None else "response"
    bit = int((at_s - starts[number]) / bits)
    if bit >= BYTE_BITS:
        return FramePlace(talker, frame.identifier, BETWEEN, None)
    return FramePlace(talker, frame.identifier, _field(frame, number), bit)


def _field(frame: LinFrame, number: int) -> str:
    if number < HEADER_FIELDS:
        return FIELDS[1 + number]
    is_last = frame.checksum is not None and number == len(frame.byte_starts_s) - 1
    return "checksum" if is_last else f"data byte {number - HEADER_FIELDS + 1}"
