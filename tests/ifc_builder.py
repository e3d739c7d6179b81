"""Small IFC models for tests, built in code.

All lengths that go in are metres, whatever unit the file is written in:

    model = Builder("IFC4", "INCH")
    wall = model.wall("North", length=4.0, height=2.5, thickness=0.2, layers=[("Gypsum", 0.0125), ("Pine", 0.1875)])
    model.opening(wall, x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    model.member(wall, size=(0.038, 0.14, 2.4), at=(0.0, 0.0, 0.0))
    path = model.save(tmp_path / "north.ifc")

A wall stands with x along it, y through it (body from y = 0 to y = thickness), z up. What a method returns is the
entity itself, so a test can break or enrich it; `model.file` is the open file.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.guid

Vector = Sequence[float]

UNITS = {
    "METRE": 1.0,
    "CENTIMETRE": 0.01,
    "MILLIMETRE": 0.001,
    "FOOT": 0.3048,
    "INCH": 0.0254,
    "YARD": 0.9144,
}
BOX_FACES = ((0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7))


class Builder:
    """One model with a project, a site, a building and one storey, more by `storey`."""

    def __init__(self, schema: str = "IFC4", unit: str = "MILLIMETRE", *, with_units: bool = True) -> None:
        """unit: a key of UNITS, or any SI prefix with METRE, e.g. MEGAMETRE."""
        known: Any = schema
        self.file: Any = ifcopenshell.file(schema=known)
        self.schema = schema
        self.scale = UNITS.get(unit, 1.0)
        """m per unit of the file."""
        self._serial = 0
        origin = self.place()
        self.context = self.file.create_entity(
            "IfcGeometricRepresentationContext",
            ContextType="Model",
            CoordinateSpaceDimension=3,
            Precision=1e-6,
            WorldCoordinateSystem=origin,
        )
        self.project = self.root("IfcProject", "Test project", RepresentationContexts=[self.context])
        if with_units:
            self.project.UnitsInContext = self.file.create_entity(
                "IfcUnitAssignment",
                Units=[
                    self._length_unit(unit),
                    self._si("AREAUNIT", "SQUARE_METRE"),
                    self._si("VOLUMEUNIT", "CUBIC_METRE"),
                    self._si("PLANEANGLEUNIT", "RADIAN"),
                ],
            )
        self.site = self.root("IfcSite", "Site", ObjectPlacement=self.local_placement())
        self.building = self.root(
            "IfcBuilding", "Building", ObjectPlacement=self.local_placement(self.site.ObjectPlacement)
        )
        self.aggregate(self.project, [self.site])
        self.aggregate(self.site, [self.building])
        self.level = self.storey("Ground floor", 0.0)

    # ------------------------------------------------------------ basics

    def root(self, ifc_class: str, name: str | None = None, **attributes: Any) -> Any:
        """Any rooted entity. GlobalIds are numbered, so the same script gives the same file."""
        self._serial += 1
        number = f"{self._serial:032x}"
        return self.file.create_entity(ifc_class, GlobalId=ifcopenshell.guid.compress(number), Name=name, **attributes)

    def point(self, coordinates: Vector) -> Any:
        return self.file.create_entity("IfcCartesianPoint", [float(value) / self.scale for value in coordinates])

    def direction(self, ratios: Vector) -> Any:
        return self.file.create_entity("IfcDirection", [float(value) for value in ratios])

    def place(self, at: Vector = (0.0, 0.0, 0.0), x: Vector | None = None, z: Vector | None = None) -> Any:
        """An IfcAxis2Placement3D."""
        return self.file.create_entity(
            "IfcAxis2Placement3D",
            Location=self.point(at),
            Axis=None if z is None and x is None else self.direction(z or (0.0, 0.0, 1.0)),
            RefDirection=None if x is None and z is None else self.direction(x or (1.0, 0.0, 0.0)),
        )

    def local_placement(
        self, relative_to: Any = None, at: Vector = (0.0, 0.0, 0.0), x: Vector | None = None, z: Vector | None = None
    ) -> Any:
        return self.file.create_entity(
            "IfcLocalPlacement", PlacementRelTo=relative_to, RelativePlacement=self.place(at, x, z)
        )

    def aggregate(self, whole: Any, parts: Sequence[Any], relation: str = "IfcRelAggregates") -> Any:
        return self.root(relation, RelatingObject=whole, RelatedObjects=list(parts))

    def contain(self, place: Any, elements: Sequence[Any]) -> Any:
        return self.root("IfcRelContainedInSpatialStructure", RelatingStructure=place, RelatedElements=list(elements))

    def storey(self, name: str, elevation: float) -> Any:
        level = self.root(
            "IfcBuildingStorey",
            name,
            Elevation=elevation / self.scale,
            ObjectPlacement=self.local_placement(self.building.ObjectPlacement, (0.0, 0.0, elevation)),
        )
        self.aggregate(self.building, [level])
        return level

    def save(self, path: Path) -> Path:
        self.file.write(str(path))
        return path

    # ------------------------------------------------------------ shapes

    def box(self, size: Vector, at: Vector = (0.0, 0.0, 0.0)) -> Any:
        """An extruded box from corner `at`; size along x, y, z."""
        x, y, z = size
        return self.extrusion([(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)], z, at)

    def extrusion(self, outline: Sequence[Vector], height: float, at: Vector = (0.0, 0.0, 0.0)) -> Any:
        """A polygon in plan extruded upwards."""
        points = [self.point(corner) for corner in outline]
        profile = self.file.create_entity(
            "IfcArbitraryClosedProfileDef",
            ProfileType="AREA",
            OuterCurve=self.file.create_entity("IfcPolyline", [*points, points[0]]),
        )
        return self.extruded_profile(profile, height, at)

    def cylinder(self, radius: float, height: float, at: Vector = (0.0, 0.0, 0.0)) -> Any:
        profile = self.file.create_entity("IfcCircleProfileDef", ProfileType="AREA", Radius=radius / self.scale)
        return self.extruded_profile(profile, height, at)

    def extruded_profile(self, profile: Any, height: float, at: Vector = (0.0, 0.0, 0.0)) -> Any:
        return self.file.create_entity(
            "IfcExtrudedAreaSolid",
            SweptArea=profile,
            Position=self.place(at),
            ExtrudedDirection=self.direction((0.0, 0.0, 1.0)),
            Depth=height / self.scale,
        )

    def faceted(
        self, vertices: Sequence[Vector], faces: Sequence[Sequence[int]], voids: Sequence[Sequence[Sequence[int]]] = ()
    ) -> Any:
        """A faceted solid from corners and faces (indices from 0); voids: faces of each inner shell."""
        points = [self.point(vertex) for vertex in vertices]
        outer = self._shell(points, faces)
        if not voids:
            return self.file.create_entity("IfcFacetedBrep", outer)
        return self.file.create_entity(
            "IfcFacetedBrepWithVoids", outer, [self._shell(points, inner) for inner in voids]
        )

    def faceted_box(self, size: Vector, at: Vector = (0.0, 0.0, 0.0), leave_out: int | None = None) -> Any:
        """A box of six faces; leave_out: index of a face to forget."""
        faces = [face for index, face in enumerate(BOX_FACES) if index != leave_out]
        return self.faceted(box_corners(size, at), faces)

    def mapped(self, item: Any, at: Vector = (0.0, 0.0, 0.0), scales: Vector = (1.0, 1.0, 1.0), **axes: Any) -> Any:
        """The item (or an earlier IfcRepresentationMap) mapped to `at` with a scale per axis; axes: Axis1=(...)."""
        source = item
        if not item.is_a("IfcRepresentationMap"):
            source = self.file.create_entity(
                "IfcRepresentationMap", self.place(), self.representation([item], kind="SweptSolid")
            )
        target = self.file.create_entity(
            "IfcCartesianTransformationOperator3DnonUniform",
            LocalOrigin=self.point(at),
            Scale=float(scales[0]),
            Scale2=float(scales[1]),
            Scale3=float(scales[2]),
            **{name: self.direction(ratios) for name, ratios in axes.items()},
        )
        return self.file.create_entity("IfcMappedItem", source, target)

    def representation(self, items: Sequence[Any], identifier: str | None = "Body", kind: str = "SweptSolid") -> Any:
        return self.file.create_entity("IfcShapeRepresentation", self.context, identifier, kind, list(items))

    def shape(self, items: Sequence[Any]) -> Any:
        return self.file.create_entity("IfcProductDefinitionShape", Representations=[self.representation(items)])

    # ------------------------------------------------------------ elements

    def element(
        self,
        ifc_class: str,
        items: Sequence[Any] = (),
        *,
        name: str | None = None,
        at: Vector = (0.0, 0.0, 0.0),
        angle: float = 0.0,
        whole: Any = None,
        **attributes: Any,
    ) -> Any:
        """Any element with its body items. at, angle (degrees about z): relative to `whole`, else to the storey.

        With a `whole` it is aggregated under it, else contained in the storey.
        """
        holder = whole if whole is not None else self.level
        turn = math.radians(angle)
        made = self.root(
            ifc_class,
            name,
            ObjectPlacement=self.local_placement(
                holder.ObjectPlacement, at, (math.cos(turn), math.sin(turn), 0.0) if angle else None
            ),
            Representation=self.shape(items) if items else None,
            **attributes,
        )
        if whole is not None:
            self.aggregate(whole, [made])
        else:
            self.contain(self.level, [made])
        return made

    def wall(
        self,
        name: str | None = "Wall",
        *,
        length: float = 4.0,
        height: float = 2.5,
        thickness: float = 0.2,
        layers: Sequence[tuple[str, float]] = (),
        ifc_class: str = "IfcWall",
        body: bool = True,
        **place: Any,
    ) -> Any:
        """A straight wall; layers: (material, thickness) stacked from y = 0 inwards. place: as for `element`."""
        items = [self.box((length, thickness, height))] if body else []
        made = self.element(ifc_class, items, name=name, **place)
        if layers:
            self.layer_usage([made], self.layer_set(layers))
        return made

    def opening(
        self,
        wall: Any,
        *,
        x: float,
        z: float,
        width: float,
        height: float,
        y: float = -0.5,
        depth: float = 1.5,
        filling: str | None = None,
        items: Sequence[Any] | None = None,
        **attributes: Any,
    ) -> Any:
        """A hole through a wall, with a door or window in it if `filling` names its class."""
        made = self.root(
            "IfcOpeningElement",
            "Opening",
            ObjectPlacement=self.local_placement(wall.ObjectPlacement, (x, y, z)),
            Representation=self.shape([self.box((width, depth, height))] if items is None else items),
            **attributes,
        )
        self.root("IfcRelVoidsElement", RelatingBuildingElement=wall, RelatedOpeningElement=made)
        if filling:
            inside = self.element(filling, name=f"{filling} in it")
            self.root("IfcRelFillsElement", RelatingOpeningElement=made, RelatedBuildingElement=inside)
        return made

    def member(
        self,
        whole: Any,
        *,
        size: Vector,
        at: Vector = (0.0, 0.0, 0.0),
        name: str | None = "Member",
        ifc_class: str = "IfcMember",
        **attributes: Any,
    ) -> Any:
        """A box-shaped member: part of `whole`, or loose in the storey where that is None."""
        return self.element(ifc_class, [self.box(size)], name=name, at=at, whole=whole, **attributes)

    def frame(
        self, whole: Any, *, length: float = 3.6, height: float = 2.4, depth: float = 0.14, stud: float = 0.038
    ) -> list[Any]:
        """Bottom plate, studs at 0.6 m, top plate, aggregated under `whole`."""
        made = [self.member(whole, size=(length, depth, stud), name="Bottom plate")]
        places = [0.6 * count for count in range(int((length - stud) / 0.6) + 1)]
        made += [
            self.member(whole, size=(stud, depth, height - 2 * stud), at=(place, 0.0, stud), name="Stud")
            for place in places
        ]
        made.append(self.member(whole, size=(length, depth, stud), at=(0.0, 0.0, height - stud), name="Top plate"))
        return made

    def space(self, name: str, *, size: Vector, at: Vector = (0.0, 0.0, 0.0), bounds: Sequence[Any] = ()) -> Any:
        """A room in the storey; bounds: elements that a space boundary joins to it."""
        made = self.root(
            "IfcSpace",
            name,
            ObjectPlacement=self.local_placement(self.level.ObjectPlacement, at),
            Representation=self.shape([self.box(size)]),
            CompositionType="ELEMENT",
        )
        if self.schema == "IFC2X3":
            made.InteriorOrExteriorSpace = "INTERNAL"
        self.aggregate(self.level, [made])
        for element in bounds:
            self.root(
                "IfcRelSpaceBoundary",
                RelatingSpace=made,
                RelatedBuildingElement=element,
                PhysicalOrVirtualBoundary="PHYSICAL",
                InternalOrExternalBoundary="INTERNAL",
            )
        return made

    # ------------------------------------------------------------ what elements say

    def layer_set(self, layers: Sequence[tuple[str, float]]) -> Any:
        made = [
            self.file.create_entity(
                "IfcMaterialLayer",
                Material=self.file.create_entity("IfcMaterial", Name=material),
                LayerThickness=thickness / self.scale,
            )
            for material, thickness in layers
        ]
        return self.file.create_entity("IfcMaterialLayerSet", MaterialLayers=made, LayerSetName="Layers")

    def layer_usage(
        self, walls: Sequence[Any], layer_set: Any, *, sense: str = "POSITIVE", axis: str = "AXIS2", offset: float = 0.0
    ) -> Any:
        usage = self.file.create_entity(
            "IfcMaterialLayerSetUsage",
            ForLayerSet=layer_set,
            LayerSetDirection=axis,
            DirectionSense=sense,
            OffsetFromReferenceLine=offset / self.scale,
        )
        self.material(walls, usage)
        return usage

    def material(self, objects: Sequence[Any], material: Any) -> Any:
        return self.root("IfcRelAssociatesMaterial", RelatedObjects=list(objects), RelatingMaterial=material)

    def type_for(self, elements: Sequence[Any], ifc_class: str, name: str | None, **attributes: Any) -> Any:
        made = self.root(ifc_class, name, **attributes)
        self.root("IfcRelDefinesByType", RelatedObjects=list(elements), RelatingType=made)
        return made

    def properties(self, element: Any, set_name: str | None, values: dict[str, Any]) -> Any:
        """A property set on an occurrence, or on a type; values: entities of a measure class."""
        items = [
            self.file.create_entity("IfcPropertySingleValue", Name=name, NominalValue=value)
            for name, value in values.items()
        ]
        made = self.root("IfcPropertySet", set_name, HasProperties=items)
        if element.is_a("IfcTypeObject"):
            element.HasPropertySets = [*(element.HasPropertySets or ()), made]
        else:
            self.root("IfcRelDefinesByProperties", RelatedObjects=[element], RelatingPropertyDefinition=made)
        return made

    def value(self, ifc_class: str, value: Any) -> Any:
        """A measure, e.g. value("IfcBoolean", True)."""
        return self.file.create_entity(ifc_class, value)

    def quantities(self, element: Any, set_name: str, values: Sequence[tuple[str, str, float]]) -> Any:
        """Base quantities; values: (class, name, number in the file's own units)."""
        attribute = {
            "IfcQuantityLength": "LengthValue",
            "IfcQuantityArea": "AreaValue",
            "IfcQuantityVolume": "VolumeValue",
        }
        items = [
            self.file.create_entity(ifc_class, Name=name, **{attribute[ifc_class]: float(number)})
            for ifc_class, name, number in values
        ]
        made = self.root("IfcElementQuantity", set_name, Quantities=items)
        self.root("IfcRelDefinesByProperties", RelatedObjects=[element], RelatingPropertyDefinition=made)
        return made

    # ------------------------------------------------------------ units

    def _si(self, kind: str, name: str, prefix: str | None = None) -> Any:
        return self.file.create_entity("IfcSIUnit", UnitType=kind, Prefix=prefix, Name=name)

    def _length_unit(self, unit: str) -> Any:
        if unit.endswith("METRE"):
            return self._si("LENGTHUNIT", "METRE", unit.removesuffix("METRE") or None)
        # Inches by way of millimetres: a conversion onto a prefixed unit is what real files have too.
        factor = self.file.create_entity(
            "IfcMeasureWithUnit",
            self.file.create_entity("IfcLengthMeasure", UNITS[unit] * 1000.0),
            self._si("LENGTHUNIT", "METRE", "MILLI"),
        )
        powers = self.file.create_entity("IfcDimensionalExponents", 1, 0, 0, 0, 0, 0, 0)
        return self.file.create_entity(
            "IfcConversionBasedUnit", Dimensions=powers, UnitType="LENGTHUNIT", Name=unit, ConversionFactor=factor
        )

    def _shell(self, points: Sequence[Any], faces: Sequence[Sequence[int]]) -> Any:
        made = []
        for face in faces:
            loop = self.file.create_entity("IfcPolyLoop", [points[index] for index in face])
            made.append(self.file.create_entity("IfcFace", [self.file.create_entity("IfcFaceOuterBound", loop, True)]))
        return self.file.create_entity("IfcClosedShell", made)


def box_corners(size: Vector, at: Vector = (0.0, 0.0, 0.0)) -> list[tuple[float, float, float]]:
    """The eight corners of a box, in the order that BOX_FACES counts on."""
    (x, y, z), (dx, dy, dz) = at, size
    return [(x + i * dx, y + j * dy, z + k * dz) for k in (0, 1) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
