"""Where the origin of a model lies on the map, and the way from one model's origin to another's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from takeoff.reading.attributes import attribute, word
from takeoff.reading.faults import BROKEN_ENTITY, ElementFault
from takeoff.reading.model_file import ModelFile
from takeoff.reading.placements import Matrix
from takeoff.reading.units_of_file import factor


@dataclass(frozen=True, slots=True, eq=False)
class MapPlace:
    """The map conversion of a model.

    matrix: (4, 4) float64, model m to map m. system: name of the projected coordinate system, may be empty.
    """

    matrix: Matrix
    system: str


def map_place(model: ModelFile) -> MapPlace | None:
    """The map conversion that a model states (IFC4 and later), else None."""
    for conversion in model.of_class("IfcMapConversion"):
        try:
            return _place(conversion, model.units.length)
        except (ElementFault, *BROKEN_ENTITY):
            continue
    return None


def between(main: MapPlace, other: MapPlace) -> Matrix:
    """(4, 4): from the other model's metres to the main model's, both on one map."""
    return np.linalg.inv(main.matrix) @ other.matrix


def true_north(model: ModelFile) -> tuple[float, float] | None:
    """World xy direction of true north from the model's 3D context; None where it does not say."""
    for context in model.of_class("IfcGeometricRepresentationContext"):
        if context.is_a("IfcGeometricRepresentationSubContext") or word(context, "ContextType") == "Plan":
            continue
        try:
            ratios = tuple(context.TrueNorth.DirectionRatios) if context.TrueNorth is not None else ()
            if len(ratios) >= 2:
                length = float(np.hypot(ratios[0], ratios[1]))
                if length > 0.0 and np.isfinite(length):
                    return float(ratios[0]) / length, float(ratios[1]) / length
        except BROKEN_ENTITY:
            continue
    return None


def _place(conversion: Any, length: float) -> MapPlace:
    """As the specification of IfcMapConversion has it: scale, turn about z, then move; in the map's own unit."""
    target = conversion.TargetCRS
    unit = attribute(target, "MapUnit") if target is not None else None
    map_unit = length if unit is None else factor(unit)
    east = 1.0 if conversion.XAxisAbscissa is None else float(conversion.XAxisAbscissa)
    north = 0.0 if conversion.XAxisOrdinate is None else float(conversion.XAxisOrdinate)
    size = float(np.hypot(east, north))
    cosine, sine = (east / size, north / size) if size > 0.0 else (1.0, 0.0)
    # Scale takes the file's unit to the map's. Writers often leave it at 1 between mm and m; between metres it is the
    # scale of the map grid and within a few parts in a thousand of 1, so anything far from that says nothing.
    scale = 1.0 if conversion.Scale is None else float(conversion.Scale) * map_unit / length
    if not 0.9 < scale < 1.1:
        scale = 1.0
    matrix = np.eye(4)
    matrix[:3, :3] = scale * np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    matrix[:3, 3] = np.array([conversion.Eastings, conversion.Northings, conversion.OrthogonalHeight]) * map_unit
    return MapPlace(matrix, word(target, "Name") if target is not None else "")
