"""Writes a model of many layered stud walls: `python many_walls.py COUNT FILE`, with sample_models on PYTHONPATH.

IFC4, millimetres: a grid of two-storey houses of five walls a storey (four outside, one inside), each a swept solid
with layers, one or two openings with windows or a door in them, properties and quantities, and two rooms a storey.
Sizes are drawn from a seeded generator, so a count always gives the same file. Run as a process of its own, so that
its memory is not counted with what is measured.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from house_walls import WALL_HEIGHT, T, WallSpec, WallWriter, centred, door, house_types, window
from ifc_shapes import box, rectangle, shape
from ifc_walls import Materials, OpeningSpec
from ifc_writing import ModelWriter, ProjectSettings

SEED = 20240101
PLOT = 16000.0
"""mm from house to house."""
STOREYS = {"Ground floor": 0.0, "Upper floor": 2700.0}
WALLS_A_HOUSE = 10


def write_many_walls(count: int, path: Path) -> None:
    """Writes a model of exactly `count` walls to `path`."""
    settings = ProjectSettings(
        file_name=path.name, schema="IFC4", unit="millimetre", name=f"{count} walls", description="A benchmark."
    )
    writer = ModelWriter(settings)
    building = writer.building(
        writer.site((0.0, 0.0, 0.0), "Fields that exist in no country."), "Estate", (0.0, 0.0, 0.0), (0.8, 0.6, 0.0)
    )
    storeys = writer.storeys(building, STOREYS)
    types = house_types(writer, Materials(writer))
    makers = [WallWriter(writer, types, storey) for storey in storeys.values()]
    walls: dict[str, Any] = {}
    kinds: dict[str, list[Any]] = {}
    rooms: dict[str, list[Any]] = {name: [] for name in storeys}
    generator = random.Random(SEED)
    for house in range(-(-count // WALLS_A_HOUSE)):
        size = (100.0 * generator.randint(75, 120), 100.0 * generator.randint(65, 95))
        origin = _plot(house, count)
        for level, name in enumerate(storeys):
            made = []
            for spec in house_specs(f"House {house}", level, origin, size, generator):
                if len(walls) < count:
                    walls[spec.name] = makers[level].write(spec)
                    kinds.setdefault(spec.type_key, []).append(walls[spec.name])
                    made.append(walls[spec.name])
            if len(made) == WALLS_A_HOUSE // 2:
                rooms[name] += write_rooms(writer, f"{house}.{level}", (storeys[name], made), origin, size)
    for key, typed in kinds.items():
        writer.define_by_type(types[key].entity, typed)
    for name, spaces in rooms.items():
        if spaces:
            writer.aggregate(storeys[name], spaces)
    writer.write(path.parent)


def _plot(house: int, count: int) -> tuple[float, float]:
    """South-west corner of a house in a grid that is about square."""
    columns = max(1, round((count / WALLS_A_HOUSE) ** 0.5))
    return (house % columns * PLOT, house // columns * PLOT)


def house_specs(
    house: str, level: int, origin: tuple[float, float], size: tuple[float, float], generator: random.Random
) -> Iterator[WallSpec]:
    """The five walls of one storey: south and north run through, east and west butt, one partition across."""
    (x, y), (width, depth) = origin, size
    across = depth - 2 * T
    paths = {
        "South": ((x, y), (1.0, 0.0), width),
        "North": ((x + width, y + depth), (-1.0, 0.0), width),
        "East": ((x + width, y + T), (0.0, 1.0), across),
        "West": ((x, y + depth - T), (0.0, -1.0), across),
    }
    for side, (start, direction, length) in paths.items():
        name = f"{house} {side} {level}"
        plan = rectangle(0.0, 0.0, length, T)
        openings = tuple(_windows(name, length, generator))
        yield WallSpec(name, "outside", start, direction, length, plan, "POSITIVE", 0.0, openings)
    name = f"{house} Partition {level}"
    opening = door(f"Door of {name}", 100.0 * generator.randint(3, 30), 900.0)
    yield centred(name, "partition", (x + width / 2, y + T), (0.0, 1.0), across, (opening,))


def _windows(wall: str, length: float, generator: random.Random) -> Iterator[OpeningSpec]:
    """One or two windows, each in its own half of the wall."""
    for half in range(generator.randint(1, 2)):
        width = 100.0 * generator.randint(6, 18)
        room = length / 2 - width - 800.0
        x = half * length / 2 + 400.0 + 10.0 * generator.randint(0, int(room / 10.0))
        yield window(f"Window {half} of {wall}", x, width, 1200.0)


def write_rooms(
    writer: ModelWriter, key: str, around: tuple[Any, list[Any]], origin: tuple[float, float], size: tuple[float, float]
) -> list[Any]:
    """Two rooms, west and east of the partition; `around` is the storey and its walls in the order of house_specs."""
    storey, (south, north, east, west, partition) = around
    (x, y), (width, depth) = origin, size
    middle, half = x + width / 2, 60.5
    spaces = []
    for name, x0, x1, side in (("W", x + T, middle - half, west), ("E", middle + half, x + width - T, east)):
        solid = box(writer, (x0, y + T, 0.0), (x1, y + depth - T, WALL_HEIGHT - 100.0))
        space = writer.rooted(
            "IfcSpace",
            f"space/{key}{name}",
            Name=f"{key}{name}",
            LongName="Room",
            ObjectPlacement=writer.placement(storey),
            Representation=shape(writer, [solid]),
            CompositionType="ELEMENT",
            PredefinedType="INTERNAL",
        )
        for wall in (south, north, side, partition):
            writer.bound(space, wall, "INTERNAL" if wall is partition else "EXTERNAL")
        spaces.append(space)
    return spaces


if __name__ == "__main__":
    write_many_walls(int(sys.argv[1]), Path(sys.argv[2]))
