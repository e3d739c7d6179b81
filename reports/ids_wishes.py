"""What a model needs for a good takeoff: wishes, each a specification of IDS 1.0 and a request in plain words.

Information Delivery Specification (IDS) is an open standard of buildingSMART. It asks by exact class, so the names of
classes differ between the schemas, and a wish becomes a specification for each group of schemas that agree. What IDS
cannot say (that a wall has layers with thicknesses, or a type) `reports.ids_check` asks of the records that were read.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

IFC2X3, IFC4, IFC4X3 = "IFC2X3", "IFC4", "IFC4X3_ADD2"
"""Schemas as IDS 1.0 names them."""
WALLS: Mapping[str, tuple[str, ...]] = {
    IFC2X3: ("IFCWALL", "IFCWALLSTANDARDCASE"),
    IFC4: ("IFCWALL", "IFCWALLSTANDARDCASE", "IFCWALLELEMENTEDCASE"),
    IFC4X3: ("IFCWALL", "IFCWALLSTANDARDCASE"),
}
DOORS_AND_WINDOWS: Mapping[str, tuple[str, ...]] = {
    IFC2X3: ("IFCDOOR", "IFCWINDOW"),
    IFC4: ("IFCDOOR", "IFCDOORSTANDARDCASE", "IFCWINDOW", "IFCWINDOWSTANDARDCASE"),
    IFC4X3: ("IFCDOOR", "IFCWINDOW"),
}
MEMBERS: Mapping[str, tuple[str, ...]] = {
    IFC2X3: ("IFCMEMBER",),
    IFC4: ("IFCMEMBER", "IFCMEMBERSTANDARDCASE"),
    IFC4X3: ("IFCMEMBER",),
}
HOSTS: Mapping[str, tuple[str, ...]] = {
    schema: (*names, "IFCCOVERING", "IFCPLATE", "IFCROOF", "IFCSLAB") for schema, names in WALLS.items()
}
"""What a door or window may be let into: a skylight stands in a roof."""


def everywhere(*names: str) -> Mapping[str, tuple[str, ...]]:
    """The same classes in every schema."""
    return dict.fromkeys((IFC2X3, IFC4, IFC4X3), names)


class Facet(StrEnum):
    """The facets of IDS that are used here."""

    ATTRIBUTE = "attribute"
    PROPERTY = "property"
    MATERIAL = "material"
    PART_OF = "part of"


@dataclass(frozen=True, slots=True)
class Need:
    """One requirement.

    name: of the attribute, or of the property after its set and a point. relation, wholes: of PART_OF, the classes by
    schema. kind: data type of a property. optional: right where it is missing, wrong only in its type.
    """

    facet: Facet
    name: str = ""
    relation: str = ""
    wholes: Mapping[str, tuple[str, ...]] | None = None
    kind: str = ""
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Wish:
    """One thing that a model should have.

    needs: of every element of the classes. at_least_one: whether the model must have such elements at all. what: the
    elements, in the plural. lacks: what is said of those that fail. ask: what to ask for. none: said where there are
    none.
    """

    key: str
    title: str
    why: str
    classes: Mapping[str, tuple[str, ...]]
    needs: tuple[Need, ...]
    what: str
    lacks: str
    ask: str
    at_least_one: bool = False
    none: str = ""


WISHES: Sequence[Wish] = (
    Wish(
        "walls_are_walls",
        "Walls are modelled as walls with a body",
        "Only walls are taken off, and their lengths, heights and openings come from their bodies.",
        WALLS,
        (Need(Facet.ATTRIBUTE, "Representation"),),
        "walls",
        "have no shape",
        "Export them with their 3D body.",
        at_least_one=True,
        none="The model has no walls. Have them exported as walls (IfcWall), not as other elements.",
    ),
    Wish(
        "walls_in_storeys",
        "Every wall stands in a storey",
        "Quantities, sheets and loads are made by storey.",
        WALLS,
        (
            Need(
                Facet.PART_OF,
                relation="IFCRELCONTAINEDINSPATIALSTRUCTURE",
                wholes=everywhere("IFCBUILDINGSTOREY"),
            ),
        ),
        "walls",
        "stand in no storey",
        "Have each wall contained in its storey (IfcRelContainedInSpatialStructure).",
    ),
    Wish(
        "walls_external",
        "Every wall says whether it is an outside wall",
        "Whether a wall is filled by default, and which side is the room, follow from it.",
        WALLS,
        (Need(Facet.PROPERTY, "Pset_WallCommon.IsExternal", kind="IFCBOOLEAN"),),
        "walls",
        "do not say whether they are outside walls",
        "Have Pset_WallCommon.IsExternal set on every wall.",
    ),
    Wish(
        "walls_of_layers",
        "Every wall has materials",
        "The stud layer, its depth and what covers it are told by the layers of the wall, each with its thickness.",
        WALLS,
        (Need(Facet.MATERIAL),),
        "walls",
        "have neither material layers with thicknesses nor a modelled frame",
        "Have each wall type built of layers (IfcMaterialLayerSet), one of them the stud layer named by its material, "
        "or have the framing modelled as parts of the wall.",
    ),
    Wish(
        "walls_typed",
        "Wall types are named",
        "Rules of the job file and of the quote hold for a wall type; it is what people call a wall by.",
        everywhere("IFCWALLTYPE"),
        (Need(Facet.ATTRIBUTE, "Name"),),
        "walls",
        "have neither a type nor a layer set with a name",
        "Have each wall assigned to a named wall type (IfcWallType).",
    ),
    Wish(
        "walls_u_value",
        "A stated U-value is a number of the right kind",
        "It is compared with the one computed from the real framing.",
        WALLS,
        (
            Need(
                Facet.PROPERTY,
                "Pset_WallCommon.ThermalTransmittance",
                kind="IFCTHERMALTRANSMITTANCEMEASURE",
                optional=True,
            ),
        ),
        "walls",
        "state their U-value as something else than a thermal transmittance",
        "Have Pset_WallCommon.ThermalTransmittance given as IfcThermalTransmittanceMeasure.",
    ),
    Wish(
        "openings_by_element",
        "Every door and window fills an opening of its wall",
        "An opening is deducted, and framed around, by its opening element.",
        DOORS_AND_WINDOWS,
        (Need(Facet.PART_OF, relation="IFCRELVOIDSELEMENT IFCRELFILLSELEMENT", wholes=HOSTS),),
        "doors and windows",
        "fill no opening of a wall",
        "Have them hosted by their wall, so that each brings its opening (IfcOpeningElement).",
    ),
    Wish(
        "members_have_bodies",
        "Every framing member has a body",
        "Cavities are what is left between the bodies of members.",
        MEMBERS,
        (Need(Facet.ATTRIBUTE, "Representation"),),
        "members",
        "have no shape",
        "Export them with their 3D body, as parts of their wall (IfcRelAggregates) or standing in it.",
    ),
    Wish(
        "rooms",
        "Rooms are modelled and named",
        "The fill side of a wall is the side of a room, and the crew works room by room.",
        everywhere("IFCSPACE"),
        (Need(Facet.ATTRIBUTE, "Name"),),
        "rooms",
        "have no name or number",
        "Have the rooms numbered or named.",
        at_least_one=True,
        none="The model has no rooms, so which side of a wall faces one is told from other signs. Have the rooms "
        "exported (IfcSpace).",
    ),
    Wish(
        "storeys",
        "Storeys are modelled and named",
        "Everything is listed by storey.",
        everywhere("IFCBUILDINGSTOREY"),
        (Need(Facet.ATTRIBUTE, "Name"),),
        "storeys",
        "have no name",
        "Have the storeys named.",
        at_least_one=True,
        none="The model has no storeys. Have them exported (IfcBuildingStorey), with the walls in them.",
    ),
)
