"""Curved walls: the vertical cylinder on which the axis of a wall lies."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from takeoff.building import Cylinder
from takeoff.reading.placements import Matrix, axis_placement
from takeoff.reading.representations import body_representations, items_of, representation_named

STRAIGHT = 1e-9
"""Relative; three points whose triangle is flatter than this lie on a line."""

Circle = tuple[NDArray[np.float64], NDArray[np.float64], float]
"""Centre (3,), unit axis (3,) and radius, m, in the axes that the curve is drawn in."""


def cylinder_of(wall: Any, placement: Matrix, length: float) -> Cylinder | None:
    """The cylinder of a curved wall in the world, m; None for a straight one or one whose axis is no single arc.

    The axis representation tells; where there is none, the profile that the body is extruded from: the mean of its two
    arcs. placement: (4, 4) of the wall, m. length: the file's unit in m.
    """
    axis = representation_named(wall, "Axis")
    circle, anticlockwise = None, None
    if axis is not None:
        arcs = [(item, matrix) for item, matrix, _ in items_of(axis, length)]
        if len(arcs) == 1:
            circle = _carried(_arc_circle(arcs[0][0], length), arcs[0][1])
            anticlockwise = None if circle is None or arcs[0][1] is not None else _runs_on(arcs[0][0])
    if circle is None and (axis is None or not axis.Items):
        circle = _of_profile(wall, length)
    if circle is None:
        return None
    centre, direction, radius = _carried(circle, placement) or circle
    return Cylinder(centre, direction, radius, anticlockwise)


def _runs_on(curve: Any) -> bool | None:
    """Whether an arc runs anticlockwise about the axis that `_arc_circle` gives it; None where it does not say."""
    if curve.is_a("IfcTrimmedCurve"):
        return bool(curve.SenseAgreement)
    if curve.is_a("IfcCompositeCurve"):
        within = _runs_on(curve.Segments[0].ParentCurve)
        return None if within is None else within is bool(curve.Segments[0].SameSense)
    # Through three points in their order the normal is set so.
    return True if curve.is_a("IfcIndexedPolyCurve") else None


def _of_profile(wall: Any, length: float) -> Circle | None:
    bodies = body_representations(wall)
    items = items_of(bodies[0], length) if bodies else []
    if len(items) != 1:
        return None
    item, matrix, _ = items[0]
    for _ in range(100):
        if not item.is_a("IfcBooleanResult"):
            break
        item = item.FirstOperand
    if not item.is_a("IfcExtrudedAreaSolid"):
        return None
    profile = item.SweptArea
    if profile.is_a("IfcCenterLineProfileDef"):
        circle = _arc_circle(profile.Curve, length)
    elif profile.is_a("IfcArbitraryClosedProfileDef"):
        circle = _mean_circle(_arcs_in(profile.OuterCurve, length))
    else:
        circle = None
    return _carried(_carried(circle, axis_placement(item.Position, length)), matrix)


def _mean_circle(arcs: list[Circle]) -> Circle | None:
    """The circle midway between two concentric ones."""
    if len(arcs) != 2:
        return None
    (first, axis, small), (second, _, large) = arcs
    # Two arcs of one wall share their centre to within a millimetre.
    if float(np.linalg.norm(first - second)) > 1e-3 or abs(small - large) < 1e-6:
        return None
    return first, axis, 0.5 * (small + large)


def _arcs_in(curve: Any, length: float) -> list[Circle]:
    if curve.is_a("IfcCompositeCurve"):
        found = [_arc_circle(segment.ParentCurve, length) for segment in curve.Segments or ()]
        return [circle for circle in found if circle is not None]
    if curve.is_a("IfcIndexedPolyCurve"):
        points = _points(curve.Points, length)
        return [
            circle
            for segment in curve.Segments or ()
            if segment.is_a("IfcArcIndex")
            for circle in [_through(*(points[index - 1] for index in segment.wrappedValue))]
            if circle is not None
        ]
    return []


def _arc_circle(curve: Any, length: float) -> Circle | None:
    """The circle of a curve that is one arc of a circle."""
    if curve.is_a("IfcTrimmedCurve"):
        basis = curve.BasisCurve
        if not basis.is_a("IfcCircle"):
            return None
        place = axis_placement(basis.Position, length)
        return place[:3, 3].copy(), place[:3, 2].copy(), float(basis.Radius) * length
    if curve.is_a("IfcCompositeCurve"):
        segments = curve.Segments or ()
        return _arc_circle(segments[0].ParentCurve, length) if len(segments) == 1 else None
    if curve.is_a("IfcIndexedPolyCurve"):
        segments = curve.Segments or ()
        if len(segments) != 1 or not segments[0].is_a("IfcArcIndex"):
            return None
        points = _points(curve.Points, length)
        return _through(*(points[index - 1] for index in segments[0].wrappedValue))
    return None


def _points(point_list: Any, length: float) -> NDArray[np.float64]:
    found = np.array(point_list.CoordList, dtype=np.float64) * length
    return np.pad(found, ((0, 0), (0, 3 - found.shape[1])))


def _through(a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]) -> Circle | None:
    """The circle through three points (circumcentre of a triangle); None where they lie on a line."""
    u, v = b - a, c - a
    normal = np.cross(u, v)
    square = float(normal @ normal)
    if square <= STRAIGHT * float(u @ u) * float(v @ v):
        return None
    to_centre = (float(u @ u) * np.cross(v, normal) + float(v @ v) * np.cross(normal, u)) / (2.0 * square)
    return a + to_centre, normal / np.sqrt(square), float(np.linalg.norm(to_centre))


def _carried(circle: Circle | None, matrix: Matrix | None) -> Circle | None:
    if circle is None or matrix is None:
        return circle
    centre, axis, radius = circle
    turned = matrix[:3, :3] @ axis
    scale = float(np.cbrt(abs(np.linalg.det(matrix[:3, :3]))))
    return matrix[:3, :3] @ centre + matrix[:3, 3], turned / float(np.linalg.norm(turned)), radius * scale
