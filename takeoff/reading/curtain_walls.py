"""Where curtain walls stand: they have no studs, but they close rooms."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.model_file import ModelFile
from takeoff.reading.related import all_parts_of


def read_curtain_walls(model: ModelFile) -> tuple[NDArray[np.float64], ...]:
    """Points (n, 3) float64, m, world, around each panel and bar of every curtain wall, or around one without parts.

    Rough boxes only, which is cheap; one that cannot be read is passed over, since nothing is counted of it.
    """
    found: list[NDArray[np.float64]] = []
    for curtain in model.of_class("IfcCurtainWall"):
        try:
            elements = tuple(all_parts_of(curtain)) or (curtain,)
        except BROKEN_ENTITY:
            continue
        for element in elements:
            points = model.bodies.rough_box(element)
            model.bodies.forget(element)
            if points is not None and len(points):
                found.append(points)
    return tuple(found)
