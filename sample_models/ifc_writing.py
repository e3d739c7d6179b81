"""Writes the skeleton of an IFC file with the same bytes at each run: header, project, units, placements, relations.

GlobalIds are computed from the file's name and a key of the element, and the header's time is fixed, so a model that
did not change gives a file that did not change.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.guid

INVENTED = "Invented test model: the place, the building and everybody named in it are made up."
WRITTEN_AT = "2024-01-01T00:00:00"
WRITTEN_AT_SECONDS = 1704067200
NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "https://example.invalid/sample-models")
DECIMALS = 9
"""Of a file unit: far below any tolerance, and it keeps 2.7409999999999997 out of the file."""

Numbers = Sequence[float]
UNITS = {
    "millimetre": (("MILLI", 1.0, None), ("m2", None), ("m3", None)),
    "metre": ((None, 1.0, None), ("m2", None), ("m3", None)),
    "inch": ((None, 0.0254, "INCH"), ("SQUARE FOOT", 0.3048**2), ("CUBIC FOOT", 0.3048**3)),
}
"""Length unit of the file -> (length), (area), (volume). The inch file keeps areas and volumes in feet, as many do."""


@dataclass(frozen=True, slots=True)
class ProjectSettings:
    """What distinguishes one sample file from another."""

    file_name: str
    schema: str
    unit: str
    name: str
    description: str
    true_north: tuple[float, float] = (0.0, 1.0)


class ModelWriter:
    """An IFC file being written. Everything with a GlobalId is made by `rooted`, everything else by `new`."""

    def __init__(self, settings: ProjectSettings) -> None:
        self.settings = settings
        self.file = ifcopenshell.file(schema=settings.schema)
        self._keys: set[str] = set()
        self._contained: dict[Any, list[Any]] = {}
        self._write_header()
        self.owner_history = self._owner_history()
        self._write_project()

    # ------------------------------------------------------------ entities

    def new(self, entity_class: str, *values: Any, **attributes: Any) -> Any:
        """An entity without a GlobalId."""
        return self.file.create_entity(entity_class, *values, **attributes)

    def rooted(self, entity_class: str, key: str, **attributes: Any) -> Any:
        """An entity with a GlobalId made from `key`, which must be new in this file."""
        if key in self._keys:
            raise ValueError(f"{self.settings.file_name}: the key '{key}' is used twice")
        self._keys.add(key)
        identity = uuid.uuid5(NAMESPACE, f"{self.settings.file_name}/{key}")
        return self.file.create_entity(
            entity_class,
            GlobalId=ifcopenshell.guid.compress(identity.hex),
            OwnerHistory=self.owner_history,
            **attributes,
        )

    def point(self, *coordinates: float) -> Any:
        return self.new("IfcCartesianPoint", Coordinates=rounded(coordinates))

    def direction(self, *ratios: float) -> Any:
        return self.new("IfcDirection", DirectionRatios=rounded(ratios))

    def axes(self, origin: Numbers, z: Numbers = (0, 0, 1), x: Numbers = (1, 0, 0)) -> Any:
        """An IfcAxis2Placement3D."""
        return self.new(
            "IfcAxis2Placement3D",
            Location=self.point(*origin),
            Axis=self.direction(*z),
            RefDirection=self.direction(*x),
        )

    def placement(self, within: Any, origin: Numbers = (0, 0, 0), x: Numbers = (1, 0, 0)) -> Any:
        """A local placement, turned about the vertical only; `within` is the product that it is relative to."""
        return self.new(
            "IfcLocalPlacement",
            PlacementRelTo=within.ObjectPlacement if within is not None else None,
            RelativePlacement=self.axes(origin, x=x),
        )

    # ------------------------------------------------------------ relations

    def contain(self, storey: Any, *products: Any) -> None:
        """Notes that products stand in a storey; `write` makes one relation for each storey."""
        self._contained.setdefault(storey, []).extend(products)

    def aggregate(self, whole: Any, parts: Sequence[Any]) -> None:
        self.rooted(
            "IfcRelAggregates", f"aggregates/{whole.GlobalId}", RelatingObject=whole, RelatedObjects=list(parts)
        )

    def assign_material(self, material: Any, products: Sequence[Any]) -> None:
        self.rooted(
            "IfcRelAssociatesMaterial",
            f"material/{products[0].GlobalId}",
            RelatedObjects=list(products),
            RelatingMaterial=material,
        )

    def define_by_type(self, element_type: Any, products: Sequence[Any]) -> None:
        self.rooted(
            "IfcRelDefinesByType",
            f"typed/{element_type.GlobalId}",
            RelatedObjects=list(products),
            RelatingType=element_type,
        )

    def void_and_fill(self, wall: Any, opening: Any, filling: Any | None) -> None:
        self.rooted(
            "IfcRelVoidsElement",
            f"voids/{opening.GlobalId}",
            RelatingBuildingElement=wall,
            RelatedOpeningElement=opening,
        )
        if filling is not None:
            self.rooted(
                "IfcRelFillsElement",
                f"fills/{opening.GlobalId}",
                RelatingOpeningElement=opening,
                RelatedBuildingElement=filling,
            )

    def connect(self, wall: Any, end: str, other: Any, other_end: str) -> None:
        """Joins two walls by their paths; ends are ATSTART, ATEND or ATPATH."""
        self.rooted(
            "IfcRelConnectsPathElements",
            f"connects/{wall.GlobalId}/{end}/{other.GlobalId}/{other_end}",
            RelatingElement=wall,
            RelatedElement=other,
            RelatingPriorities=[],
            RelatedPriorities=[],
            RelatingConnectionType=end,
            RelatedConnectionType=other_end,
        )

    def bound(self, space: Any, element: Any, outside: str) -> None:
        """Says that an element bounds a room; `outside` is EXTERNAL or INTERNAL."""
        self.rooted(
            "IfcRelSpaceBoundary",
            f"bounds/{space.GlobalId}/{element.GlobalId}",
            RelatingSpace=space,
            RelatedBuildingElement=element,
            PhysicalOrVirtualBoundary="PHYSICAL",
            InternalOrExternalBoundary=outside,
        )

    def properties(self, product: Any, set_name: str, values: dict[str, tuple[str, Any]]) -> None:
        """A property set; each value is (IFC type, value)."""
        singles = [
            self.new("IfcPropertySingleValue", Name=name, NominalValue=self.new(kind, value))
            for name, (kind, value) in values.items()
        ]
        definition = self.rooted(
            "IfcPropertySet", f"{set_name}/{product.GlobalId}", Name=set_name, HasProperties=singles
        )
        self._define(product, set_name, definition)

    def quantities(self, product: Any, set_name: str, values: dict[str, tuple[str, float]]) -> None:
        """A quantity set; each value is (Length, Area or Volume, number in file units)."""
        singles = [
            self.new(f"IfcQuantity{kind}", Name=name, **{f"{kind}Value": round(number, DECIMALS)})
            for name, (kind, number) in values.items()
        ]
        definition = self.rooted(
            "IfcElementQuantity", f"{set_name}/{product.GlobalId}", Name=set_name, Quantities=singles
        )
        self._define(product, set_name, definition)

    def _define(self, product: Any, set_name: str, definition: Any) -> None:
        self.rooted(
            "IfcRelDefinesByProperties",
            f"defines/{set_name}/{product.GlobalId}",
            RelatedObjects=[product],
            RelatingPropertyDefinition=definition,
        )

    # ------------------------------------------------------------ the whole file

    def site(self, origin: Numbers, description: str) -> Any:
        """The site, aggregated by the project."""
        site = self.rooted(
            "IfcSite",
            "site",
            Name="Hazel Hollow, plot 3",
            Description=description,
            ObjectPlacement=self.placement(None, origin),
            CompositionType="ELEMENT",
        )
        self.aggregate(self.project, [site])
        return site

    def building(self, site: Any, name: str, origin: Numbers, x: Numbers) -> Any:
        building = self.rooted(
            "IfcBuilding",
            "building",
            Name=name,
            ObjectPlacement=self.placement(site, origin, x),
            CompositionType="ELEMENT",
        )
        self.aggregate(site, [building])
        return building

    def storeys(self, building: Any, elevations: dict[str, float]) -> dict[str, Any]:
        """Storeys by name, aggregated by the building."""
        storeys = {
            name: self.rooted(
                "IfcBuildingStorey",
                f"storey/{name}",
                Name=name,
                ObjectPlacement=self.placement(building, (0.0, 0.0, elevation)),
                CompositionType="ELEMENT",
                Elevation=float(elevation),
            )
            for name, elevation in elevations.items()
        }
        self.aggregate(building, list(storeys.values()))
        return storeys

    def write(self, folder: Path) -> Path:
        """Closes the open relations and writes the file into `folder`."""
        for storey, products in self._contained.items():
            self.rooted(
                "IfcRelContainedInSpatialStructure",
                f"contains/{storey.GlobalId}",
                RelatingStructure=storey,
                RelatedElements=products,
            )
        self._contained.clear()
        path = folder / self.settings.file_name
        path.write_text(self.file.to_string(), encoding="ascii", newline="\n")
        return path

    def _write_header(self) -> None:
        header = self.file.header
        header.file_description.description = (
            "ViewDefinition [CoordinationView]"
            if self.settings.schema == "IFC2X3"
            else "ViewDefinition [DesignTransferView]",
            INVENTED,
        )
        name = header.file_name
        name.name = self.settings.file_name
        name.time_stamp = WRITTEN_AT
        name.author = ("nobody, an invented model",)
        name.organization = ("none",)
        name.preprocessor_version = "make_sample_models.py"
        name.originating_system = "make_sample_models.py"
        name.authorization = "none"

    def _owner_history(self) -> Any:
        person = self.new("IfcPerson", FamilyName="Nobody")
        organization = self.new("IfcOrganization", Name="Invented drawing office")
        user = self.new("IfcPersonAndOrganization", ThePerson=person, TheOrganization=organization)
        application = self.new(
            "IfcApplication",
            ApplicationDeveloper=organization,
            Version="1",
            ApplicationFullName="make_sample_models.py",
            ApplicationIdentifier="make_sample_models",
        )
        return self.new(
            "IfcOwnerHistory",
            OwningUser=user,
            OwningApplication=application,
            ChangeAction="NOCHANGE",
            CreationDate=WRITTEN_AT_SECONDS,
        )

    def _write_project(self) -> None:
        north = self.direction(*self.settings.true_north)
        context = self.new(
            "IfcGeometricRepresentationContext",
            ContextType="Model",
            CoordinateSpaceDimension=3,
            Precision=1e-5,
            WorldCoordinateSystem=self.axes((0.0, 0.0, 0.0)),
            TrueNorth=north,
        )
        self.contexts = {
            name: self.new(
                "IfcGeometricRepresentationSubContext",
                ContextIdentifier=name,
                ContextType="Model",
                ParentContext=context,
                TargetView="GRAPH_VIEW" if name == "Axis" else "MODEL_VIEW",
            )
            for name in ("Axis", "Body")
        }
        self.project = self.rooted(
            "IfcProject",
            "project",
            Name=self.settings.name,
            Description=f"{INVENTED} {self.settings.description}",
            RepresentationContexts=[context],
            UnitsInContext=self._units(),
        )

    def _units(self) -> Any:
        (prefix, metres, length_name), area, volume = UNITS[self.settings.unit]
        length = self.new("IfcSIUnit", UnitType="LENGTHUNIT", Prefix=prefix, Name="METRE")
        square = self.new("IfcSIUnit", UnitType="AREAUNIT", Name="SQUARE_METRE")
        cubic = self.new("IfcSIUnit", UnitType="VOLUMEUNIT", Name="CUBIC_METRE")
        angle = self.new("IfcSIUnit", UnitType="PLANEANGLEUNIT", Name="RADIAN")
        if length_name is not None:
            length = self._converted("LENGTHUNIT", (1, 0, 0), length_name, metres, length)
            square = self._converted("AREAUNIT", (2, 0, 0), area[0], area[1], square)
            cubic = self._converted("VOLUMEUNIT", (3, 0, 0), volume[0], volume[1], cubic)
        return self.new("IfcUnitAssignment", Units=[length, square, cubic, angle])

    def _converted(self, kind: str, power: Numbers, name: str, factor: float, base: Any) -> Any:
        measures = {"LENGTHUNIT": "IfcLengthMeasure", "AREAUNIT": "IfcAreaMeasure", "VOLUMEUNIT": "IfcVolumeMeasure"}
        exponents = dict.fromkeys(
            (
                "MassExponent",
                "TimeExponent",
                "ElectricCurrentExponent",
                "ThermodynamicTemperatureExponent",
                "AmountOfSubstanceExponent",
                "LuminousIntensityExponent",
            ),
            0,
        )
        dimensions = self.new("IfcDimensionalExponents", LengthExponent=int(power[0]), **exponents)
        measure = self.new(
            "IfcMeasureWithUnit", ValueComponent=self.new(measures[kind], round(factor, 15)), UnitComponent=base
        )
        return self.new(
            "IfcConversionBasedUnit", Dimensions=dimensions, UnitType=kind, Name=name, ConversionFactor=measure
        )


def rounded(numbers: Numbers) -> tuple[float, ...]:
    """Floats for the file; adding 0.0 turns -0.0 into 0.0."""
    return tuple(round(float(number), DECIMALS) + 0.0 for number in numbers)
