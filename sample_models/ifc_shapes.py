"""Shapes of the sample models: prisms along each axis, half-space cuts, frames with a hole, axes, mapped copies.

All lengths are in the unit of the file that is being written and all points in the element's own axes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ifc_writing import ModelWriter, Numbers

Points = Sequence[tuple[float, float]]


def rectangle(x0: float, y0: float, x1: float, y1: float) -> list[tuple[float, float]]:
    """The corners of a rectangle, anticlockwise."""
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def profile(writer: ModelWriter, outline: Points, hole: Points | None = None) -> Any:
    """A closed polygon as a profile, with one hole where given."""
    curve = _closed_polyline(writer, outline)
    if hole is None:
        return writer.new("IfcArbitraryClosedProfileDef", ProfileType="AREA", OuterCurve=curve)
    return writer.new(
        "IfcArbitraryProfileDefWithVoids",
        ProfileType="AREA",
        OuterCurve=curve,
        InnerCurves=[_closed_polyline(writer, hole)],
    )


def _closed_polyline(writer: ModelWriter, outline: Points) -> Any:
    points = [writer.point(*point) for point in outline]
    return writer.new("IfcPolyline", Points=[*points, points[0]])


def extrude(writer: ModelWriter, section: Any, position: Any, length: float) -> Any:
    """A profile swept along the z axis of `position`."""
    return writer.new(
        "IfcExtrudedAreaSolid",
        SweptArea=section,
        Position=position,
        ExtrudedDirection=writer.direction(0, 0, 1),
        Depth=round(length, 9),
    )


def prism_z(writer: ModelWriter, plan: Points, z0: float, z1: float) -> Any:
    """A plan outline (x, y) swept upwards from z0 to z1."""
    return extrude(writer, profile(writer, plan), writer.axes((0, 0, z0)), z1 - z0)


def prism_y(writer: ModelWriter, elevation: Points, y0: float, y1: float, hole: Points | None = None) -> Any:
    """An elevation outline (x, z) swept from y0 to y1; the sweep runs towards -y, so that (x, z) keeps its sense."""
    position = writer.axes((0, y1, 0), z=(0, -1, 0), x=(1, 0, 0))
    return extrude(writer, profile(writer, elevation, hole), position, y1 - y0)


def prism_x(writer: ModelWriter, section: Points, x0: float, x1: float) -> Any:
    """A cross-section (y, z) swept from x0 to x1."""
    position = writer.axes((x0, 0, 0), z=(1, 0, 0), x=(0, 1, 0))
    return extrude(writer, profile(writer, section), position, x1 - x0)


def box(writer: ModelWriter, low: Numbers, high: Numbers) -> Any:
    """An upright box between two corners, as a rectangle profile swept upwards."""
    (x0, y0, z0), (x1, y1, z1) = low, high
    section = writer.new("IfcRectangleProfileDef", ProfileType="AREA", XDim=round(x1 - x0, 9), YDim=round(y1 - y0, 9))
    if writer.settings.schema == "IFC2X3":  # Position is not optional there
        section.Position = writer.new("IfcAxis2Placement2D", Location=writer.point(0, 0))
    return extrude(writer, section, writer.axes(((x0 + x1) / 2, (y0 + y1) / 2, z0)), z1 - z0)


def cut(writer: ModelWriter, solid: Any, point: Numbers, normal: Numbers, *, flipped: bool = False) -> Any:
    """The solid without what lies beyond a plane, on the side that `normal` points to.

    Programs write the same half-space in two ways, the plane's normal into or out of the material; `flipped` takes
    the second.
    """
    sign = -1.0 if flipped else 1.0
    x = (0.0, 1.0, 0.0) if abs(normal[0]) > 1e-9 and abs(normal[1]) < 1e-9 else (1.0, 0.0, 0.0)
    plane = writer.new("IfcPlane", Position=writer.axes(point, z=[sign * part for part in normal], x=x))
    half = writer.new("IfcHalfSpaceSolid", BaseSurface=plane, AgreementFlag=flipped)
    return writer.new("IfcBooleanClippingResult", Operator="DIFFERENCE", FirstOperand=solid, SecondOperand=half)


def shape(writer: ModelWriter, solids: Sequence[Any], axis: Points | None = None) -> Any:
    """A product's shape: its body, and for a wall its axis."""
    kinds = {"IfcBooleanClippingResult": "Clipping", "IfcMappedItem": "MappedRepresentation"}
    representations = []
    if axis is not None:
        representations.append(
            writer.new(
                "IfcShapeRepresentation",
                ContextOfItems=writer.contexts["Axis"],
                RepresentationIdentifier="Axis",
                RepresentationType="Curve2D",
                Items=[writer.new("IfcPolyline", Points=[writer.point(*point) for point in axis])],
            )
        )
    if solids:
        representations.append(body(writer, solids, kinds.get(solids[0].is_a(), "SweptSolid")))
    return writer.new("IfcProductDefinitionShape", Representations=representations)


def body(writer: ModelWriter, solids: Sequence[Any], kind: str = "SweptSolid") -> Any:
    return writer.new(
        "IfcShapeRepresentation",
        ContextOfItems=writer.contexts["Body"],
        RepresentationIdentifier="Body",
        RepresentationType=kind,
        Items=list(solids),
    )


def shape_map(writer: ModelWriter, solids: Sequence[Any]) -> Any:
    """A shape to be copied by `mapped`."""
    return writer.new(
        "IfcRepresentationMap", MappingOrigin=writer.axes((0, 0, 0)), MappedRepresentation=body(writer, solids)
    )


def mapped(writer: ModelWriter, source: Any, origin: Numbers) -> Any:
    """A copy of a mapped shape, moved to `origin`."""
    target = writer.new("IfcCartesianTransformationOperator3D", LocalOrigin=writer.point(*origin), Scale=1.0)
    return writer.new("IfcMappedItem", MappingSource=source, MappingTarget=target)


def ring(writer: ModelWriter, low: Numbers, high: Numbers, width: float) -> Any:
    """A flat rectangular frame in elevation, as of a window: (x, y, z) corners and the width of its bars."""
    (x0, y0, z0), (x1, y1, z1) = low, high
    inner = rectangle(x0 + width, z0 + width, x1 - width, z1 - width)
    return prism_y(writer, rectangle(x0, z0, x1, z1), y0, y1, inner)
