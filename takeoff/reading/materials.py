"""What elements are made of: layers with their sense, lists, constituents, single materials."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from takeoff.building import ModelLayer, ModelLayers
from takeoff.reading.attributes import attribute, word
from takeoff.reading.faults import BROKEN_ENTITY, ElementFault
from takeoff.reading.related import with_type
from takeoff.reading.units_of_file import FileUnits, factor

AXES = {"AXIS1": 0, "AXIS2": 1, "AXIS3": 2}
ORDER = (
    "IfcMaterialLayerSetUsage",
    "IfcMaterialLayerSet",
    "IfcMaterialLayer",
    "IfcMaterialConstituentSet",
    "IfcMaterialProfileSetUsage",
    "IfcMaterialProfileSet",
    "IfcMaterialProfile",
    "IfcMaterialList",
    "IfcMaterial",
)
"""Which association counts where an element has several: the one that says most comes first."""


class Materials:
    """Materials of one file, with the conductivities that its property sets give them."""

    def __init__(self, file: Any, units: FileUnits) -> None:
        self._length = units.length
        self._conductivity = _conductivities(file, units)
        self._sets: dict[int, tuple[ModelLayer, ...]] = {}

    def layers(self, element: Any, placement: NDArray[np.float64]) -> ModelLayers | None:
        """The layer set of a wall with the sense in which it is stacked, else None.

        placement: (4, 4), the wall's own. With a layer set usage the direction is the world direction from the first
        layer to the last, and the offset is measured along it from the reference line to where stacking starts. With
        a bare layer set (on the occurrence or the type) both are None.
        """
        found = _association(element, ("IfcMaterialLayerSetUsage", "IfcMaterialLayerSet", "IfcMaterialLayer"))
        if found is None:
            return None
        if found.is_a("IfcMaterialLayer"):
            return ModelLayers((self._layer(found),), None, None, "")
        used = found.is_a("IfcMaterialLayerSetUsage")
        layer_set = found.ForLayerSet if used else found
        if layer_set is None:
            return None
        layers = self._layers_of(layer_set)
        if not layers:
            return None
        name = word(layer_set, "LayerSetName")
        if not used:
            return ModelLayers(layers, None, None, name)
        sense = -1.0 if found.DirectionSense == "NEGATIVE" else 1.0
        axis = placement[:3, AXES.get(found.LayerSetDirection or "AXIS2", 1)]
        offset = found.OffsetFromReferenceLine
        return ModelLayers(
            layers,
            sense * axis / float(np.linalg.norm(axis)),
            None if offset is None else sense * float(offset) * self._length,
            name,
        )

    def without_order(self, element: Any) -> tuple[ModelLayer, ...]:
        """Materials of an element that has no layers: a list, constituents, a profile or a single one."""
        found = _association(element, ORDER[3:])
        if found is None:
            return ()
        if found.is_a("IfcMaterialConstituentSet"):
            widths = _constituent_widths(element, self._length)
            return tuple(
                self._plain(
                    constituent.Material, constituent.Category, constituent.Name, widths.get(constituent.Name, 0.0)
                )
                for constituent in found.MaterialConstituents or ()
            )
        if found.is_a("IfcMaterialProfileSetUsage"):
            found = found.ForProfileSet
        if found.is_a("IfcMaterialProfileSet"):
            return tuple(
                self._plain(profile.Material, profile.Category, profile.Name)
                for profile in found.MaterialProfiles or ()
            )
        if found.is_a("IfcMaterialProfile"):
            return (self._plain(found.Material, found.Category, found.Name),)
        if found.is_a("IfcMaterialList"):
            return tuple(self._plain(material) for material in found.Materials or ())
        return (self._plain(found),)

    def names(self, element: Any) -> str:
        """The names of all materials of an element, each once, joined by commas."""
        layers = self.layers(element, np.eye(4))
        found = layers.layers if layers is not None else self.without_order(element)
        return ", ".join(dict.fromkeys(layer.material for layer in found if layer.material))

    def _layers_of(self, layer_set: Any) -> tuple[ModelLayer, ...]:
        """The layers of a set; most sets are met by many walls."""
        known = self._sets.get(layer_set.id())
        if known is None:
            known = tuple(self._layer(layer) for layer in layer_set.MaterialLayers or () if layer is not None)
            self._sets[layer_set.id()] = known
        return known

    def _layer(self, layer: Any) -> ModelLayer:
        thickness = float(layer.LayerThickness or 0.0) * self._length
        if not np.isfinite(thickness) or thickness < 0.0:
            raise ElementFault(f"its material layer #{layer.id()} has no sensible thickness; mend the layer")
        plain = self._plain(layer.Material, attribute(layer, "Category"), attribute(layer, "Name"), thickness)
        if layer.IsVentilated is not True:
            return plain
        return ModelLayer(
            plain.material, plain.category, plain.thickness, plain.name, plain.conductivity, ventilated=True
        )

    def _plain(
        self, material: Any | None, category: str | None = None, name: str | None = None, thickness: float = 0.0
    ) -> ModelLayer:
        own = attribute(material, "Category") if material is not None else None
        return ModelLayer(
            material=word(material, "Name") if material is not None else "",
            # The material says what it is (wood), the layer what it is for (Insulation): both tell the role.
            category=", ".join(dict.fromkeys(word for word in (own, category) if word)),
            thickness=thickness,
            name=name or "",
            conductivity=self._conductivity.get(material.id()) if material is not None else None,
        )


def _association(element: Any, kinds: tuple[str, ...]) -> Any | None:
    """The best material association of these kinds: the occurrence's, else its type's.

    An occurrence with a mere list does not hide the layers of its type, which say more.
    """
    for holder in with_type(element):
        found = [
            relation.RelatingMaterial
            for relation in attribute(holder, "HasAssociations") or ()
            if relation.is_a("IfcRelAssociatesMaterial") and relation.RelatingMaterial is not None
        ]
        ranked = [
            (rank, place, material)
            for place, material in enumerate(found)
            for rank, kind in enumerate(kinds)
            if material.is_a(kind)
        ]
        if ranked:
            return min(ranked, key=lambda entry: entry[:2])[2]
    return None


def _constituent_widths(element: Any, length: float) -> dict[str, float]:
    """Widths of constituents in m: a complex quantity named like the constituent holds a length named Width."""
    found: dict[str, float] = {}
    for relation in attribute(element, "IsDefinedBy") or ():
        definition = attribute(relation, "RelatingPropertyDefinition")
        if definition is None or not definition.is_a("IfcElementQuantity"):
            continue
        for quantity in definition.Quantities or ():
            if not quantity.is_a("IfcPhysicalComplexQuantity"):
                continue
            for inner in quantity.HasQuantities or ():
                if inner.is_a("IfcQuantityLength") and (inner.Name or "").lower() in ("width", "thickness", "depth"):
                    scale = length if inner.Unit is None else factor(inner.Unit)
                    found.setdefault(quantity.Name, float(inner.LengthValue or 0.0) * scale)
    return found


def _conductivities(file: Any, units: FileUnits) -> dict[int, float]:
    """W/(m K) by the id of the material, from IFC2X3 thermal properties or property sets."""
    found: dict[int, float] = {}
    for name in ("IfcMaterialProperties", "IfcExtendedMaterialProperties"):
        try:
            entities = file.by_type(name)
        except RuntimeError:  # not a class of this schema
            continue
        for entity in entities:
            try:
                material, value = _conductivity(entity, units)
                if material is not None and value is not None and value > 0.0:
                    found.setdefault(material.id(), value)
            except (ElementFault, *BROKEN_ENTITY):
                continue
    return found


def _conductivity(entity: Any, units: FileUnits) -> tuple[Any | None, float | None]:
    if entity.is_a("IfcThermalMaterialProperties"):
        value = entity.ThermalConductivity
        return entity.Material, None if value is None else float(value) * units.conductivity
    properties = attribute(entity, "Properties") or attribute(entity, "ExtendedProperties") or ()
    for item in properties:
        if item.Name == "ThermalConductivity" and item.is_a("IfcPropertySingleValue") and item.NominalValue is not None:
            scale = units.conductivity if item.Unit is None else factor(item.Unit)
            return entity.Material, float(item.NominalValue.wrappedValue) * scale
    return entity.Material, None
