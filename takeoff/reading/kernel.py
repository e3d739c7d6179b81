"""Triangles of one representation item, by the quickest kernel that is right for it.

Items are tessellated one by one near their own zero, in metres; mapping and placement are applied afterwards in
float64 (`representations.py`, `placements.py`). That keeps precision far from the origin, keeps touching items apart,
and leaves non-uniform scales to plain matrices, which not every kernel gets right.
"""

from __future__ import annotations

from typing import Any, Literal

import ifcopenshell.geom
import numpy as np
from numpy.typing import NDArray

from geometry.frames import across
from takeoff.reading.attributes import attribute, value_of
from takeoff.reading.faults import ElementFault
from takeoff.reading.shells import Shell, joined, split_into_shells

Library = Literal["cgal-simple", "opencascade", "cgal"]
PLANE_KERNEL: Library = "cgal-simple"
"""Right and five to ten times as fast for bodies with plane faces; it knows no booleans and few curves."""
CURVE_KERNEL: Library = "opencascade"
EXACT_KERNEL: Library = "cgal"
"""Slow; for booleans that the other kernel cannot do."""
CHORD = 0.001
"""m; farthest that a chord may lie from the curve it stands for."""
FINE_ANGLE = 0.1
"""rad between chords of a round section: a 63-sided pipe holds 0.17 % less than a round one."""
COARSE_ANGLE = 0.3
"""rad between chords of small roundings, e.g. the bends of a steel stud, whose area hardly counts."""
THINNEST = 1e-6
"""m; the thinnest solid: a foil has a hundred times as much."""
MAX_NESTING = 400
"""Booleans upon booleans; a wall under a hipped roof has about ten."""

FACETED = (
    "IfcFacetedBrep",
    "IfcFaceBasedSurfaceModel",
    "IfcShellBasedSurfaceModel",
    "IfcTessellatedFaceSet",
)
HOLLOW = ("IfcFacetedBrepWithVoids", "IfcAdvancedBrepWithVoids")
SOLID_OR_SURFACE = (
    "IfcSolidModel",
    "IfcBooleanResult",
    "IfcCsgPrimitive3D",
    "IfcFaceBasedSurfaceModel",
    "IfcShellBasedSurfaceModel",
    "IfcTessellatedFaceSet",
    "IfcSectionedSpine",
    "IfcBoundedSurface",
)
OPERANDS = (*SOLID_OR_SURFACE, "IfcHalfSpaceSolid")
SHORTEST = 1e-9
LONGEST = 1e9
"""Directions are meant to be about 1 long; a kernel hangs on 1e30."""
ROUNDINGS = ("FilletRadius", "InternalFilletRadius", "InnerFilletRadius", "OuterFilletRadius", "EdgeRadius",
             "FlangeEdgeRadius", "WebEdgeRadius", "RoundingRadius", "TopFlangeFilletRadius",
             "BottomFlangeFilletRadius", "TopFlangeEdgeRadius", "BottomFlangeEdgeRadius")  # fmt: skip
ANGULAR_PROFILES = (
    "IfcRectangleProfileDef",
    "IfcTrapeziumProfileDef",
    "IfcIShapeProfileDef",
    "IfcAsymmetricIShapeProfileDef",
    "IfcLShapeProfileDef",
    "IfcUShapeProfileDef",
    "IfcTShapeProfileDef",
    "IfcZShapeProfileDef",
    "IfcCShapeProfileDef",
)
ROUND_PROFILES = ("IfcCircleProfileDef", "IfcEllipseProfileDef")


class Kernel:
    """Tessellates items of one file; holds the kernels that did so and nothing else."""

    def __init__(self) -> None:
        self._kernels: dict[tuple[Library, float], Any] = {}

    def shells(self, item: Any) -> tuple[Shell, ...]:
        """The shells of one item in its own axes, m.

        Raises ElementFault where no kernel can make a shape of it. An item without faces gives none.
        """
        if not has_faces(item):
            return ()
        if any(item.is_a(kind) for kind in HOLLOW):
            # The kernels refuse hollow solids as a whole, but take each of their skins.
            skins = [shell for skin in (item.Outer, *(item.Voids or ())) for shell in self._of_plane_faces(skin)]
            return (joined(skins),)
        if has_plane_faces(item):
            return self._of_plane_faces(item)
        check_nesting(item)
        check_pieces(item)
        angle = FINE_ANGLE if _is_round(item) else COARSE_ANGLE
        found = self._attempt(item, CURVE_KERNEL, angle)
        if found and all(shell.closed for shell in found):
            return found
        return _better(found, self._attempt(item, EXACT_KERNEL, angle), item)

    def _of_plane_faces(self, item: Any) -> tuple[Shell, ...]:
        found = self._attempt(item, PLANE_KERNEL)
        if found and all(shell.closed and not shell.mended for shell in found):
            return found
        return _better(found, self._attempt(item, CURVE_KERNEL), item)

    def rough_points(self, item: Any) -> NDArray[np.float64] | None:
        """(n, 3) float64, m: corners whose box holds the item but for the rounding of its curves; quick.

        None where no quick way is known.
        """
        if has_faces(item) and not has_plane_faces(item):
            check_nesting(item)
            check_pieces(item)
        while item.is_a("IfcBooleanResult"):
            if item.Operator == "UNION":
                return None
            item = item.FirstOperand
        triangles = self._triangles(item, PLANE_KERNEL)
        return None if triangles is None or not len(triangles[0]) else triangles[0]

    def _attempt(self, item: Any, library: Library, angle: float = COARSE_ANGLE) -> tuple[Shell, ...]:
        triangles = self._triangles(item, library, angle)
        if triangles is None:
            return ()
        return tuple(shell for shell in split_into_shells(*triangles) if not (shell.closed and _is_flat(shell)))

    def _triangles(
        self, item: Any, library: Library, angle: float = COARSE_ANGLE
    ) -> tuple[NDArray[np.float64], NDArray[np.int64]] | None:
        # A kernel is made once: to make one takes as long as to tessellate a box.
        kernel = self._kernels.get((library, angle))
        if kernel is None:
            kernel = ifcopenshell.geom.kernel(_settings(angle), item.file, geometry_library=library)
            self._kernels[library, angle] = kernel
        try:
            shape: Any = kernel.create_shape(item)
        except RuntimeError:
            return None
        # The buffers belong to the kernel's own object: copy before it goes.
        vertices = np.frombuffer(shape.verts_buffer, dtype=np.float64).reshape(-1, 3).copy()
        faces = np.frombuffer(shape.faces_buffer, dtype=np.int32).reshape(-1, 3).astype(np.int64)
        if not np.isfinite(vertices).all():
            return None
        return vertices, faces


def has_faces(item: Any) -> bool:
    """Whether an item is a solid or a surface; curves and points among the items of a body are no shape."""
    if item.is_a("IfcGeometricSet"):
        return any(element.is_a("IfcSurface") for element in item.Elements or ())
    return any(item.is_a(kind) for kind in SOLID_OR_SURFACE)


def has_plane_faces(item: Any) -> bool:
    """Whether every face of an item is plane and its edges straight, as far as its kind tells."""
    if item.is_a("IfcExtrudedAreaSolid") and not item.is_a("IfcExtrudedAreaSolidTapered"):
        _check_placed(item)
        return has_straight_edges(value_of(item, "SweptArea"))
    return any(item.is_a(kind) for kind in FACETED)


def has_straight_edges(profile: Any) -> bool:
    """Whether the outline of a profile is a polygon."""
    if profile.is_a("IfcArbitraryClosedProfileDef"):
        inner = profile.InnerCurves if profile.is_a("IfcArbitraryProfileDefWithVoids") else ()
        return all(_is_polygon(curve) for curve in (profile.OuterCurve, *(inner or ())))
    if profile.is_a("IfcRoundedRectangleProfileDef"):
        return False
    if any(profile.is_a(kind) for kind in ANGULAR_PROFILES):
        return not any(attribute(profile, name) for name in ROUNDINGS)
    return False


def check_nesting(item: Any) -> None:
    """Raises ElementFault where booleans refer to themselves, are nested without measure or act on what is no solid."""
    if not (item.is_a("IfcBooleanResult") or item.is_a("IfcCsgSolid")):
        return
    waiting: list[tuple[Any, int]] = [(item, 0)]
    visits = 0
    while waiting:
        current, depth = waiting.pop()
        visits += 1
        if depth > MAX_NESTING or visits > MAX_NESTING * 10:
            raise ElementFault(f"its shape #{item.id()} refers to itself; export the model again")
        if current is None or not any(current.is_a(kind) for kind in OPERANDS):
            raise ElementFault(f"its shape #{item.id()} is a boolean of what is no solid; model it again")
        if current.is_a("IfcBooleanResult"):
            waiting += [(current.FirstOperand, depth + 1), (current.SecondOperand, depth + 1)]
        elif current.is_a("IfcCsgSolid"):
            waiting.append((current.TreeRootExpression, depth + 1))


def check_pieces(item: Any) -> None:
    """Raises ElementFault where an item is built on what ends or hangs a kernel: lines without points, wild vectors."""
    for entity in item.file.traverse(item):
        if entity.is_a("IfcPolyline") and not entity.Points:
            raise ElementFault(f"its outline #{entity.id()} has no points; model it again")
        if entity.is_a("IfcDirection"):
            check_direction(entity)


def check_direction(direction: Any) -> None:
    """Raises ElementFault for a direction without a sensible length."""
    ratios = () if direction is None else value_of(direction, "DirectionRatios")
    if not ratios or not SHORTEST < max(abs(ratio) for ratio in ratios) < LONGEST:
        raise ElementFault("a direction in its shape is missing or senseless; model it again")


def _check_placed(solid: Any) -> None:
    check_direction(value_of(solid, "ExtrudedDirection"))
    position = value_of(solid, "Position")
    for direction in (attribute(position, "Axis"), attribute(position, "RefDirection")):
        if direction is not None:
            check_direction(direction)


def _is_polygon(curve: Any, depth: int = 0) -> bool:
    if curve.is_a("IfcPolyline"):
        if not value_of(curve, "Points"):
            raise ElementFault(f"its outline #{curve.id()} has no points; model it again")
        return True
    if curve.is_a("IfcTrimmedCurve"):
        return curve.BasisCurve.is_a("IfcLine")
    if curve.is_a("IfcCompositeCurve"):
        # Curves of curves of curves do not happen, except where one refers to itself.
        return depth < 3 and all(_is_polygon(segment.ParentCurve, depth + 1) for segment in curve.Segments or ())
    if curve.is_a("IfcIndexedPolyCurve"):
        return not any(segment.is_a("IfcArcIndex") for segment in curve.Segments or ())
    return False


def _is_round(item: Any) -> bool:
    if item.is_a("IfcSweptAreaSolid"):
        return any(item.SweptArea.is_a(kind) for kind in ROUND_PROFILES)
    return item.is_a("IfcSweptDiskSolid") or item.is_a("IfcRightCircularCylinder") or item.is_a("IfcSphere")


def _settings(angle: float) -> Any:
    settings = ifcopenshell.geom.settings()
    settings.set("no-normals", True)
    settings.set("apply-default-materials", False)
    settings.set("disable-opening-subtractions", True)
    settings.set("mesher-linear-deflection", CHORD)
    settings.set("mesher-angular-deflection", angle)
    return settings


def _is_flat(shell: Shell) -> bool:
    """Whether a closed shell has no thickness: something extruded by nothing."""
    a, b, c = (shell.vertices[index] for index in shell.faces[0])
    normal = across(b - a, c - a)
    length = float(np.sqrt(normal @ normal))
    if length > THINNEST:
        return float(np.abs((shell.vertices - a) @ normal).max()) < THINNEST * length
    # The first triangle is a sliver: take the least spread of the corners in any direction instead.
    centred = shell.vertices - shell.vertices.mean(axis=0)
    return float(np.linalg.svd(centred, compute_uv=False)[-1]) < THINNEST * np.sqrt(len(centred))


def _better(first: tuple[Shell, ...], second: tuple[Shell, ...], item: Any) -> tuple[Shell, ...]:
    """The result with fewer open shells, then fewer mended ones; the first where they are alike."""
    if not first and not second:
        raise ElementFault(f"its shape #{item.id()} ({item.is_a()}) is empty, flat or invalid; model it again")
    if not first or not second:
        return first or second

    def flaws(shells: tuple[Shell, ...]) -> tuple[int, int]:
        return sum(not shell.closed for shell in shells), sum(shell.mended for shell in shells)

    return second if flaws(second) < flaws(first) else first
