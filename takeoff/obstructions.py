"""What stands in a bay without being part of the frame: pipes, ducts, boxes, with the volume that each takes.

Nothing is passed over for being thin: a cable takes its few cm3 and parts nothing, since a bay reaches round it; what
closes a bay from side to side and from face to face parts it, however thin.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.shares import shares_of
from geometry.slabs import Looks
from geometry.solids import Prism, Solid, bounds
from geometry.tolerances import Tolerances
from geometry.voids import Void
from takeoff.model import Frame, Member, MemberRole, Opening

NEAR = 0.001
"""m; an obstruction no farther from a void than this bounds it."""
LEAST = 1e-9
"""m3; what an obstruction takes of a bay below this is rounding (1 mm3)."""


@dataclass(frozen=True, slots=True)
class Obstructions:
    """Obstructions of one cavity: ids, and m3 that each takes of the bay (None where it cannot be told)."""

    ids: tuple[str, ...] = ()
    volumes: tuple[float | None, ...] = ()


NO_OBSTRUCTIONS = Obstructions()


def holes_of(frame: Frame) -> list[Solid]:
    """All openings of a frame as solids, wall axes."""
    return [_hole(opening, frame.layer.depth) for opening in frame.openings if not opening.outline.is_empty]


def _hole(opening: Opening, depth: float) -> Solid:
    return opening.solid if opening.solid is not None else Prism(opening.outline, 0.0, depth)


def obstructions_in(frame: Frame, looks: Looks, voids: Sequence[Void], tolerances: Tolerances) -> list[Obstructions]:
    """For each void the obstructions that take volume from its bay and reach to it, in the order of the members.

    looks: those that the voids were cut at. A bay is the void that would be there without any obstruction; where one of
    them parts it, what it takes cannot be told for each part.
    """
    obstacles = [member for member in frame.members if member.role is MemberRole.OBSTRUCTION]
    if not obstacles or not voids:
        return [NO_OBSTRUCTIONS] * len(voids)
    rest = [member.solid for member in frame.members if member.role is not MemberRole.OBSTRUCTION]
    shares = shares_of(
        (frame.layer.outline, holes_of(frame), rest), [one.solid for one in obstacles], (looks, voids), tolerances
    )
    close = _close(obstacles, voids)
    known = shares.holders >= 0
    taken = np.where(known, shares.volumes[:, np.maximum(shares.holders, 0)], 0.0)  # (obstruction, void)
    reaching = close & (taken > LEAST)
    found: list[Obstructions] = []
    for number in range(len(voids)):
        rows = np.flatnonzero(reaching[:, number]).tolist()
        alike = shares.holders == shares.holders[number]
        found.append(
            Obstructions(
                tuple(obstacles[row].member_id for row in rows),
                tuple(float(taken[row, number]) if reaching[row, alike].sum() == 1 else None for row in rows),
            )
        )
    return found


def _close(obstacles: Sequence[Member], voids: Sequence[Void]) -> NDArray[np.bool_]:
    """Which obstruction reaches to which void, by the box of the one and the outline of the other: (o, v) bool."""
    boxes = np.array([bounds(member.solid) for member in obstacles])
    outlines = np.array([void.outline for void in voids], dtype=object)
    depths = np.array([(void.y_min, void.y_max) for void in voids])
    zones = shapely.box(boxes[:, 0, 0], boxes[:, 0, 2], boxes[:, 1, 0], boxes[:, 1, 2])
    beside = shapely.distance(np.asarray(zones)[:, None], outlines[None, :]) < NEAR
    deep = (boxes[:, 0, 1][:, None] < depths[None, :, 1] + NEAR) & (boxes[:, 1, 1][:, None] > depths[None, :, 0] - NEAR)
    return beside & deep
