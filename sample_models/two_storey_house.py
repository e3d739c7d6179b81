"""The two-storey house: IFC4, millimetres, layered walls that nobody has framed yet.

House axes: x east, y north, z up from the ground floor, origin at the south-west corner of the outside face. The
house is 9000 x 7000, its ridge runs east to west, the roof rises 1 in 2. The ground floor is drawn as one kind of
program does it (outside walls anticlockwise, mitred corners, openings as deep as the wall), the upper floor as
another (clockwise, butted corners, layers stacked the other way, openings deeper than the wall).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from house_walls import (
    EAVES,
    LENGTH,
    RIDGE,
    T,
    WallSpec,
    WallWriter,
    ground_floor_walls,
    house_types,
    upper_floor_walls,
)
from ifc_shapes import box, prism_x, shape
from ifc_walls import Materials
from ifc_writing import ModelWriter, ProjectSettings

WIDTH = 7000.0
WALL_HEIGHT = 2500.0
UPPER_FLOOR = 2700.0
OVERHANG = 400.0
SETTINGS = ProjectSettings(
    file_name="two_storey_house.ifc",
    schema="IFC4",
    unit="millimetre",
    name="House for a made-up family",
    description="A two-storey timber house in the invented hamlet of Hazel Hollow.",
    true_north=(-0.28, 0.96),
)
ROOMS: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "0.1": ("Ground floor", "Living room and kitchen", ("South 0", "North 0", "West 0", "Sound wall 0")),
    "0.2": ("Ground floor", "Hall", ("South 0", "East 0", "Sound wall 0", "Partition 0")),
    "0.3": ("Ground floor", "Workroom", ("North 0", "East 0", "Sound wall 0", "Partition 0")),
    "1.1": ("Upper floor", "West bedroom", ("South 1", "North 1", "West gable 1", "Cross partition 1")),
    "1.2": ("Upper floor", "South-east bedroom", ("South 1", "East gable 1", "Cross partition 1", "Long partition 1")),
    "1.3": ("Upper floor", "Bathroom", ("North 1", "East gable 1", "Cross partition 1", "Long partition 1")),
}
"""Room number -> storey, name, walls around it."""


def write_house(folder: Path) -> Path:
    """Writes the house into `folder`."""
    writer = ModelWriter(SETTINGS)
    site = writer.site((125000.0, 40000.0, 12000.0), "A plot that exists in no country.")
    building = writer.building(site, "House", (8000.0, 3000.0, 450.0), (0.8, 0.6, 0.0))
    storeys = writer.storeys(building, {"Ground floor": 0.0, "Upper floor": UPPER_FLOOR})
    types = house_types(writer, Materials(writer))
    walls: dict[str, Any] = {}
    for storey, specs in (("Ground floor", ground_floor_walls()), ("Upper floor", upper_floor_walls())):
        for spec in specs:
            walls[spec.name] = WallWriter(writer, types, storeys[storey]).write(spec)
    for name, of_type in types.items():
        typed = [walls[spec.name] for spec in _all_specs() if spec.type_key == name]
        writer.define_by_type(of_type.entity, typed)
    connect_walls(writer, walls)
    write_rooms(writer, storeys, walls)
    write_slabs(writer, storeys)
    write_roof(writer, storeys["Upper floor"])
    return writer.write(folder)


def _all_specs() -> list[WallSpec]:
    return [*ground_floor_walls(), *upper_floor_walls()]


def connect_walls(writer: ModelWriter, walls: dict[str, Any]) -> None:
    """Joins the walls by their paths, end by end."""
    ground = ["South 0", "East 0", "North 0", "West 0"]
    for one, other in zip(ground, ground[1:] + ground[:1], strict=True):
        writer.connect(walls[one], "ATEND", walls[other], "ATSTART")
    for eaves, end, gable, gable_end in (
        ("South 1", "ATEND", "West gable 1", "ATSTART"),
        ("North 1", "ATSTART", "West gable 1", "ATEND"),
        ("North 1", "ATEND", "East gable 1", "ATSTART"),
        ("South 1", "ATSTART", "East gable 1", "ATEND"),
        ("Sound wall 0", "ATSTART", "South 0", "ATPATH"),
        ("Sound wall 0", "ATEND", "North 0", "ATPATH"),
        ("Partition 0", "ATSTART", "Sound wall 0", "ATPATH"),
        ("Partition 0", "ATEND", "East 0", "ATPATH"),
        ("Cross partition 1", "ATSTART", "South 1", "ATPATH"),
        ("Cross partition 1", "ATEND", "North 1", "ATPATH"),
        ("Long partition 1", "ATSTART", "Cross partition 1", "ATPATH"),
        ("Long partition 1", "ATEND", "East gable 1", "ATPATH"),
    ):
        writer.connect(walls[eaves], end, walls[gable], gable_end)


def room_solids(writer: ModelWriter) -> dict[str, Any]:
    """The body of each room, storey axes: boxes below, under the rafters above."""
    inner_x, inner_y, middle = LENGTH - T, WIDTH - T, WIDTH / 2

    def under_roof(y0: float, y1: float, x0: float, x1: float) -> Any:
        top = [(y, EAVES + min(y, WIDTH - y) / 2) for y in (y0, y1)]
        section = [(y0, 0.0), (y1, 0.0), top[1], top[0]]
        if y0 < middle < y1:
            section.insert(3, (middle, RIDGE))
        return prism_x(writer, section, x0, x1)

    return {
        "0.1": box(writer, (T, T, 0), (5126.5, inner_y, WALL_HEIGHT)),
        "0.2": box(writer, (5273.5, T, 0), (inner_x, 2939.5, WALL_HEIGHT)),
        "0.3": box(writer, (5273.5, 3060.5, 0), (inner_x, inner_y, WALL_HEIGHT)),
        "1.1": under_roof(T, inner_y, T, 4439.5),
        "1.2": under_roof(T, 3939.5, 4560.5, inner_x),
        "1.3": under_roof(4060.5, inner_y, 4560.5, inner_x),
    }


def write_rooms(writer: ModelWriter, storeys: dict[str, Any], walls: dict[str, Any]) -> None:
    """The rooms, each bounded by its walls."""
    solids = room_solids(writer)
    made: dict[str, list[Any]] = {}
    for number, (storey, name, around) in ROOMS.items():
        space = writer.rooted(
            "IfcSpace",
            f"space/{number}",
            Name=number,
            LongName=name,
            ObjectPlacement=writer.placement(storeys[storey]),
            Representation=shape(writer, [solids[number]]),
            CompositionType="ELEMENT",
            PredefinedType="INTERNAL",
        )
        made.setdefault(storey, []).append(space)
        for wall in around:
            inside = "partition" in wall.lower() or "Sound" in wall
            writer.bound(space, walls[wall], "INTERNAL" if inside else "EXTERNAL")
    for storey, spaces in made.items():
        writer.aggregate(storeys[storey], spaces)


def write_slabs(writer: ModelWriter, storeys: dict[str, Any]) -> None:
    """The ground slab and the upper floor with its stair well."""
    for name, storey, low, high, kind in (
        ("Ground slab", "Ground floor", (0, 0, -250), (LENGTH, WIDTH, 0), "BASESLAB"),
        ("Upper floor deck", "Upper floor", (72, 72, WALL_HEIGHT - UPPER_FLOOR), (LENGTH - 72, WIDTH - 72, 0), "FLOOR"),
    ):
        slab = writer.rooted(
            "IfcSlab",
            f"slab/{name}",
            Name=name,
            ObjectPlacement=writer.placement(storeys[storey]),
            Representation=shape(writer, [box(writer, low, high)]),
            PredefinedType=kind,
        )
        writer.contain(storeys[storey], slab)
    well = writer.rooted(
        "IfcOpeningElement",
        "opening/stair well",
        Name="Stair well",
        ObjectPlacement=writer.placement(slab, (5400, 400, -250)),
        Representation=shape(writer, [box(writer, (0, 0, 0), (2600, 1000, 300))]),
        PredefinedType="OPENING",
    )
    writer.void_and_fill(slab, well, None)


def write_roof(writer: ModelWriter, storey: Any) -> None:
    """Two roof slabs of 250 mm (upright), whose underside is the plane that cuts the gables."""
    south = [(-OVERHANG, EAVES - OVERHANG / 2), (WIDTH / 2, RIDGE), (WIDTH / 2, RIDGE + 250)]
    south.append((-OVERHANG, EAVES - OVERHANG / 2 + 250))
    north = [(WIDTH - y, z) for y, z in reversed(south)]
    roof = writer.rooted(
        "IfcRoof", "roof", Name="Roof", ObjectPlacement=writer.placement(storey), PredefinedType="GABLE_ROOF"
    )
    slopes = [
        writer.rooted(
            "IfcSlab",
            f"roof/{name}",
            Name=name,
            ObjectPlacement=writer.placement(roof),
            Representation=shape(writer, [prism_x(writer, section, -OVERHANG, LENGTH + OVERHANG)]),
            PredefinedType="ROOF",
        )
        for name, section in (("Roof south", south), ("Roof north", north))
    ]
    writer.aggregate(roof, slopes)
    writer.contain(storey, roof)
