"""The walls of the two-storey house: types, places, openings, bodies cut under the roof, exact quantities."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ifc_shapes import Points, cut, prism_z, rectangle, shape
from ifc_walls import LayerSpec, Materials, OpeningSpec, WallType, common_properties, cut_opening, use_layers, wall_type
from ifc_writing import ModelWriter

LENGTH = 9000.0
WIDTH = 7000.0
WALL_HEIGHT = 2500.0
EAVES = 2400.0
"""Height of the roof's underside over the outside face of the eaves walls, above the upper floor."""
RIDGE = EAVES + WIDTH / 4
T = 225.0
"""Thickness of an outside wall: 22 + 38 + 12 + 140 + 13."""
BAR = 70.0
WOOD, GYPSUM = "wood", "gypsum"
GYPSUM_BOARD = LayerSpec("Gypsum board 13 mm", 13.0, GYPSUM, "Finish", 0.25)
OUTSIDE = (
    LayerSpec("Spruce boarding", 22.0, WOOD, "Finish", 0.13),
    LayerSpec("Air gap between battens", 38.0, "air", "", None, True),
    LayerSpec("Oriented strand board", 12.0, WOOD, "Sheathing", 0.13),
    LayerSpec("Timber studs 140 mm", 140.0, WOOD, "LoadBearing", 0.13),
    GYPSUM_BOARD,
)
PARTITION = (GYPSUM_BOARD, LayerSpec("Timber studs 95 mm", 95.0, WOOD, "LoadBearing", 0.13), GYPSUM_BOARD)
SOUND = (GYPSUM_BOARD, *PARTITION, GYPSUM_BOARD)
TYPES = {
    "outside": ("Outside wall 225", OUTSIDE),
    "partition": ("Partition 121", PARTITION),
    "sound": ("Sound wall 147", SOUND),
}


@dataclass(frozen=True, slots=True)
class WallSpec:
    """A wall to be written; lengths in mm, house axes for the path, wall axes for everything else."""

    name: str
    type_key: str
    start: tuple[float, float]
    direction: tuple[float, float]
    length: float
    """Of the axis, from start."""
    plan: Points
    """Outline of the body in plan, wall axes (x along the path, y to its left)."""
    sense: str
    offset: float
    openings: tuple[OpeningSpec, ...] = ()
    roof: str = ""
    """Which slopes cut its top: '', 'both' or 'north'."""
    overshoot: float = 0.0
    """How far the opening bodies stand out of the wall on each side."""
    rating: str = ""


def house_types(writer: ModelWriter, materials: Materials) -> dict[str, WallType]:
    """The wall types by key."""
    return {key: wall_type(writer, materials, name, layers) for key, (name, layers) in TYPES.items()}


def ground_floor_walls() -> tuple[WallSpec, ...]:
    """Outside walls anticlockwise, cladding on the axis, mitred; two partitions with the axis in the middle."""

    def outside(name: str, start: tuple, direction: tuple, length: float, *openings: OpeningSpec) -> WallSpec:
        plan = [(0.0, 0.0), (length, 0.0), (length - T, T), (T, T)]
        return WallSpec(name, "outside", start, direction, length, plan, "POSITIVE", 0.0, openings)

    return (
        outside("South 0", (0, 0), (1, 0), LENGTH, window("W01", 1200, 1800, 1200), door("D01", 6300, 1010)),
        outside("East 0", (LENGTH, 0), (0, 1), WIDTH, window("W02", 4200, 1200, 1200)),
        outside("North 0", (LENGTH, WIDTH), (-1, 0), LENGTH, window("W03", 1000, 1200, 1200), door("D02", 5500, 1800)),
        outside("West 0", (0, WIDTH), (0, -1), WIDTH, window("W04", 2000, 1500, 1200)),
        centred(
            "Sound wall 0", "sound", (5200, T), (0, 1), WIDTH - 2 * T, (door("D03", 1000, 900),), rating="Rw 52 dB"
        ),
        centred(
            "Partition 0",
            "partition",
            (5273.5, 3000),
            (1, 0),
            LENGTH - T - 5273.5,
            (door("D04", 400, 900), OpeningSpec("R01", "", 2000, 1100, 400, 600, recess=(-60.5, 2.5))),
        ),
    )


def upper_floor_walls() -> tuple[WallSpec, ...]:
    """Outside walls clockwise, gables running through, eaves walls butted between them; partitions under the roof."""

    def outside(name: str, start: tuple, direction: tuple, length: float, *openings: OpeningSpec) -> WallSpec:
        plan = rectangle(0.0, -T, length, 0.0)
        roof = "both" if "gable" in name else ""
        return WallSpec(name, "outside", start, direction, length, plan, "NEGATIVE", 0.0, openings, roof, 50.0)

    between = LENGTH - 2 * T
    return (
        outside(
            "South 1",
            (LENGTH - T, 0),
            (-1, 0),
            between,
            window("W11", 1500, 1200, 1200),
            window("W12", 5500, 1200, 1200),
        ),
        outside("West gable 1", (0, 0), (0, 1), WIDTH, window("W13", 2600, 1800, 1400)),
        outside(
            "North 1",
            (T, WIDTH),
            (1, 0),
            between,
            window("W14", 2000, 1200, 1200),
            window("W15", 5800, 600, 600, sill=1300),
        ),
        outside("East gable 1", (LENGTH, WIDTH), (0, -1), WIDTH, window("W16", 4200, 1200, 1200)),
        centred("Cross partition 1", "partition", (4500, T), (0, 1), WIDTH - 2 * T, (door("D11", 900, 900),), "both"),
        centred(
            "Long partition 1",
            "partition",
            (4560.5, 4000),
            (1, 0),
            LENGTH - T - 4560.5,
            (door("D12", 500, 900),),
            "north",
        ),
    )


def window(name: str, x: float, width: float, height: float, sill: float = 900.0) -> OpeningSpec:
    return OpeningSpec(name, "IfcWindow", x, sill, width, height)


def door(name: str, x: float, width: float) -> OpeningSpec:
    return OpeningSpec(name, "IfcDoor", x, 0.0, width, 2110.0)


def centred(
    name: str,
    type_key: str,
    start: tuple[float, float],
    direction: tuple[float, float],
    length: float,
    openings: tuple[OpeningSpec, ...],
    roof: str = "",
    rating: str = "",
) -> WallSpec:
    """A wall whose axis is in the middle of its thickness."""
    half = sum(layer.thickness for layer in TYPES[type_key][1]) / 2
    plan = rectangle(0.0, -half, length, half)
    return WallSpec(name, type_key, start, direction, length, plan, "POSITIVE", -half, openings, roof, 0.0, rating)


class WallWriter:
    """Writes the walls of one storey."""

    def __init__(self, writer: ModelWriter, types: dict[str, WallType], storey: Any) -> None:
        self._writer = writer
        self._types = types
        self._storey = storey

    def write(self, spec: WallSpec) -> Any:
        """The wall with its openings, layers, properties and quantities."""
        writer, of_type = self._writer, self._types[spec.type_key]
        external = spec.type_key == "outside"
        wall = writer.rooted(
            "IfcWall",
            f"wall/{spec.name}",
            Name=spec.name,
            ObjectType=of_type.name,
            ObjectPlacement=writer.placement(self._storey, (*spec.start, 0.0), (*spec.direction, 0.0)),
            Representation=shape(writer, [self._body(spec)], axis=[(0.0, 0.0), (spec.length, 0.0)]),
            PredefinedType="SOLIDWALL" if external else "PARTITIONING",
        )
        writer.contain(self._storey, wall)
        use_layers(writer, wall, of_type, spec.sense, spec.offset)
        common_properties(
            writer,
            wall,
            external=external,
            transmittance=0.28 if external else None,
            rating=spec.rating,
            load_bearing=external,
        )
        low, high = (spec.plan[0][1], spec.plan[2][1])
        for opening in spec.openings:
            cut_opening(writer, wall, self._storey, opening, (low - spec.overshoot, high + spec.overshoot), BAR)
        writer.quantities(wall, "Qto_WallBaseQuantities", quantities(spec, of_type.thickness))
        return wall

    def _body(self, spec: WallSpec) -> Any:
        writer = self._writer
        if not spec.roof:
            return prism_z(writer, spec.plan, 0.0, height_of(spec))
        solid = prism_z(writer, spec.plan, 0.0, RIDGE + 200.0)
        (dx, dy), (sx, sy) = spec.direction, spec.start

        def local(point: tuple[float, float, float], normal: tuple[float, float]) -> tuple[tuple, tuple]:
            x, y = point[0] - sx, point[1] - sy
            return (x * dx + y * dy, y * dx - x * dy, point[2]), (
                normal[0] * dx + normal[1] * dy,
                normal[1] * dx - normal[0] * dy,
                2.0,
            )

        point, normal = local((sx, WIDTH, EAVES), (0.0, 1.0))
        solid = cut(writer, solid, point, normal)
        if spec.roof == "both":
            point, normal = local((sx, 0.0, EAVES), (0.0, -1.0))
            solid = cut(writer, solid, point, normal, flipped=True)
        return solid


def height_of(spec: WallSpec) -> float:
    """Height of a wall with a level top."""
    return EAVES if spec.name.endswith("1") else WALL_HEIGHT


def gross_area(spec: WallSpec) -> float:
    """mm2, elevation of the wall's middle plane, openings not deducted.

    The middle plane of a mitred wall is as long as the mean of its two faces.
    """
    lows = [x for x, y in spec.plan if y == spec.plan[0][1]]
    highs = [x for x, y in spec.plan if y == spec.plan[2][1]]
    length = (max(lows) - min(lows) + max(highs) - min(highs)) / 2
    if not spec.roof:
        return length * height_of(spec)
    if spec.roof == "north":  # level along the wall, sloping through its thickness: the middle plane's height
        return length * (EAVES + (WIDTH - spec.start[1]) / 2)
    near = min(spec.start[1], WIDTH - spec.start[1])
    return length * (EAVES + near / 2 + RIDGE) / 2


def quantities(spec: WallSpec, thickness: float) -> dict[str, tuple[str, float]]:
    """Qto_WallBaseQuantities in mm, m2 and m3; Height only where it is constant along the wall."""
    gross = gross_area(spec)
    through = sum(opening.area for opening in spec.openings if opening.recess is None)
    recesses = sum(
        opening.area * (opening.recess[1] - opening.recess[0]) for opening in spec.openings if opening.recess
    )
    result = {"Length": ("Length", spec.length), "Width": ("Length", thickness)}
    if not spec.roof:
        result["Height"] = ("Length", height_of(spec))
    result |= {
        "GrossSideArea": ("Area", gross / 1e6),
        "NetSideArea": ("Area", (gross - through) / 1e6),
        "GrossVolume": ("Volume", gross * thickness / 1e9),
        "NetVolume": ("Volume", ((gross - through) * thickness - recesses) / 1e9),
    }
    return result
