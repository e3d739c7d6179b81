"""Where things stand: placements and transformation operators as 4x4 matrices in metres.

Placements are multiplied in float64, and bodies are tessellated near their own zero before they are placed, so a
model hundreds of kilometres from its origin keeps about 1e-10 m; no offset has to be taken off and put back.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometry.frames import across
from takeoff.reading.attributes import attribute, value_of
from takeoff.reading.faults import ElementFault

MAX_DEPTH = 200
"""Placements upon placements; real files have about six."""

Matrix = NDArray[np.float64]


class Placements:
    """World placements of one file, computed once each."""

    def __init__(self, length: float) -> None:
        """length: the file's length unit in m."""
        self._length = length
        self._known: dict[int, Matrix] = {}

    def of(self, element: Any) -> Matrix:
        """(4, 4) float64, m: placement of an element in the world; identity where it has none.

        Raises ElementFault when the placement is circular or of a kind that cannot be resolved.
        """
        placement = value_of(element, "ObjectPlacement")
        return np.eye(4) if placement is None else self.matrix(placement)

    def matrix(self, placement: Any) -> Matrix:
        """(4, 4) float64, m: an IfcObjectPlacement in the world."""
        chain = []
        seen = set()
        current = placement
        while current is not None and current.id() not in self._known:
            if current.id() in seen or len(chain) > MAX_DEPTH:
                raise ElementFault(f"its placement #{placement.id()} is circular; export the model again")
            seen.add(current.id())
            chain.append(current)
            current = attribute(current, "PlacementRelTo")
        world = np.eye(4) if current is None else self._known[current.id()]
        for link in reversed(chain):
            world = world @ self._relative(link)
            self._known[link.id()] = world
        return world

    def _relative(self, placement: Any) -> Matrix:
        if placement.is_a("IfcLocalPlacement"):
            return axis_placement(value_of(placement, "RelativePlacement"), self._length)
        if placement.is_a("IfcLinearPlacement") and attribute(placement, "CartesianPosition"):
            return axis_placement(placement.CartesianPosition, self._length)
        raise ElementFault(f"its placement #{placement.id()} is an {placement.is_a()}; export it with local placements")


def axis_placement(placement: Any, length: float) -> Matrix:
    """(4, 4) float64, m: an IfcAxis2Placement3D or 2D; length is the file's unit in m.

    Directions that are missing or parallel are replaced as ISO 10303-42 does (build_axes, first_proj_axis).
    """
    if placement is None:
        return np.eye(4)
    if placement.is_a("IfcAxis2Placement3D"):
        z = _unit(_ratios(value_of(placement, "Axis"), 3), (0.0, 0.0, 1.0))
    elif placement.is_a("IfcAxis2Placement2D"):
        z = np.array([0.0, 0.0, 1.0])
    else:
        raise ElementFault(f"#{placement.id()} is an {placement.is_a()}; export it with local placements")
    x = _square_to(_ratios(value_of(placement, "RefDirection"), 3), z)
    matrix = np.eye(4)
    matrix[:3, 0] = x
    matrix[:3, 1] = across(z, x)
    matrix[:3, 2] = z
    matrix[:3, 3] = point(value_of(placement, "Location"), length)
    return matrix


def operator_matrix(operator: Any, length: float) -> Matrix:
    """(4, 4) float64, m: an IfcCartesianTransformationOperator, with its scales, non-uniform ones too."""
    x_hint, y_hint = _ratios(operator.Axis1, 3), _ratios(operator.Axis2, 3)
    flat = operator.is_a("IfcCartesianTransformationOperator2D")
    z_hint = None if flat else _ratios(operator.Axis3, 3)
    z = _unit(z_hint, (0.0, 0.0, 1.0))
    x = _square_to(x_hint, z)
    y = across(z, x)
    # The second axis only chooses the hand, world y where it is missing (ISO 10303-42, second_proj_axis): so an
    # operator may mirror without saying so, and kernels do the same.
    if float(np.dot(np.array([0.0, 1.0, 0.0]) if y_hint is None else y_hint, y)) < 0.0:
        y = -y
    scales = _scales(operator)
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = x * scales[0], y * scales[1], z * scales[2]
    matrix[:3, 3] = point(operator.LocalOrigin, length)
    return matrix


def point(cartesian: Any, length: float) -> NDArray[np.float64]:
    """(3,) float64, m: an IfcCartesianPoint; missing coordinates are 0."""
    coordinates = tuple(value_of(cartesian, "Coordinates")) if cartesian is not None else ()
    found = np.zeros(3)
    found[: len(coordinates)] = coordinates[:3]
    if not all(map(math.isfinite, found.tolist())):
        raise ElementFault(f"the point {cartesian} is not a number; export the model again")
    return found * length


def _scales(operator: Any) -> tuple[float, float, float]:
    first = float(operator.Scale) if operator.Scale is not None else 1.0
    second = attribute(operator, "Scale2")
    third = attribute(operator, "Scale3")
    return first, first if second is None else float(second), first if third is None else float(third)


def _ratios(direction: Any, size: int) -> NDArray[np.float64] | None:
    stated = None if direction is None else value_of(direction, "DirectionRatios")
    if not stated:
        return None
    ratios = tuple(stated)[:size]
    found = np.zeros(size)
    found[: len(ratios)] = ratios
    return found


def _unit(vector: NDArray[np.float64] | None, default: tuple[float, float, float]) -> NDArray[np.float64]:
    if vector is None:
        return np.array(default)
    length = _length(vector)
    return vector / length if length > 0.0 and math.isfinite(length) else np.array(default)


def _length(vector: NDArray[np.float64]) -> float:
    """Length of a vector; for single ones far quicker than the library's."""
    return math.sqrt(float(np.dot(vector, vector)))


def _square_to(hint: NDArray[np.float64] | None, z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Unit vector square to z, as near to the hint as can be."""
    for candidate in (hint, np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])):
        if candidate is None:
            continue
        flat = candidate - z * float(np.dot(candidate, z))
        length = _length(flat)
        # A hint within about 1e-6 of the axis gives no direction of its own.
        if length > 1e-6 * _length(candidate) and length > 0.0:
            return flat / length
    raise ElementFault("a placement has no usable directions; export the model again")
