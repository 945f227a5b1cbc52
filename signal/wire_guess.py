"""What is this wire? A ranked guess of the signal kind from samples alone, with the reason for each."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from loomlight.signal.capture import Channel
from loomlight.signal.kinds.listing import KINDS
from loomlight.signal.progress import Progress, part, unwatched
from loomlight.signal.wire_bits import clocked
from loomlight.signal.wire_can import told_apart
from loomlight.signal.wire_frames import Frames, read_frames
from loomlight.signal.wire_looks import Looks
from loomlight.signal.wire_pulses import views
from loomlight.signal.wire_rails import rails
from loomlight.signal.wire_sight import Sight, look_at
from loomlight.signal.wire_survey import survey
from loomlight.signal.wire_switched import coil, pwm, wheel_speed
from loomlight.signal.wire_teeth import toothed_wheel

LEAST = 0.3
"""Below this a kind is not worth naming."""
SURE, CLEAR = 0.6, 0.15
"""Likeness from which on a guess may be taken, and how far the second has to stay behind."""
READ = 0.8
"""Frames that explain so much leave nothing to guess."""
BESIDE, BESIDE_FRAMES = 0.6, 0.45
"""What is left of a supply's likeness where the wire talks or pulses."""
NO_GAPS = 0.75
"""What is left of a switched wire's likeness where the same gap comes back every turn: nothing switches like that."""
FLAT_SHARE, FLAT_V = 0.05, 0.12
TRAITS = {"toothed-wheel": toothed_wheel, "wheel-speed": wheel_speed, "pwm": pwm, "coil": coil}


@dataclass(frozen=True)
class Guess:
    """One kind that the wire may carry.

    Attributes
    ----------
    kind : str
        Key of the signal kind.
    likeness : float
        0 to 1: how much of what was seen this kind explains.
    reason : str
        What speaks for it, with numbers, one sentence.
    """

    kind: str
    likeness: float
    reason: str


@dataclass(frozen=True)
class Guesses:
    """The guesses, most alike first; empty for "none of these", and then ``why`` says what was seen instead."""

    ranked: tuple[Guess, ...]
    why: str = ""

    @property
    def first(self) -> Guess | None:
        """The most alike, if there is one."""
        return self.ranked[0] if self.ranked else None

    @property
    def sure(self) -> Guess | None:
        """The most alike where it is alike enough and no other comes near; else None: a person has to say."""
        if not self.ranked or self.ranked[0].likeness < SURE:
            return None
        rival = self.ranked[1].likeness if len(self.ranked) > 1 else 0.0
        return self.ranked[0] if self.ranked[0].likeness >= rival + CLEAR else None


def guess(channel: Channel, progress: Progress = unwatched) -> Guesses:
    """Guess what the wire carries. It is offered to a person, never taken for granted.

    What carries frames is read by its own protocol, at whatever levels: frames whose check is right are hardly chance. All
    else is told by levels, spacings of edges, and what repeats.

    Parameters
    ----------
    channel : Channel
        Any unit; of long ones the stretch in which most happens, and the whole in means.
    progress : Progress
        0 to 1.
    """
    surveyed = survey(channel, part(progress, 0.0, 0.5))
    if surveyed is None:
        return Guesses((), "Too short, or without a step of its own: nothing can be told from it.")
    sight = look_at(surveyed.busiest, part(progress, 0.5, 0.6))
    if sight.levels is None:
        return Guesses((), "No sample is a number.")
    found: list[Guess] = []
    looks = Looks(sight)
    if sight.channel.unit in (None, "V"):
        for frames in read_frames(looks):
            found += _of_frames(frames)
    progress(0.7)
    if not any(one.likeness >= READ for one in found):
        whole = look_at(surveyed.coarse, part(progress, 0.7, 0.8)) if surveyed.coarse is not None else None
        found += _by_traits(looks, whole, framed=sum(one.likeness for one in found))
    known = {kind.key for kind in KINDS}
    best: dict[str, Guess] = {}
    for one in found:
        better = one.kind not in best or one.likeness > best[one.kind].likeness
        if one.likeness >= LEAST and one.kind in known and better:
            best[one.kind] = one
    ranked = tuple(sorted(best.values(), key=lambda one: -one.likeness))
    return Guesses(ranked, "" if ranked else _nothing(sight))


def _by_traits(looks: Looks, whole: Sight | None, *, framed: float) -> list[Guess]:
    """All but frames.

    Parameters
    ----------
    looks : Looks
        Of the stretch in which most happens.
    whole : Sight or None
        Of a longer channel all of it, in means: what is slow shows only there.
    framed : float
        How likely frames are already.
    """
    found = [Guess(key, *told) for key, told in clocked(looks).items()]
    clock = max(framed, sum(one.likeness for one in found))
    for view in views(looks) + (views(Looks(whole)) if whole is not None else []):
        for key, trait in TRAITS.items():
            seen = trait(view)
            if seen is not None:
                found.append(Guess(key, *seen))
    if any(one.kind == "toothed-wheel" and one.likeness >= READ for one in found):
        found = [replace(one, likeness=NO_GAPS * one.likeness) if one.kind == "pwm" else one for one in found]
    # A wire that talks or is switched may hang at a supply's volts: then its pulses tell more than its level.
    pulsed = max((one.likeness for one in found), default=0.0)
    room = BESIDE_FRAMES if clock >= READ else BESIDE if clock >= 0.4 or pulsed >= SURE else 1.0
    return found + [
        Guess(key, room * likeness, reason) for key, (likeness, reason) in rails(whole or looks.sight).items()
    ]


def _of_frames(frames: Frames) -> Iterator[Guess]:
    """By chance a check of fifteen bits fits one frame in 32 000, one of four one in 16: the reader asks for more of those."""
    count = f"{frames.good} frame{'s' if frames.good > 1 else ''} with a right check"
    explain = f"in them lie {frames.share:.0%} of all edges."
    if frames.protocol == "can":
        strength = 0.62 + 0.1 * frames.share if frames.good == 1 else 0.8 + 0.19 * frames.share
        for key, (likely, words) in told_apart(frames).items():
            yield Guess(key, strength * likely, f"{count} at {words}; {explain}")
        return
    if frames.protocol == "sent":
        strength = 0.72 + 0.27 * frames.share
    elif frames.good == 1:
        strength = 0.35 + 0.3 * frames.share
    else:
        strength = 0.72 + 0.27 * frames.share
    levels = f"between {frames.active:.1f} and {frames.rest:.1f} V"
    yield Guess(frames.protocol, strength, f"{count} {levels}; {explain}")


def _nothing(sight: Sight) -> str:
    levels = sight.levels
    assert levels is not None
    reach = levels.greatest - levels.least
    if reach <= 12.0 * max(sight.noise, 1e-12):
        unit = sight.channel.unit or ""
        if reach <= max(FLAT_SHARE * abs(levels.greatest), FLAT_V):
            return "The line is flat: nothing happens on it."
        return f"Nothing but noise, from {levels.least:.2g} to {levels.greatest:.2g} {unit}".rstrip() + "."
    return "What was seen is like none of the kinds."
