"""How much of a wall belongs to which room: the elevation cut where one room beside it ends and the next begins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.solids import bounds, silhouette
from takeoff.envelope.orientation import points_beside
from takeoff.model import CavityKind, LayerTakeoff
from takeoff.walls.surroundings import Surroundings

_STEP = 0.25
"""m; how close together the rooms along a wall are looked at first."""
_HALVINGS = 8
"""How often the place of a change is halved in after that: to 1 mm."""


@dataclass(frozen=True, slots=True)
class RoomShare:
    """The part of a stud layer that one room sees. Areas in m2."""

    room: str
    """Empty where no room lies beside it."""
    gross: float
    opening: float
    framing: float

    @property
    def net(self) -> float:
        return self.gross - self.opening


def room_shares(taken: LayerTakeoff, surroundings: Surroundings, *, inside_far: bool) -> tuple[RoomShare, ...]:
    """Shares of the rooms on the inside of a stud layer, from left to right; their areas add up to the layer's.

    Where a partition meets the wall, the place belongs to the room that is nearer.
    """
    whole = (taken.gross_area, taken.opening_area, taken.framing_area)
    stretches = _stretches(taken, surroundings, inside_far=inside_far)
    if len({room for room, _, _ in stretches}) < 2:
        return (RoomShare(stretches[0][0] if stretches else "", *whole),)
    cuts = [_areas(taken, left, right) for _, left, right in stretches]
    total = np.array(cuts).sum(axis=0)
    # Silhouettes and volumes over depth agree but for bodies that taper; the layer's own areas count.
    scale = [part / found if found > 0.0 else 0.0 for part, found in zip(whole, total.tolist(), strict=True)]
    merged: dict[str, NDArray[np.float64]] = {}
    for (room, _, _), areas in zip(stretches, cuts, strict=True):
        merged[room] = merged.get(room, np.zeros(3)) + np.array(areas) * scale
    return tuple(RoomShare(room, *areas.tolist()) for room, areas in merged.items())


def _stretches(taken: LayerTakeoff, surroundings: Surroundings, *, inside_far: bool) -> list[tuple[str, float, float]]:
    """(room, left, right) along the wall, m; gaps without a room go to their neighbours."""
    layer = taken.frame.layer
    low, high = bounds(layer.outline)[:, 0].tolist()
    if high - low <= 0.0:
        return []

    def rooms(along: NDArray[np.float64]) -> list[str]:
        found = surroundings.rooms_at(points_beside(layer, along, far=inside_far))
        return ["" if room is None or room.external else room.label for room in found]

    count = max(3, int((high - low) / _STEP) + 1)
    edges = np.linspace(low, high, count + 1)
    middles = 0.5 * (edges[1:] + edges[:-1])
    names = rooms(middles)
    changes = [number for number in range(1, count) if names[number] != names[number - 1]]
    left, right = middles[[number - 1 for number in changes]], middles[changes]
    for _ in range(_HALVINGS if changes else 0):
        centre = 0.5 * (left + right)
        before = np.array([name == names[number - 1] for name, number in zip(rooms(centre), changes, strict=True)])
        left, right = np.where(before, centre, left), np.where(before, right, centre)
    places = [low, *(0.5 * (left + right)).tolist(), high]
    starts = [0, *changes]
    found = [(names[start], places[n], places[n + 1]) for n, start in enumerate(starts)]
    return _without_gaps(found)


def _without_gaps(stretches: list[tuple[str, float, float]]) -> list[tuple[str, float, float]]:
    """Stretches without a room shared out to the rooms beside them, half each; alone they stay."""
    if all(not room for room, _, _ in stretches):
        return stretches
    rows: list[tuple[str, float, float]] = []
    for number, (room, left, right) in enumerate(stretches):
        if room:
            rows.append((room, left, right))
            continue
        before = next((name for name, _, _ in reversed(stretches[:number]) if name), "")
        after = next((name for name, _, _ in stretches[number + 1 :] if name), "")
        middle = 0.5 * (left + right) if before and after else (right if before else left)
        rows += [(before, left, middle)] * bool(before) + [(after, middle, right)] * bool(after)
    return [row for row in rows if row[2] > row[1]]


def _areas(taken: LayerTakeoff, left: float, right: float) -> tuple[float, float, float]:
    """Gross, opening and framing area of the strip between two places along the wall, m2."""
    outline = silhouette(taken.frame.layer.outline)
    _, bottom, _, top = outline.bounds
    strip = shapely.box(left, bottom - 1.0, right, top + 1.0)
    gross = outline.intersection(strip)
    holes = shapely.union_all([opening.outline for opening in taken.frame.openings if opening.solid is None])
    opening = gross.intersection(holes).area
    depth = taken.frame.layer.depth
    voids = [cavity for cavity in taken.cavities if cavity.kind is not CavityKind.OPENING_GAP and cavity.area > 0.0]
    cut = shapely.area(shapely.intersection(np.array([cavity.outline for cavity in voids], dtype=object), strip))
    mean = np.array([cavity.volume / cavity.area / depth for cavity in voids])
    void = float(np.dot(cut, mean)) if voids else 0.0
    return float(gross.area), float(opening), max(float(gross.area) - float(opening) - void, 0.0)
