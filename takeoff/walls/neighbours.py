"""Elements that stand in a wall without the model saying so: loose members, pipes, doors and windows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Generic, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree

from geometry.cylinders import Developed
from geometry.frames import LocalAxes
from geometry.solids import Mesh, bounds, moved
from takeoff.building import ModelOpening, ModelPart

_TOUCH = 0.001
"""m; what reaches less far into a wall only touches it."""
_ALONG_ARC = 49
"""Places along a curved wall at which its plan is taken: half a circle then bulges 0.05 % of its radius farther."""


Element = TypeVar("Element", ModelPart, ModelOpening)


class Nearby(Generic[Element]):
    """Elements found by place. Made once for a model; look-ups only."""

    def __init__(self, elements: Sequence[Element]) -> None:
        self.elements = tuple(element for element in elements if element.solids)
        boxes = [np.concatenate([mesh.vertices for mesh in element.solids]) for element in self.elements]
        plans = [shapely.box(*points[:, :2].min(axis=0), *points[:, :2].max(axis=0)) for points in boxes]
        self._tree = STRtree(plans)

    def reaching_into(self, axes: LocalAxes, box: NDArray[np.float64]) -> list[Element]:
        """Elements whose box in the given axes really reaches into a local box (2, 3), m."""
        if not self.elements:
            return []
        along = np.linspace(box[0, 0], box[1, 0], _ALONG_ARC) if isinstance(axes, Developed) else box[:, 0]
        corners = np.array([[x, y, z] for x in along for y in box[:, 1] for z in box[:, 2]])
        plan = shapely.convex_hull(shapely.multipoints(axes.to_world(corners)[:, :2]))
        numbers = sorted(self._tree.query(plan, predicate="intersects").tolist())
        return [self.elements[n] for n in numbers if _reaches(self.elements[n].solids, axes, box)]


def _reaches(solids: Iterable[Mesh], axes: LocalAxes, box: NDArray[np.float64]) -> bool:
    for solid in solids:
        low, high = bounds(moved(solid, axes))
        if (np.minimum(high, box[1]) - np.maximum(low, box[0]) > _TOUCH).all():
            return True
    return False
