"""What a CAN receiver has read: every frame, and every bit of it."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from loomlight.signal.samples import Times

WHOLE, STUFF_ERROR, FORM_ERROR, CUT, RATE_UNKNOWN = range(5)
"""How reading a frame ended."""

Whole = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Clock:
    """Bit times.

    Attributes
    ----------
    bit_s : float
        Of the arbitration phase and of classical frames, seconds.
    fast_bit_s : float or None
        Of an FD frame's data phase; None: not known.
    """

    bit_s: float
    fast_bit_s: float | None = None


@dataclass(frozen=True, eq=False)
class Bits:
    """Every bit that was read, frame after frame.

    Attributes
    ----------
    frame : ndarray of int64, shape (n,)
        Ascending.
    start_s, length_s : ndarray of float64, shape (n,)
        Begin of the bit by the receiver's clock, and its length; seconds.
    recessive, is_stuff : ndarray of bool, shape (n,)
        Its value; whether it is a stuff bit.
    part : ndarray of int8, shape (n,)
        Which field it belongs to.
    """

    frame: Whole = field(repr=False)
    start_s: Times = field(repr=False)
    length_s: Times = field(repr=False)
    recessive: Flags = field(repr=False)
    is_stuff: Flags = field(repr=False)
    part: npt.NDArray[np.int8] = field(repr=False)

    @property
    def of_frame(self) -> Whole:
        """Place of each frame's first bit, and the end of the last: bits of frame k are ``[k]`` to ``[k + 1]``."""
        return np.searchsorted(self.frame, np.arange((self.frame[-1] if self.frame.size else -1) + 2))


@dataclass(frozen=True, eq=False)
class Received:
    """All frames, one element each.

    Attributes
    ----------
    start_s : ndarray of float64, shape (n,)
        Edge of the start of frame.
    stop_s : ndarray of float64
        End of the last bit that was read.
    identifier : ndarray of int64
        -1 where it was not read to its end.
    extended, remote, fd, switched, passive, acknowledged : ndarray of bool
        Form of the frame; ``passive``: the FD sender is error passive.
    length_code, length : ndarray of int64
        -1 where not read; bytes that were read.
    data : ndarray of uint8, shape (n, 64)
        The first ``length`` of each row count.
    check, check_wanted : ndarray of int64
        As received, and worked out; -1 where not read.
    ended : ndarray of int64
        `WHOLE`, `STUFF_ERROR`, `FORM_ERROR`, `CUT` or `RATE_UNKNOWN`.
    part : ndarray of int64
        Where reading ended; `DONE` for whole frames.
    bits : Bits
        Of all frames.
    """

    start_s: Times = field(repr=False)
    stop_s: Times = field(repr=False)
    identifier: Whole = field(repr=False)
    extended: Flags = field(repr=False)
    remote: Flags = field(repr=False)
    fd: Flags = field(repr=False)
    switched: Flags = field(repr=False)
    passive: Flags = field(repr=False)
    acknowledged: Flags = field(repr=False)
    length_code: Whole = field(repr=False)
    length: Whole = field(repr=False)
    data: npt.NDArray[np.uint8] = field(repr=False)
    check: Whole = field(repr=False)
    check_wanted: Whole = field(repr=False)
    ended: Whole = field(repr=False)
    part: Whole = field(repr=False)
    bits: Bits = field(repr=False)

    @property
    def good(self) -> Flags:
        """Read to the end, and the checksum fits."""
        fits: Flags = (self.ended == WHOLE) & (self.check == self.check_wanted)
        return fits
