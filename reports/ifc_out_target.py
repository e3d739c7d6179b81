"""An IFC file that is added to: entities with lasting ids, in the file's own units and schema."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from takeoff.errors import TakeoffError
from takeoff.reading.faults import BROKEN_ENTITY, ElementFault
from takeoff.reading.placements import Placements
from takeoff.reading.units_of_file import FileUnits

NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "urn:bayfill:ifc")
"""Every GlobalId of ours is a uuid5 of the model's own GlobalIds below this one."""
PROGRAM = "bayfill"
DECIMALS = 9
"""Of a file unit, for coordinates."""

Matrix = NDArray[np.float64]


class ModelTarget:
    """An opened IFC file that gets more entities. `new` makes any, `rooted` those with a GlobalId."""

    def __init__(self, file: Any, units: FileUnits, moment: datetime) -> None:
        self.file = file
        self.schema: str = file.schema
        self.units = units
        self.project = file.by_type("IfcProject")[0]
        self._placements = Placements(units.length)
        self._history = self._owner_history(moment)
        self._units: dict[str, Any] = {}
        self._known: dict[tuple[str, str, Any], Any] = {}
        self._directions: dict[tuple[float, ...], Any] = {}
        self._axes: dict[tuple[float, ...], Any] = {}

    # ------------------------------------------------------------ entities

    def new(self, entity_class: str, *values: Any, **attributes: Any) -> Any:
        """An entity without a GlobalId."""
        return self.file.create_entity(entity_class, *values, **attributes)

    def rooted(self, entity_class: str, key: str, **attributes: Any) -> Any:
        """An entity whose GlobalId follows from the project's and `key`."""
        return self.file.create_entity(
            entity_class, GlobalId=self._global_id(key), OwnerHistory=self._history, **attributes
        )

    def _global_id(self, key: str) -> str:
        import ifcopenshell.guid

        while True:
            made = ifcopenshell.guid.compress(uuid.uuid5(NAMESPACE, f"{self.project.GlobalId}/{key}").hex)
            try:
                self.file.by_guid(made)
            except RuntimeError:
                return made
            # The file was written by this program before: its members stay what they are.
            key += "+"

    def _owner_history(self, moment: datetime) -> Any:
        """Who added what is added: this program, at the given moment. IFC2X3 asks for it on every entity."""
        organization = self.new("IfcOrganization", Name=PROGRAM)
        user = self.new(
            "IfcPersonAndOrganization",
            ThePerson=self.new("IfcPerson", FamilyName=PROGRAM),
            TheOrganization=organization,
        )
        # A file may name an application once only.
        known = (one for one in self.file.by_type("IfcApplication") if one.ApplicationIdentifier == PROGRAM)
        application = next(known, None) or self.new(
            "IfcApplication",
            ApplicationDeveloper=organization,
            Version="1",
            ApplicationFullName=PROGRAM,
            ApplicationIdentifier=PROGRAM,
        )
        return self.new(
            "IfcOwnerHistory",
            OwningUser=user,
            OwningApplication=application,
            ChangeAction="ADDED",
            LastModifiedDate=int(moment.timestamp()),
            CreationDate=int(moment.timestamp()),
        )

    # ------------------------------------------------------------ places

    def length(self, metres: float) -> float:
        """A length in file units."""
        return round(float(metres) / self.units.length, DECIMALS) + 0.0

    def point(self, *metres: float) -> Any:
        return self.new("IfcCartesianPoint", Coordinates=[self.length(each) for each in metres])

    def direction(self, ratios: NDArray[np.float64]) -> Any:
        """A direction; the same one is made once."""
        key = tuple(float(each) + 0.0 for each in ratios)
        if key not in self._directions:
            self._directions[key] = self.new("IfcDirection", DirectionRatios=key)
        return self._directions[key]

    def axes(self, origin: NDArray[np.float64], directions: NDArray[np.float64]) -> Any:
        """An IfcAxis2Placement3D; the same one is made once. origin: (3,), m. directions: (3, 3), rows x, y, z."""
        key = (*origin.tolist(), *directions.ravel().tolist())
        if key not in self._axes:
            self._axes[key] = self.new(
                "IfcAxis2Placement3D",
                Location=self.point(*origin.tolist()),
                Axis=self.direction(directions[2]),
                RefDirection=self.direction(directions[0]),
            )
        return self._axes[key]

    def place_within(self, whole: Any, matrix: Matrix) -> tuple[Any | None, Any]:
        """The placement to refer to, and the axes in it, of what stands at a (4, 4) world matrix, m, in an element."""
        base = getattr(whole, "ObjectPlacement", None)
        inverse = np.eye(4)
        if base is not None:
            try:
                inverse = np.linalg.inv(self._placements.matrix(base))
            except (ElementFault, *BROKEN_ENTITY, np.linalg.LinAlgError):
                base = None
        own = (np.eye(4) if base is None else inverse) @ matrix
        return base, self.axes(own[:3, 3], own[:3, :3].T)

    def placement(self, base: Any | None, axes: Any) -> Any:
        """A local placement of its own: IFC2X3 lets no two products share one."""
        return self.new("IfcLocalPlacement", PlacementRelTo=base, RelativePlacement=axes)

    def body_context(self, whole: Any) -> Any:
        """The context for bodies: that of the element's own body, else the file's."""
        for representation in getattr(getattr(whole, "Representation", None), "Representations", None) or ():
            if representation.RepresentationIdentifier == "Body" and representation.ContextOfItems is not None:
                return representation.ContextOfItems
        contexts = self.file.by_type("IfcGeometricRepresentationContext")
        named = [each for each in contexts if each.is_a("IfcGeometricRepresentationSubContext")]
        for context in (*named, *contexts):
            if context.ContextIdentifier == "Body" and context.ContextType in (None, "Model"):
                return context
        for context in contexts:
            if context.ContextType == "Model":
                return context
        if contexts:
            return contexts[0]
        raise TakeoffError(f"the model has no context for shapes (IfcGeometricRepresentationContext): {self.schema}")

    # ------------------------------------------------------------ sets and relations

    def properties(self, element: Any, set_name: str, values: Mapping[str, Any]) -> None:
        """A property set from texts, truths, whole and other numbers and lists of texts; None is left out."""
        singles = [self._property(name, value) for name, value in values.items() if value not in (None, "", [], ())]
        if singles:
            self._defined(element, set_name, "IfcPropertySet", HasProperties=singles)

    def _property(self, name: str, value: Any) -> Any:
        """A property; one that many elements share is made once."""
        key = (name, type(value).__name__, tuple(value) if isinstance(value, list) else value)
        if key not in self._known:
            self._known[key] = self._new_property(name, value)
        return self._known[key]

    def _new_property(self, name: str, value: Any) -> Any:
        if isinstance(value, list | tuple):
            texts = [self.new("IfcText", str(each)) for each in value]
            return self.new("IfcPropertyListValue", Name=name, ListValues=texts)
        kinds = ((bool, "IfcBoolean"), (int, "IfcInteger"), (float, "IfcReal"))
        kind = next((kind for known, kind in kinds if isinstance(value, known)), "IfcText")
        plain = value if kind != "IfcText" else str(value)
        return self.new("IfcPropertySingleValue", Name=name, NominalValue=self.new(kind, plain))

    def quantities(self, element: Any, set_name: str, values: Mapping[str, tuple[str, float | None]]) -> None:
        """A quantity set; each value is ('Length', 'Area', 'Volume' or 'Count', number in SI); None is left out."""
        made = [self._quantity(name, kind, value) for name, (kind, value) in values.items() if value is not None]
        if made:
            self._defined(element, set_name, "IfcElementQuantity", Quantities=made)

    def _quantity(self, name: str, kind: str, value: float) -> Any:
        factors = {"Length": self.units.length, "Area": self.units.area, "Volume": self.units.volume, "Count": 1.0}
        scale = factors[kind]
        # A file that assigns no unit of area or volume gets quantities that bring their own.
        unit = self._si_unit(kind) if scale is None else None
        number = float(value) / (scale or 1.0)
        if kind == "Count":
            number = int(number) if self.schema.startswith("IFC4X3") else number
        return self.new(f"IfcQuantity{kind}", Name=name, Unit=unit, **{f"{kind}Value": number})

    def _si_unit(self, kind: str) -> Any:
        name = {"Area": "SQUARE_METRE", "Volume": "CUBIC_METRE"}[kind]
        if kind not in self._units:
            self._units[kind] = self.new("IfcSIUnit", UnitType=f"{kind.upper()}UNIT", Name=name)
        return self._units[kind]

    def _defined(self, element: Any, set_name: str, entity_class: str, **content: Any) -> None:
        key = f"{element.GlobalId}/{set_name}"
        made = self.rooted(entity_class, key, Name=set_name, **content)
        self.rooted(
            "IfcRelDefinesByProperties",
            f"{key}/defines",
            RelatedObjects=[element],
            RelatingPropertyDefinition=made,
        )

    def aggregate(self, whole: Any, parts: Sequence[Any]) -> None:
        """Makes the parts parts of an element, beside those that it has."""
        self.rooted(
            "IfcRelAggregates", f"{whole.GlobalId}/aggregates", RelatingObject=whole, RelatedObjects=list(parts)
        )

    def define_by_type(self, kind: Any, elements: Sequence[Any]) -> None:
        """Gives the elements their type."""
        self.rooted("IfcRelDefinesByType", f"{kind.GlobalId}/types", RelatedObjects=list(elements), RelatingType=kind)

    def make_of(self, material: Any, key: str, elements: Sequence[Any]) -> None:
        """Gives the elements their material."""
        self.rooted(
            "IfcRelAssociatesMaterial", f"{key}/material", RelatedObjects=list(elements), RelatingMaterial=material
        )
