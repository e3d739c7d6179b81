"""The hose and what one hole serves: every assumption of the fill plan, with its default and where that comes from.

A hole in the netting serves what the hose reaches from it inside the cavity: down by the length inserted and the throw
beyond its end, up by the throw of the hose turned upwards, sideways by swinging its free end.

The throws are assumptions of this project. They were chosen so that what crews do comes out of the method (common
practice, no published source): with a short hose two holes in a bay of an 8 ft wall and one in a wall of 4 ft or less,
with a long hose one in 8 ft and a second near the top in 9 and 10 ft. Between plates of 4 1/2 in these bays are 1.10 m
(4 ft wall), 2.35 m (precut stud of 92 5/8 in), 2.63 to 2.66 m and 2.93 to 2.96 m high; a bay of a full 4 ft is 1.22 m.
One hole of a short hose must therefore reach between 1.22 and 2.35 m, one of a long hose between 2.35 and 2.63 m, and
the single hole of the 8 ft wall can be cut standing only if the hose throws some 0.40 m upwards. Throws of 1.5 ft both
ways, with 2.5 ft (short) or 5.5 ft (long) inserted, give 5.5 ft = 1.68 m and 8.5 ft = 2.59 m.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from geometry.reach import Reach


@dataclass(frozen=True, slots=True)
class HoseSettings:
    """Hose, reach of the fibre and limits, m (m3). Every default is an assumption of this project or common practice
    without a published source, as said beside it; the job file can change each."""

    name: str = "short hose"
    outside_diameter: float = 3 * 0.0254
    """3 or 4 in: common practice, no published source."""
    insertion: float = 2.5 * 0.3048
    """Length inserted downwards; 2 to 3 ft for a short hose: common practice, no published source."""
    throw_down: float = 1.5 * 0.3048
    """Beyond the end of the hose, downwards. Own assumption, see the head of this module."""
    throw_up: float = 1.5 * 0.3048
    """Above the hole, hose turned upwards. Own assumption, as above."""
    throw_sideways: float = 1.5 * 0.3048
    """To either side of the hole. Own assumption: the free end can be swung, so as far as the throw."""
    margin: float = 0.010
    """Between the edge of the hole and the nearest member. Own assumption."""
    share: float = 0.999
    """Part of a cavity's elevation that holes must reach."""
    standing_reach: float = 2.0
    """Highest hole above the floor that is filled without ladder or stilts. Own assumption."""
    ladder_reach: float = 12 * 0.3048
    """Highest hole above the floor that is filled from a ladder or stilts; above, a scaffold. Own assumption."""
    comfortable_height: float = 1.2
    """Height above the floor that a hole is kept near where it is free to move. Own assumption."""
    least_width: float = 0.0
    """Cavities of less clear width are filled by hand, and in any case those in which no hole has room."""
    least_depth: float = 0.050
    """Cavities shallower than this are filled by hand. Own assumption: a flexible hose flattens that far."""
    least_volume: float = 0.003
    """m3; smaller cavities are filled by hand. Own assumption: filled faster than a hole is cut and closed."""
    hand_width: float = 0.025
    """Narrowest front through which a hand tool can push a batt. Own assumption (1 in)."""
    hand_front: float = 0.10
    """Least part of a cavity that must be open in front to fill it by hand. Own assumption."""

    @property
    def reach(self) -> Reach:
        """What one hole reaches: in every direction at least half the hose itself."""
        least = 0.5 * self.outside_diameter
        return Reach(
            max(self.insertion + self.throw_down, least), max(self.throw_up, least), max(self.throw_sideways, least)
        )

    @property
    def clearance(self) -> float:
        """m; distance from the centre of a hole to the nearest member."""
        return 0.5 * self.outside_diameter + self.margin

    @property
    def cut(self) -> float:
        """m; length of a straight slit that lets the round hose through: half its circumference (own arithmetic)."""
        return 0.5 * pi * self.outside_diameter


SHORT_HOSE = HoseSettings()
LONG_HOSE = HoseSettings(name="long hose", insertion=5.5 * 0.3048)
