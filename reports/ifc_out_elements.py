"""Members and cavities of a takeoff as IFC elements, parts of their wall.

Laid-out members are IfcMember, typed by role and section. A cavity that gets insulation is an IfcBuildingElementPart
with PredefinedType INSULATION, which IFC4 defines as thermal insulation such as the infill of stud walls; in IFC2X3,
which has no such type, its ObjectType says so. A cavity that stays empty is an IfcVirtualElement: it has a place and a
size, but nothing is built. Both are told by class and type alone, so that a reader need not know this program.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from geometry.solids import volume
from reports.ifc_out_cavities import cavity_body, member_body
from reports.ifc_out_shapes import Place, body, place_of
from reports.ifc_out_target import ModelTarget
from takeoff.fill import Hole
from takeoff.framing.layout import member_number
from takeoff.framing.role_words import is_insulation
from takeoff.model import Cavity, LayerTakeoff, Member, MemberRole, Method, Source
from takeoff.piece_tables import MemberRow
from takeoff.wall_tables import FILLED, NOT_CAVITIES, stud_material

MEMBER_SET = "Bayfill_Member"
MEMBER_QUANTITIES = "Bayfill_MemberQuantities"
CAVITY_SET = "Bayfill_Cavity"
CAVITY_QUANTITIES = "Bayfill_CavityQuantities"
"""Names of our own: Pset_ and Qto_ are the standard's."""

PREDEFINED: Mapping[MemberRole, str] = {
    MemberRole.STUD: "STUD",
    MemberRole.KING_STUD: "STUD",
    MemberRole.JACK_STUD: "STUD",
    MemberRole.CRIPPLE: "STUD",
    MemberRole.BOTTOM_PLATE: "PLATE",
    MemberRole.TOP_PLATE: "PLATE",
    MemberRole.BRACE: "BRACE",
}
"""IfcMemberTypeEnum, the same words in all schemas; a role without one is USERDEFINED and said in words."""
INSULATION_MATERIALS: Mapping[Method, str] = {
    Method.BLOW: "Loose-fill insulation",
    Method.BATT: "Batt insulation",
    Method.BEFORE_SHEATHING: "Batt insulation",
}


@dataclass(frozen=True, slots=True, eq=False)
class LayerSite:
    """Where the elements of one stud layer stand.

    base: placement of the wall; axes: entity of the layer's axes in it; context: of bodies.
    """

    layer: LayerTakeoff
    place: Place
    base: Any
    axes: Any
    context: Any


class ElementWriter:
    """Writes members and cavities; types and materials are made once and joined to their elements at the end."""

    def __init__(
        self, target: ModelTarget, holes: Mapping[str, Sequence[Hole]], members: Mapping[str, MemberRow]
    ) -> None:
        """holes: by the id of the cavity that they serve. members: sizes and volumes by member id."""
        self._target = target
        self._holes = holes
        self._sizes = members
        self._typed: dict[tuple[MemberRole, str], list[Any]] = {}
        self._made_of: dict[str, list[Any]] = {}

    def parts_of(self, wall: Any, layer: LayerTakeoff) -> list[Any]:
        """The new parts of a wall for one stud layer: laid-out members, then cavities."""
        place = place_of(layer.frame.layer.axes)
        base, axes = self._target.place_within(wall, place.matrix)
        site = LayerSite(layer, place, base, axes, self._target.body_context(wall))
        laid = [member for member in layer.frame.members if member.source is Source.LAID_OUT]
        groups: dict[str, list[Member]] = {}
        for member in laid:
            groups.setdefault(member_number(member.member_id), []).append(member)
        made = [self._member(site, key, group) for key, group in groups.items()]
        made = [member for member in made if member is not None]
        return made + [self._cavity(site, cavity) for cavity in layer.cavities if cavity.kind not in NOT_CAVITIES]

    def finish(self) -> None:
        """Joins types and materials to the elements that were made."""
        target = self._target
        kinds = []
        for (role, section), elements in self._typed.items():
            kind = self._member_type(role, section)
            kinds.append(kind)
            target.define_by_type(kind, elements)
        if kinds and target.schema != "IFC2X3":
            target.rooted(
                "IfcRelDeclares",
                f"declares/{kinds[0].GlobalId}",
                RelatingContext=target.project,
                RelatedDefinitions=kinds,
            )
        for name, elements in self._made_of.items():
            target.make_of(self._material(name), f"{name}/{elements[0].GlobalId}", elements)

    # ------------------------------------------------------------ members

    def _member(self, site: LayerSite, key: str, group: Sequence[Member]) -> Any | None:
        """One member of some solids; None where all of it lies outside its stud layer, past a mitre."""
        target, first = self._target, group[0]
        outline = site.layer.frame.layer.outline
        solids = [piece for member in group for piece in member_body(member.solid, outline)]
        if not solids:
            return None
        element = target.rooted(
            "IfcMember",
            key,
            Name=role_name(first.role),
            ObjectPlacement=target.placement(site.base, site.axes),
            Representation=body(target, site.context, site.place, solids),
            Tag=key,
        )
        self._typed.setdefault((first.role, first.section), []).append(element)
        material = stud_material(site.layer.frame.layer)
        if material and not is_insulation("", "", material):
            # A layer named after studs and what fills them would make every stud a piece of insulation.
            self._made_of.setdefault(material, []).append(element)
        target.properties(
            element,
            MEMBER_SET,
            {
                "MemberId": key,
                "Role": str(first.role),
                "Reason": first.reason,
                "Section": first.section,
                "FramingSource": str(first.source),
                "FramingRule": site.layer.frame.rule,
            },
        )
        rows = [self._sizes[member.member_id] for member in group]
        # What a mitre cuts off belongs to the next wall.
        whole = sum(volume(member.solid) for member in group)
        left = sum(volume(solid) for solid in solids) / whole if whole > 0.0 else 1.0
        target.quantities(
            element,
            MEMBER_QUANTITIES,
            {
                "Length": ("Length", max(row.sizes[-1] for row in rows)),
                "Volume": ("Volume", left * sum(row.volume for row in rows)),
            },
        )
        return element

    def _member_type(self, role: MemberRole, section: str) -> Any:
        predefined = PREDEFINED.get(role, "USERDEFINED")
        return self._target.rooted(
            "IfcMemberType",
            f"type/{role}/{section}",
            Name=f"{role_name(role)} {section}".strip(),
            ElementType=role_name(role),
            PredefinedType=predefined,
        )

    # ------------------------------------------------------------ cavities

    def _cavity(self, site: LayerSite, cavity: Cavity) -> Any:
        target = self._target
        shape = cavity_body(cavity, site.layer)
        number = cavity.cavity_id.rpartition("/")[2]
        common = {
            "ObjectPlacement": target.placement(site.base, site.axes),
            "Representation": body(target, site.context, site.place, shape.solids),
            "Tag": cavity.cavity_id,
        }
        if cavity.method in FILLED:
            # IFC2X3 has no predefined type here; its place for such a word is ObjectType.
            typed = {"ObjectType": "INSULATION"} if target.schema == "IFC2X3" else {"PredefinedType": "INSULATION"}
            element = target.rooted(
                "IfcBuildingElementPart", cavity.cavity_id, Name=f"Insulation {number}", **typed, **common
            )
            self._made_of.setdefault(INSULATION_MATERIALS[cavity.method], []).append(element)
        else:
            element = target.rooted(
                "IfcVirtualElement", cavity.cavity_id, Name=f"Cavity {number}", ObjectType="CAVITY", **common
            )
        self._cavity_sets(element, cavity, site.layer, str(shape.likeness))
        return element

    def _cavity_sets(self, element: Any, cavity: Cavity, layer: LayerTakeoff, likeness: str) -> None:
        holes = self._holes.get(cavity.cavity_id, ())
        x_min, z_min, x_max, z_max = cavity.outline.bounds
        self._target.properties(
            element,
            CAVITY_SET,
            {
                "CavityId": cavity.cavity_id,
                "Kind": str(cavity.kind),
                "Method": str(cavity.method),
                "Reason": cavity.reason,
                "Room": cavity.room,
                "FramingSource": str(layer.frame.source),
                "Holes": len(holes),
                "HolePositions": [_hole_text(hole) for hole in holes],
                "BodyIs": likeness,
            },
        )
        self._target.quantities(
            element,
            CAVITY_QUANTITIES,
            {
                "Volume": ("Volume", cavity.volume),
                "ElevationArea": ("Area", cavity.area),
                "OpenArea": ("Area", float(cavity.front.area)),
                "Depth": ("Length", cavity.y_max - cavity.y_min),
                "ClearWidth": ("Length", cavity.clear_width),
                "Width": ("Length", x_max - x_min),
                "Height": ("Length", z_max - z_min),
            },
        )

    def _material(self, name: str) -> Any:
        """The material of that name, the file's own where it has one."""
        known = next((one for one in self._target.file.by_type("IfcMaterial") if one.Name == name), None)
        return known if known is not None else self._target.new("IfcMaterial", Name=name)


def role_name(role: MemberRole) -> str:
    """A role as a name.

    >>> role_name(MemberRole.KING_STUD)
    'King stud'
    """
    return re.sub("_", " ", str(role)).capitalize()


def _hole_text(hole: Hole) -> str:
    return (
        f"{hole.number}: x {hole.x:.3f} m, z {hole.z:.3f} m in wall axes, {hole.height:.3f} m above the floor, "
        f"{hole.fill_pass} pass, hole {hole.diameter:.3f} m, slit {hole.cut:.3f} m"
    )
