"""What single solids take of the voids that would be there without them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.cuts import Cutter, rounded
from geometry.passages import joined_cells
from geometry.slabs import Looks
from geometry.solids import Mesh, Solid, distinct_faces, section
from geometry.tolerances import Tolerances
from geometry.voids import Void, split_narrow


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """Volumes (s, b) float64, m3, that each solid takes of each void, and the void (v,) int64 that holds each of the
    smaller ones, -1 where none does."""

    volumes: NDArray[np.float64]
    holders: NDArray[np.int64]


def shares_of(
    frame: tuple[Solid, Sequence[Solid], Sequence[Solid]],
    extra: Sequence[Solid],
    found: tuple[Looks, Sequence[Void]],
    tolerances: Tolerances,
) -> Shares:
    """How much of each void of a frame some extra solids take.

    frame: region, holes and solids without the extra ones. found: the looks that all of them were cut at together, and
    the voids that came of it. A solid that overlaps another counts with its whole section.
    """
    looks, voids = found
    region, holes, members = frame
    cutter = Cutter(rounded([region])[0], rounded(holes), rounded(members))
    wide, _ = split_narrow(cutter.cuts(looks).pieces, tolerances)
    groups = joined_cells(wide, tolerances)
    cells: list[list[tuple[int, Polygon]]] = [[] for _ in looks.depths]
    for number, group in enumerate(groups):
        for look, cell in group:
            cells[look].append((number, cell))
    volumes = np.zeros((len(extra), len(groups)))
    solids = [distinct_faces(solid) if isinstance(solid, Mesh) else solid for solid in rounded(extra)]
    for look in np.flatnonzero(looks.weights > 0.0).tolist():
        depth, weight = float(looks.depths[look]), float(looks.weights[look])
        owners = np.array([number for number, _ in cells[look]], dtype=np.int64)
        here = np.array([cell for _, cell in cells[look]], dtype=object)
        for row, solid in enumerate(solids):
            cut = section(solid, depth, distinct=True)
            if len(here) and not cut.is_empty:
                shared = shapely.area(shapely.intersection(here, cut))
                volumes[row] += weight * np.bincount(owners, shared, minlength=len(groups))
    return Shares(volumes, np.array([_holder(void, cells) for void in voids], dtype=np.int64))


def _holder(void: Void, cells: Sequence[list[tuple[int, Polygon]]]) -> int:
    look, cell = max(void.cells, key=lambda one: one[1].area)
    point = cell.representative_point()
    return next((number for number, bay in cells[look] if bay.intersects(point)), -1)
