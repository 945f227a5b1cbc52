"""What a comparison needs beside the two channels, as the user said it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomlight.signal.kinds.listing import OWN_LIMITS

if TYPE_CHECKING:
    from loomlight.signal.beside import Beside
    from loomlight.signal.examination import Conditions
    from loomlight.signal.limit_curve import OwnLimits
    from loomlight.signal.lineup import WantedBy


@dataclass(frozen=True)
class Ask:
    """What a comparison needs beside the two channels.

    ``settings`` are the kind's figures that were changed; ``besides`` and ``good_besides`` are pairs of role and channel name,
    in the suspect's file and in the known-good's. Of ``limits`` the curves count; their levels stand in the fields.
    """

    kind: str = "lin"
    supply_v: float | None = None
    upper_v: float | None = None
    lower_v: float | None = None
    within_v: float | None = None
    by: WantedBy = "auto"
    settings: tuple[tuple[str, float], ...] = ()
    besides: tuple[tuple[str, str], ...] = ()
    good_besides: tuple[tuple[str, str], ...] = ()
    limits: OwnLimits | None = None

    def conditions(self, *, same_moment: bool, besides: tuple[Beside, ...] = ()) -> Conditions:
        """As the judging functions take it."""
        from loomlight.signal.examination import Conditions

        curves = self.limits if self.kind == OWN_LIMITS.key else None
        return Conditions(
            supply_v=self.supply_v,
            same_moment=same_moment,
            upper_v=self.upper_v,
            lower_v=self.lower_v,
            within_v=self.within_v,
            settings=self.settings,
            besides=besides,
            upper_curve=curves.upper if curves is not None else None,
            lower_curve=curves.lower if curves is not None else None,
            curves_on_good=curves is not None and curves.on_good,
        )
