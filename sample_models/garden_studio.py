"""The garden studio: IFC4, inches (areas and volumes in feet), four walls framed to the last block.

Studio axes: x east, y north, z up from the subfloor, origin at the south-west corner of the outside face of the
studs, 192 x 125.5 in. Each wall shows another way in which models hold a frame; README.md lists them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ifc_shapes import Points, box, mapped, prism_y, prism_z, rectangle, shape, shape_map
from ifc_walls import (
    LayerSpec,
    Materials,
    OpeningSpec,
    WallType,
    common_properties,
    cut_opening,
    place_filling,
    use_layers,
    wall_type,
)
from ifc_writing import ModelWriter, ProjectSettings
from studio_contents import write_room_and_floor, write_services
from studio_frames import (
    BACK_HEIGHT,
    CLADDING,
    DEPTH,
    FRONT_HEIGHT,
    LEVEL_LENGTH,
    LINING,
    PLATE_UPRIGHT,
    SHEATHING,
    SIDE_LENGTH,
    Piece,
    back_frame,
    cap_underside,
    east_frame,
    front_frame,
    west_frame,
)

SETTINGS = ProjectSettings(
    file_name="garden_studio.ifc",
    schema="IFC4",
    unit="inch",
    name="Garden studio for nobody",
    description="A framed garden studio in the invented hamlet of Hazel Hollow, as it stands before the roof is on.",
)
LAYERS = (
    LayerSpec("Board siding 3/4 in", CLADDING, "wood", "Finish"),
    LayerSpec("Plywood 1/2 in", SHEATHING, "wood", "Sheathing", 0.13),
    LayerSpec("2x6 framing at 16 in", DEPTH, "wood", "LoadBearing", 0.13),
    LayerSpec("Gypsum board 1/2 in", LINING, "gypsum", "Finish", 0.25),
)
SHEET = 48.0
BAR = 2.0
DOOR = OpeningSpec("Studio door", "IfcDoor", 50.25, 0.0, 38.0, 82.5)
FRONT_WINDOW = OpeningSpec("Front window", "IfcWindow", 114.25, 36.0, 44.0, 46.5)
BACK_WINDOW = OpeningSpec("Back window", "IfcWindow", 66.25, 42.5, 60.0, 40.0)
"""The gap in the back wall's frame; the window itself is half an inch smaller all round."""
TIDY = {
    "STUD": "STUD",
    "PLATE": "PLATE",
    "HEADER": "MEMBER",
    "CAP": "PLATE",
    "SILL": "MEMBER",
    "BLOCK": "MEMBER",
    "BRACE": "BRACE",
    "SPACER": "MEMBER",
}


@dataclass(frozen=True, slots=True)
class StudioWall:
    """A wall of the studio. `inward` is the sense of local y that points inside: +1 or -1."""

    name: str
    entity_class: str
    start: tuple[float, float]
    direction: tuple[float, float]
    inward: int
    outline: Points
    """Elevation of the wall, wall axes, without the plates that lap over its neighbours."""
    pieces: Sequence[Piece]
    has_body: bool
    holes: tuple[OpeningSpec, ...] = ()


def studio_walls() -> tuple[StudioWall, ...]:
    """Front, back, west and east wall."""
    sides = [(0.0, 0.0), (SIDE_LENGTH, 0.0)]
    sides += [(x, cap_underside(x) + PLATE_UPRIGHT) for x in (SIDE_LENGTH, 0.0)]
    front, back = (rectangle(0, 0, LEVEL_LENGTH, height) for height in (FRONT_HEIGHT, BACK_HEIGHT))
    y_back = SIDE_LENGTH + 2 * DEPTH
    return (
        StudioWall("Front wall", "IfcWall", (0, 0), (1, 0), 1, front, front_frame(), True, (DOOR, FRONT_WINDOW)),
        StudioWall(
            "Back wall",
            "IfcWallElementedCase",
            (LEVEL_LENGTH, y_back),
            (-1, 0),
            1,
            back,
            back_frame(),
            False,
            (BACK_WINDOW,),
        ),
        StudioWall("West wall", "IfcWall", (0, DEPTH), (0, 1), -1, sides, west_frame(), True),
        StudioWall("East wall", "IfcWallElementedCase", (LEVEL_LENGTH, DEPTH), (0, 1), 1, sides, east_frame(), False),
    )


def write_studio(folder: Path) -> Path:
    """Writes the studio into `folder`."""
    writer = ModelWriter(SETTINGS)
    site = writer.site((600.0, 240.0, 36.0), "A garden that exists in no country.")
    building = writer.building(site, "Garden studio", (24.0, -12.0, 6.0), (0.96, 0.28, 0.0))
    storey = writer.storeys(building, {"Studio floor": 0.0})["Studio floor"]
    materials = Materials(writer)
    of_type = wall_type(writer, materials, "Outside wall 2x6", LAYERS)
    maker = StudioWriter(writer, materials, of_type, storey)
    walls = {spec.name: maker.write(spec) for spec in studio_walls()}
    writer.define_by_type(of_type.entity, list(walls.values()))
    for side, front_place, back_place in (("West wall", "ATSTART", "ATEND"), ("East wall", "ATEND", "ATSTART")):
        writer.connect(walls[side], "ATSTART", walls["Front wall"], front_place)
        writer.connect(walls[side], "ATEND", walls["Back wall"], back_place)
    maker.finish()
    write_services(writer, storey, walls["Back wall"])
    window = OpeningSpec("Back window", "IfcWindow", 0.0, 0.0, BACK_WINDOW.width - 1.0, BACK_WINDOW.height - 1.0)
    place = (BACK_WINDOW.x + 0.5, 0.0, BACK_WINDOW.sill + 0.5)
    place_filling(writer, walls["Back wall"], storey, window, (2.5, BAR), place)
    write_room_and_floor(writer, storey, walls)
    return writer.write(folder)


class StudioWriter:
    """Writes walls and their frames, and keeps what must be related at the end."""

    def __init__(self, writer: ModelWriter, materials: Materials, of_type: WallType, storey: Any) -> None:
        self._writer = writer
        self._materials = materials
        self._type = of_type
        self._storey = storey
        self._of_lumber: list[Any] = []
        self._of_plywood: list[Any] = []
        self._maps: dict[tuple, Any] = {}

    def write(self, spec: StudioWall) -> Any:
        """A wall with its layers, frame, sheathing and openings."""
        writer = self._writer
        far = DEPTH + LINING
        low, high = sorted((-(CLADDING + SHEATHING) * spec.inward, far * spec.inward))
        solids = [prism_y(writer, spec.outline, low, high)] if spec.has_body else []
        axis = [(0.0, 0.0), (max(x for x, _ in spec.outline), 0.0)]
        wall = writer.rooted(
            spec.entity_class,
            f"wall/{spec.name}",
            Name=spec.name,
            ObjectType=self._type.name,
            ObjectPlacement=writer.placement(self._storey, (*spec.start, 0.0), (*spec.direction, 0.0)),
            Representation=shape(writer, solids, axis),
            PredefinedType="ELEMENTEDWALL" if not spec.has_body else "SOLIDWALL",
        )
        writer.contain(self._storey, wall)
        sense = "POSITIVE" if spec.inward > 0 else "NEGATIVE"
        use_layers(writer, wall, self._type, sense, -(CLADDING + SHEATHING) * spec.inward)
        common_properties(writer, wall, external=True, transmittance=0.31, load_bearing=True)
        sheets = self._sheets(spec, wall)
        members = [self._member(spec, wall, piece, n) for n, piece in enumerate(spec.pieces, start=1)]
        if spec.name == "East wall":
            members = [self._assembly(wall, members)]
        writer.aggregate(wall, [*members, *sheets])
        if spec.has_body:
            for hole in spec.holes:
                cut_opening(writer, wall, self._storey, hole, (low - 1.0, high + 1.0), BAR)
        writer.quantities(wall, "Qto_WallBaseQuantities", _quantities(spec, self._type.thickness))
        return wall

    def finish(self) -> None:
        """Gives lumber and plywood their materials."""
        writer = self._writer
        writer.assign_material(self._materials.get("Softwood framing lumber", "wood", 0.13), self._of_lumber)
        writer.assign_material(self._materials.get("Plywood 1/2 in", "wood", 0.13), self._of_plywood)

    def _assembly(self, wall: Any, members: list[Any]) -> Any:
        """The frame as an assembly of its own, inside the wall."""
        writer = self._writer
        assembly = writer.rooted(
            "IfcElementAssembly",
            "assembly/East wall",
            Name="East wall frame",
            ObjectPlacement=writer.placement(wall),
            AssemblyPlace="SITE",
            PredefinedType="USERDEFINED",
            ObjectType="Wall frame",
        )
        writer.aggregate(assembly, members)
        return assembly

    def _member(self, spec: StudioWall, wall: Any, piece: Piece, n: int) -> Any:
        """One piece of lumber. The back wall tells no names or types, and copies equal studs from one shape."""
        writer = self._writer
        tidy = spec.name != "Back wall"
        as_beam = tidy and piece.kind == "HEADER"
        member = writer.rooted(
            "IfcBeam" if as_beam else "IfcMember",
            f"member/{spec.name}/{n}",
            Name=piece.name if tidy else f"Part {n:03d}",
            ObjectPlacement=writer.placement(wall),
            Representation=shape(writer, [self._solid(spec, piece, copy=not tidy)]),
        )
        if as_beam:
            member.PredefinedType = "LINTEL"
        elif tidy:
            member.PredefinedType = TIDY[piece.kind]
        (self._of_plywood if piece.kind == "SPACER" else self._of_lumber).append(member)
        return member

    def _solid(self, spec: StudioWall, piece: Piece, *, copy: bool) -> Any:
        """The solid of a piece: plain boxes swept upwards, others swept through the wall."""
        writer = self._writer
        y0, y1 = sorted((piece.d0 * spec.inward, piece.d1 * spec.inward))
        (x0, z0), (x1, z1) = piece.outline[0], piece.outline[2]
        if list(piece.outline) != rectangle(x0, z0, x1, z1):
            return prism_y(writer, piece.outline, y0, y1)
        if piece.kind != "STUD":
            return box(writer, (x0, y0, z0), (x1, y1, z1))
        if not copy:
            return prism_z(writer, rectangle(x0, y0, x1, y1), z0, z1)
        size = (x1 - x0, y1 - y0, round(z1 - z0, 6))
        if size not in self._maps:
            self._maps[size] = shape_map(writer, [box(writer, (0, 0, 0), size)])
        return mapped(writer, self._maps[size], (x0, y0, z0))

    def _sheets(self, spec: StudioWall, wall: Any) -> list[Any]:
        """Plywood on the outside of the studs, 48 in wide, cut around the openings."""
        writer = self._writer
        y0, y1 = sorted((0.0, -SHEATHING * spec.inward))
        sheets = []
        for n, outline in enumerate(_sheet_outlines(spec), start=1):
            sheet = writer.rooted(
                "IfcPlate",
                f"sheet/{spec.name}/{n}",
                Name=f"Plywood sheet {n}",
                ObjectPlacement=writer.placement(wall),
                Representation=shape(writer, [prism_y(writer, outline, y0, y1)]),
                PredefinedType="SHEET",
            )
            sheets.append(sheet)
        self._of_plywood.extend(sheets)
        return sheets


def _sheet_outlines(spec: StudioWall) -> list[Points]:
    """Strips of a sheet's width under the wall's top, each cut into what stands beside, under and over the openings."""
    (_, _), (length, _), (_, z_end), (_, z_start) = spec.outline
    outlines: list[Points] = []
    x0 = 0.0
    while x0 < length:
        x1 = min(x0 + SHEET, length)
        tops = [z_start + (z_end - z_start) * x / length for x in (x0, x1)]
        hole = next((hole for hole in spec.holes if hole.x < x1 and hole.x + hole.width > x0), None)
        if hole is None:
            outlines.append([(x0, 0.0), (x1, 0.0), (x1, tops[1]), (x0, tops[0])])
        else:
            left, right = max(x0, hole.x), min(x1, hole.x + hole.width)
            head = hole.sill + hole.height
            parts = [(x0, 0.0, left, tops[0]), (right, 0.0, x1, tops[0]), (left, 0.0, right, hole.sill)]
            parts.append((left, head, right, tops[0]))
            outlines += [rectangle(*part) for part in parts if part[2] - part[0] > 0.1 and part[3] - part[1] > 0.1]
        x0 = x1
    return outlines


def _quantities(spec: StudioWall, thickness: float) -> dict[str, tuple[str, float]]:
    """Qto_WallBaseQuantities: lengths in inches, areas and volumes in feet, as the file's units say."""
    (_, _), (length, _), (_, z_end), (_, z_start) = spec.outline
    gross = length * (z_end + z_start) / 2
    net = gross - sum(hole.area for hole in spec.holes)
    values = {"Length": ("Length", length), "Width": ("Length", thickness)}
    if z_end == z_start:
        values["Height"] = ("Length", z_end)
    return values | {
        "GrossSideArea": ("Area", gross / 12**2),
        "NetSideArea": ("Area", net / 12**2),
        "GrossVolume": ("Volume", gross * thickness / 12**3),
        "NetVolume": ("Volume", net * thickness / 12**3),
    }
