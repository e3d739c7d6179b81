"""What stands in the garden studio besides its walls: an electric box and two pipes, the room, the floor. Inches."""

from __future__ import annotations

from typing import Any

from ifc_shapes import box, prism_x, shape
from ifc_writing import ModelWriter
from studio_frames import DEPTH, LEVEL_LENGTH, LINING, PLATE_UPRIGHT, SIDE_LENGTH, cap_underside


def write_services(writer: ModelWriter, storey: Any, wall: Any) -> None:
    """In the back wall's bay between 144 and 160: a box on the stud, a pipe up the bay and one on into the next bay."""
    junction = writer.rooted(
        "IfcJunctionBox",
        "service/box",
        Name="Electric box",
        ObjectPlacement=writer.placement(wall),
        Representation=shape(writer, [box(writer, (144.75, 3.375, 14.0), (148.75, DEPTH, 18.0))]),
        PredefinedType="POWER",
    )
    writer.contain(storey, junction)
    circle = writer.new("IfcCircleProfileDef", ProfileType="AREA", Radius=0.4375)
    for name, position, length in (
        ("Pipe up", writer.axes((155.0, 2.75, -4.0)), 44.0),
        ("Pipe along", writer.axes((155.0, 2.75, 39.0), z=(1, 0, 0), x=(0, 1, 0)), 17.0),
    ):
        solid = writer.new(
            "IfcExtrudedAreaSolid",
            SweptArea=circle,
            Position=position,
            ExtrudedDirection=writer.direction(0, 0, 1),
            Depth=length,
        )
        pipe = writer.rooted(
            "IfcPipeSegment",
            f"service/{name}",
            Name=name,
            ObjectPlacement=writer.placement(wall),
            Representation=shape(writer, [solid]),
            PredefinedType="RIGIDSEGMENT",
        )
        writer.contain(storey, pipe)


def write_room_and_floor(writer: ModelWriter, storey: Any, walls: dict[str, Any]) -> None:
    """The one room, bounded by the four walls, and the floor under it."""
    y0, y1 = DEPTH + LINING, DEPTH + SIDE_LENGTH - LINING
    section = [(y0, 0.0), (y1, 0.0)]
    section += [(y, cap_underside(y - DEPTH) - PLATE_UPRIGHT) for y in (y1, y0)]
    space = writer.rooted(
        "IfcSpace",
        "space/studio",
        Name="1",
        LongName="Studio",
        ObjectPlacement=writer.placement(storey),
        Representation=shape(writer, [prism_x(writer, section, y0, LEVEL_LENGTH - y0)]),
        CompositionType="ELEMENT",
        PredefinedType="INTERNAL",
    )
    writer.aggregate(storey, [space])
    for wall in walls.values():
        writer.bound(space, wall, "EXTERNAL")
    slab = writer.rooted(
        "IfcSlab",
        "slab/floor",
        Name="Floor deck",
        ObjectPlacement=writer.placement(storey),
        Representation=shape(writer, [box(writer, (0, 0, -10), (LEVEL_LENGTH, SIDE_LENGTH + 2 * DEPTH, 0))]),
        PredefinedType="FLOOR",
    )
    writer.contain(storey, slab)
