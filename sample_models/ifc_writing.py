"""Writes the skeleton of an IFC file with the same bytes at each run: header, project, units, placements, relations.

GlobalIds are computed from the file's name and a key of the element, and the header's time is fixed, so a model that
did not change gives a file that did not change.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.guid
from ifc_project import DECIMALS, INVENTED, NAMESPACE, Numbers, ProjectSettings, owner_history, units, write_header


class ModelWriter:
    """An IFC file being written. Everything with a GlobalId is made by `rooted`, everything else by `new`."""

    def __init__(self, settings: ProjectSettings) -> None:
        self.settings = settings
        self.file = ifcopenshell.file(schema=settings.schema)
        self._keys: set[str] = set()
        self._contained: dict[Any, list[Any]] = {}
        write_header(self.file, settings)
        self.owner_history = owner_history(self.file)
        self.project, self.contexts = self._write_project()

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

    def _write_project(self) -> tuple[Any, dict[str, Any]]:
        """The project with its units, and the representation contexts by name."""
        context = self.new(
            "IfcGeometricRepresentationContext",
            ContextType="Model",
            CoordinateSpaceDimension=3,
            Precision=1e-5,
            WorldCoordinateSystem=self.axes((0.0, 0.0, 0.0)),
            TrueNorth=self.direction(*self.settings.true_north),
        )
        contexts = {
            name: self.new(
                "IfcGeometricRepresentationSubContext",
                ContextIdentifier=name,
                ContextType="Model",
                ParentContext=context,
                TargetView="GRAPH_VIEW" if name == "Axis" else "MODEL_VIEW",
            )
            for name in ("Axis", "Body")
        }
        project = self.rooted(
            "IfcProject",
            "project",
            Name=self.settings.name,
            Description=f"{INVENTED} {self.settings.description}",
            RepresentationContexts=[context],
            UnitsInContext=units(self.file, self.settings.unit),
        )
        return project, contexts


def rounded(numbers: Numbers) -> tuple[float, ...]:
    """Floats for the file; adding 0.0 turns -0.0 into 0.0."""
    return tuple(round(float(number), DECIMALS) + 0.0 for number in numbers)
