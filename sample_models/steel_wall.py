"""Two cold-formed steel walls: IFC2X3, metres; C-section studs in U track, at 16 in and at 24 in on centre.

Wall A holds its members (a relation says so), their sections are parametric profiles, and it has a door with boxed
jambs and a box header. Wall B's members stand in its plane and nothing relates them to it; their sections are polygons.

Sections are named by web (1/100 in), S for stud or T for track, flange (1/100 in) and mils. Track is deep enough
inside to take the stud, so its flanges lie outside the depth of the studs. Corners of sections are drawn sharp, so
that areas are exact.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ifc_shapes import Points, extrude, prism_z, profile, rectangle, shape
from ifc_walls import LayerSpec, Materials, OpeningSpec, WallType, common_properties, cut_opening, use_layers, wall_type
from ifc_writing import ModelWriter, Numbers, ProjectSettings

INCH = 0.0254
SETTINGS = ProjectSettings(
    file_name="steel_wall.ifc",
    schema="IFC2X3",
    unit="metre",
    name="Two steel walls for nobody",
    description="Two cold-formed steel walls of an invented workshop in the invented hamlet of Hazel Hollow.",
)


@dataclass(frozen=True, slots=True)
class Section:
    """A lipped C (stud) or a U (track, lip 0), m, sharp corners."""

    name: str
    web: float
    flange: float
    lip: float
    thickness: float

    @property
    def area(self) -> float:
        """m2: web, two flanges, two lips, corners counted once."""
        lips = 2 * (self.lip - self.thickness) if self.lip else 0.0
        return self.thickness * (self.web + 2 * (self.flange - self.thickness) + lips)


T43, T33 = 0.0451 * INCH, 0.0346 * INCH
"""Design thickness of 43 and 33 mil sheet."""
STUD_A = Section("600S162-43", 6.0 * INCH, 1.625 * INCH, 0.5 * INCH, T43)
TRACK_A = Section("600T125-43", 6.0 * INCH + 2 * T43, 1.25 * INCH, 0.0, T43)
JOIST_A = Section("800S162-43", 8.0 * INCH, 1.625 * INCH, 0.5 * INCH, T43)
STUD_B = Section("362S137-33", 3.625 * INCH, 1.375 * INCH, 0.375 * INCH, T33)
TRACK_B = Section("362T125-33", 3.625 * INCH + 2 * T33, 1.25 * INCH, 0.0, T33)

BOARD = 0.625 * INCH
LENGTH_A, HEIGHT_A, SPACING_A = 144 * INCH, 108 * INCH, 16 * INCH
LENGTH_B, HEIGHT_B, SPACING_B = 192 * INCH, 96 * INCH, 24 * INCH
DOOR = OpeningSpec("Workshop door", "IfcDoor", 54 * INCH, 0.0, 36 * INCH, 84 * INCH)
BAR = 0.05
JAMB = 2 * STUD_A.flange
PLACE_B = (114 * INCH, STUD_A.web + BOARD)
"""Where wall B's axis meets the inner face of wall A."""


def write_steel_walls(folder: Path) -> Path:
    """Writes the two walls into `folder`."""
    writer = ModelWriter(SETTINGS)
    site = writer.site((20.0, 5.0, 1.5), "A yard that exists in no country.")
    building = writer.building(site, "Workshop", (2.0, 1.0, 0.0), (0.6, 0.8, 0.0))
    storey = writer.storeys(building, {"Workshop floor": 0.0})["Workshop floor"]
    materials = Materials(writer)
    types = [
        _layers(writer, materials, "Steel wall 6 in", STUD_A),
        _layers(writer, materials, "Steel wall 3 5/8 in", STUD_B),
    ]
    wall_a = _wall(writer, storey, "Wall A", types[0], (LENGTH_A, HEIGHT_A), ((0.0, 0.0), (1.0, 0.0)))
    wall_b = _wall(writer, storey, "Wall B", types[1], (LENGTH_B, HEIGHT_B), (PLACE_B, (0.0, 1.0)))
    for of_type, wall in zip(types, (wall_a, wall_b), strict=True):
        writer.define_by_type(of_type.entity, [wall])
    writer.connect(wall_b, "ATSTART", wall_a, "ATPATH")
    cut_opening(writer, wall_a, storey, DOOR, (-BOARD, STUD_A.web + BOARD), BAR)
    parts_a = MemberWriter(writer, wall_a, "A", 0.0, _parametric).frame_a()
    writer.aggregate(wall_a, parts_a)
    parts_b = MemberWriter(writer, wall_b, "B", -STUD_B.web / 2, _polygonal).frame_b()
    writer.contain(storey, *parts_b)
    writer.assign_material(materials.get("Galvanized steel sheet"), [*parts_a, *parts_b])
    return writer.write(folder)


def _layers(writer: ModelWriter, materials: Materials, name: str, stud: Section) -> WallType:
    board = LayerSpec("Gypsum board 5/8 in", BOARD)
    sheathing = LayerSpec("Gypsum sheathing 5/8 in", BOARD) if stud is STUD_A else board
    studs = LayerSpec(f"Cold-formed steel studs {stud.web / INCH:g} in", stud.web)
    return wall_type(writer, materials, name, [sheathing, studs, board])


def _wall(
    writer: ModelWriter, storey: Any, name: str, of_type: WallType, size: tuple[float, float], path: tuple[tuple, tuple]
) -> Any:
    """A wall with body, layers, properties and quantities. Wall A's axis is the studs' outside face, B's its middle."""
    length, height = size
    start, direction = path
    offset = -BOARD if name == "Wall A" else -of_type.thickness / 2
    plan = rectangle(0.0, offset, length, offset + of_type.thickness)
    wall = writer.rooted(
        "IfcWallStandardCase",
        f"wall/{name}",
        Name=name,
        ObjectType=of_type.name,
        ObjectPlacement=writer.placement(storey, (*start, 0.0), (*direction, 0.0)),
        Representation=shape(writer, [prism_z(writer, plan, 0.0, height)], axis=[(0.0, 0.0), (length, 0.0)]),
    )
    writer.contain(storey, wall)
    use_layers(writer, wall, of_type, "POSITIVE", round(offset, 9))
    common_properties(writer, wall, external=name == "Wall A", load_bearing=name == "Wall A")
    gross = length * height
    net = gross - (DOOR.area if name == "Wall A" else 0.0)
    writer.quantities(
        wall,
        "BaseQuantities",
        {
            "Length": ("Length", length),
            "Width": ("Length", of_type.thickness),
            "Height": ("Length", height),
            "GrossSideArea": ("Area", gross),
            "NetSideArea": ("Area", net),
            "GrossVolume": ("Volume", gross * of_type.thickness),
            "NetVolume": ("Volume", net * of_type.thickness),
        },
    )
    return wall


def _parametric(writer: ModelWriter, section: Section) -> Any:
    """The section as a parametric profile: origin in the middle of its bounding box, web at -x, open towards +x."""
    common = {
        "ProfileType": "AREA",
        "ProfileName": section.name,
        "Position": writer.new("IfcAxis2Placement2D", Location=writer.point(0, 0)),
        "Depth": round(section.web, 9),
    }
    if section.lip:
        return writer.new(
            "IfcCShapeProfileDef",
            Width=round(section.flange, 9),
            WallThickness=round(section.thickness, 9),
            Girth=round(section.lip, 9),
            **common,
        )
    return writer.new(
        "IfcUShapeProfileDef",
        FlangeWidth=round(section.flange, 9),
        WebThickness=round(section.thickness, 9),
        FlangeThickness=round(section.thickness, 9),
        **common,
    )


def _polygonal(writer: ModelWriter, section: Section) -> Any:
    """The same section as a polygon."""
    made = profile(writer, section_outline(section))
    made.ProfileName = section.name
    return made


def section_outline(section: Section) -> Points:
    """Outline of a C or U, web at -x, open towards +x, origin in the middle of its bounding box."""
    x, y, t = section.flange / 2, section.web / 2, section.thickness
    if not section.lip:
        return [(-x, -y), (x, -y), (x, -y + t), (-x + t, -y + t), (-x + t, y - t), (x, y - t), (x, y), (-x, y)]
    lip = section.lip
    lower = [(-x, -y), (x, -y), (x, -y + lip), (x - t, -y + lip), (x - t, -y + t), (-x + t, -y + t)]
    return [*lower, *[(px, -py) for px, py in reversed(lower)]]


class MemberWriter:
    """Writes the members of one wall; `face` is the local y of the studs' outside face."""

    def __init__(
        self, writer: ModelWriter, wall: Any, name: str, face: float, section: Callable[[ModelWriter, Section], Any]
    ) -> None:
        self._writer = writer
        self._wall = wall
        self._name = name
        self._face = face
        self._section = section
        self._made: list[Any] = []

    def frame_a(self) -> list[Any]:
        """Studs at 16 in, backs of webs on the marks, all open to the right but the last; door frame; track."""
        low, high = T43, HEIGHT_A - T43
        left, right = DOOR.x, DOOR.x + DOOR.width
        for k in (0, 1, 2, 3, 6, 7, 8):
            self._upright(f"Stud {k}", STUD_A, k * SPACING_A, (low, high))
        self._upright("End stud", STUD_A, LENGTH_A, (low, high), open_right=False)
        for name, x in (("left", left - JAMB), ("right", right)):
            self._upright(f"Jamb stud {name} 1", STUD_A, x, (low, high))
            self._upright(f"Jamb stud {name} 2", STUD_A, x + JAMB, (low, high), open_right=False)
        self._track("Bottom track 1", TRACK_A, (0.0, left), 0.0, up=True)
        self._track("Bottom track 2", TRACK_A, (right, LENGTH_A), 0.0, up=True)
        self._track("Top track", TRACK_A, (0.0, LENGTH_A), HEIGHT_A, up=False)
        head = DOOR.height
        self._track("Header track below", TRACK_A, (left, right), head, up=True)
        self._header(left, right, head + T43)
        over = head + T43 + JOIST_A.web
        self._track("Header track above", TRACK_A, (left, right), over, up=True)
        for k in (4, 5):
            self._upright(f"Cripple stud {k}", STUD_A, k * SPACING_A, (over + T43, high))
        return self._made

    def frame_b(self) -> list[Any]:
        """Studs at 24 in in track, nothing else."""
        low, high = T33, HEIGHT_B - T33
        for k in range(8):
            self._upright(f"C {k + 1}", STUD_B, k * SPACING_B, (low, high))
        self._upright("C 9", STUD_B, LENGTH_B, (low, high), open_right=False)
        self._track("U 1", TRACK_B, (0.0, LENGTH_B), 0.0, up=True)
        self._track("U 2", TRACK_B, (0.0, LENGTH_B), HEIGHT_B, up=False)
        return self._made

    def _upright(
        self, name: str, section: Section, back: float, reach: tuple[float, float], *, open_right: bool = True
    ) -> None:
        """A stud with the back of its web at x = back."""
        sense = 1.0 if open_right else -1.0
        middle = (back + sense * section.flange / 2, self._face + section.web / 2, reach[0])
        self._member(name, section, middle, ((0, 0, 1), (sense, 0, 0)), reach[1] - reach[0])

    def _track(self, name: str, section: Section, span: tuple[float, float], back: float, *, up: bool) -> None:
        """A level track with the back of its web at z = back, its flanges up or down."""
        sense = 1.0 if up else -1.0
        depth = section.web - 2 * section.thickness
        middle = (span[0], self._face + depth / 2, back + sense * section.flange / 2)
        self._member(name, section, middle, ((1, 0, 0), (0, 0, sense)), span[1] - span[0])

    def _header(self, left: float, right: float, z: float) -> None:
        """Two joist sections with upright webs at the faces, open towards each other."""
        z_middle, flange = z + JOIST_A.web / 2, JOIST_A.flange
        outer = self._face + flange / 2
        inner = self._face + STUD_A.web - flange / 2
        for n, (y, sense) in enumerate(((outer, 1.0), (inner, -1.0)), start=1):
            axes = ((1, 0, 0), (0, sense, 0))
            self._member(f"Header joist {n}", JOIST_A, (left, y, z_middle), axes, right - left)

    def _member(
        self, name: str, section: Section, origin: Numbers, axes: tuple[Numbers, Numbers], length: float
    ) -> None:
        writer = self._writer
        solid = extrude(writer, self._section(writer, section), writer.axes(origin, z=axes[0], x=axes[1]), length)
        self._made.append(
            writer.rooted(
                "IfcMember",
                f"member/{self._name}/{name}",
                Name=name,
                ObjectType=section.name,
                ObjectPlacement=writer.placement(self._wall),
                Representation=shape(writer, [solid]),
            )
        )
