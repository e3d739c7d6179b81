"""Layered wall types, doors and windows of the sample models."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ifc_shapes import box, prism_y, rectangle, ring, shape
from ifc_writing import ModelWriter


@dataclass(frozen=True, slots=True)
class LayerSpec:
    """One layer of a wall type; thickness in file units. Conductivities: EN ISO 10456 where it has the material."""

    material: str
    thickness: float
    category: str = ""
    function: str = ""
    """What the layer is for, the Category of the layer itself (IFC4)."""
    conductivity: float | None = None
    ventilated: bool = False


@dataclass(frozen=True, slots=True)
class WallType:
    """A wall type written to the file."""

    name: str
    layers: tuple[LayerSpec, ...]
    entity: Any
    layer_set: Any

    @property
    def thickness(self) -> float:
        return sum(layer.thickness for layer in self.layers)


class Materials:
    """Makes each material once."""

    def __init__(self, writer: ModelWriter) -> None:
        self._writer = writer
        self._made: dict[str, Any] = {}

    def get(self, name: str, category: str = "", conductivity: float | None = None) -> Any:
        """The material of that name; IFC2X3 has neither category nor these properties."""
        if name in self._made:
            return self._made[name]
        material = self._writer.new("IfcMaterial", Name=name)
        if self._writer.settings.schema != "IFC2X3":
            if category:
                material.Category = category
            if conductivity is not None:
                value = self._writer.new("IfcThermalConductivityMeasure", conductivity)
                single = self._writer.new(
                    "IfcPropertySingleValue", Name="ThermalConductivity", NominalValue=value, Unit=self._watt_unit()
                )
                self._writer.new(
                    "IfcMaterialProperties", Name="Pset_MaterialThermal", Properties=[single], Material=material
                )
        self._made[name] = material
        return material

    def _watt_unit(self) -> Any:
        """W/(m K), stated at the property, so that it does not depend on the file's length unit."""
        new = self._writer.new
        parts = (("POWERUNIT", "WATT", 1), ("LENGTHUNIT", "METRE", -1), ("THERMODYNAMICTEMPERATUREUNIT", "KELVIN", -1))
        elements = [
            new("IfcDerivedUnitElement", Unit=new("IfcSIUnit", UnitType=kind, Name=name), Exponent=exponent)
            for kind, name, exponent in parts
        ]
        return new("IfcDerivedUnit", Elements=elements, UnitType="THERMALCONDUCTANCEUNIT")


def wall_type(writer: ModelWriter, materials: Materials, name: str, layers: Sequence[LayerSpec]) -> WallType:
    """A wall type with its layer set, first layer first."""
    old = writer.settings.schema == "IFC2X3"
    made = []
    for spec in layers:
        material = materials.get(spec.material, spec.category, spec.conductivity)
        layer = writer.new("IfcMaterialLayer", Material=material, LayerThickness=float(spec.thickness))
        if spec.ventilated:
            layer.IsVentilated = True
        if not old:
            layer.Name = spec.material
            if spec.function:
                layer.Category = spec.function
        made.append(layer)
    layer_set = writer.new("IfcMaterialLayerSet", MaterialLayers=made, LayerSetName=name)
    predefined = "STANDARD" if old else "SOLIDWALL"
    entity = writer.rooted("IfcWallType", f"type/{name}", Name=name, PredefinedType=predefined)
    writer.assign_material(layer_set, [entity])
    return WallType(name, tuple(layers), entity, layer_set)


def use_layers(writer: ModelWriter, wall: Any, of_type: WallType, sense: str, offset: float) -> None:
    """Says how the layers of its type lie in one wall."""
    usage = writer.new(
        "IfcMaterialLayerSetUsage",
        ForLayerSet=of_type.layer_set,
        LayerSetDirection="AXIS2",
        DirectionSense=sense,
        OffsetFromReferenceLine=float(offset),
    )
    writer.assign_material(usage, [wall])


def common_properties(
    writer: ModelWriter,
    wall: Any,
    *,
    external: bool,
    transmittance: float | None = None,
    rating: str = "",
    load_bearing: bool | None = None,
) -> None:
    """Pset_WallCommon, with what is known of it."""
    values: dict[str, tuple[str, Any]] = {"IsExternal": ("IfcBoolean", external)}
    if load_bearing is not None:
        values["LoadBearing"] = ("IfcBoolean", load_bearing)
    if transmittance is not None:
        values["ThermalTransmittance"] = ("IfcThermalTransmittanceMeasure", transmittance)
    if rating:
        values["AcousticRating"] = ("IfcLabel", rating)
    writer.properties(wall, "Pset_WallCommon", values)


@dataclass(frozen=True, slots=True)
class OpeningSpec:
    """A door, a window, or a recess in a wall: place along the wall's local x, sill height and size, in file units."""

    name: str
    kind: str
    """IfcDoor, IfcWindow or '' for a hole or recess that nothing fills."""
    x: float
    sill: float
    width: float
    height: float
    recess: tuple[float, float] | None = None
    """The local y from and to which a recess reaches; None for a hole through the wall."""

    @property
    def area(self) -> float:
        return self.width * self.height


def cut_opening(
    writer: ModelWriter, wall: Any, storey: Any, spec: OpeningSpec, reach: tuple[float, float], bar: float
) -> Any | None:
    """Voids the wall with an opening that runs from y = reach[0] to reach[1], and puts its door or window in.

    `bar` is the width of the frame of the door or window. Returns the filling, None for a bare opening.
    """
    y0, y1 = spec.recess or reach
    opening = writer.rooted(
        "IfcOpeningElement",
        f"opening/{wall.Name}/{spec.name}",
        Name=f"Opening {spec.name}",
        ObjectPlacement=writer.placement(wall, (spec.x, 0, spec.sill)),
        Representation=shape(writer, [prism_y(writer, rectangle(0, 0, spec.width, spec.height), y0, y1)]),
    )
    if writer.settings.schema != "IFC2X3":
        opening.PredefinedType = "RECESS" if spec.recess else "OPENING"
    filling = place_filling(writer, opening, storey, spec, ((y0 + y1) / 2, bar)) if spec.kind else None
    writer.void_and_fill(wall, opening, filling)
    return filling


def place_filling(
    writer: ModelWriter, within: Any, storey: Any, spec: OpeningSpec, seat: tuple[float, float], at: tuple = (0, 0, 0)
) -> Any:
    """A door or window: a frame and a leaf or pane. `seat` is the middle of its depth (y) and the width of its bars."""
    middle, bar = seat
    low, high = (0.0, middle - bar / 2, 0.0), (spec.width, middle + bar / 2, spec.height)
    pane = box(writer, (bar, middle - bar / 6, bar), (spec.width - bar, middle + bar / 6, spec.height - bar))
    filling = writer.rooted(
        spec.kind,
        f"filling/{spec.name}",
        Name=spec.name,
        ObjectPlacement=writer.placement(within, at),
        Representation=shape(writer, [ring(writer, low, high, bar), pane]),
        OverallHeight=float(spec.height),
        OverallWidth=float(spec.width),
    )
    if writer.settings.schema != "IFC2X3":
        filling.PredefinedType = spec.kind.removeprefix("Ifc").upper()
    writer.contain(storey, filling)
    return filling
