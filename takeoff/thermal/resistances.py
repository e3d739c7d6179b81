"""From the layer records of a wall to an assembly of resistances, films included."""

from __future__ import annotations

import fnmatch
from collections.abc import Sequence
from dataclasses import dataclass

from takeoff.finding import Finding, Severity
from takeoff.model import Layer, LayerRole
from takeoff.thermal.assembly import Assembly, Plane, film_plane
from takeoff.thermal.conductivities import (
    INSULATION_BELOW,
    PLAUSIBLE,
    DesignValue,
    design_value,
    design_value_by_key,
    names_metal,
)
from takeoff.thermal.errors import ThermalError
from takeoff.thermal.films import FilmRule, HeatFlowDirection, Ventilation, air_layer_resistance, surface_film

NEGLIGIBLE = 0.002
"""m; an unknown sheet thinner than this (membrane, foil, paint) counts as nothing without a warning: at any
conductivity of a sheet material it is worth less than 0.02 m2 K/W. Own rule."""

INSIDE_FILM = "inside surface film"
OUTSIDE_FILM = "outside surface film"

DEEPEST_AIR_LAYER = 0.3
"""m; the end of the ISO 6946 table."""


@dataclass(frozen=True, slots=True)
class ResistanceSettings:
    """How the layers around the studs are judged."""

    films: FilmRule = FilmRule.ISO
    external: bool = True
    """False for a wall between rooms: an inside film on both faces."""
    direction: HeatFlowDirection = HeatFlowDirection.HORIZONTAL
    air: Ventilation = Ventilation.UNVENTILATED
    """Of air layers outside the studs; the model seldom says, so the statement must."""
    outside_far: bool = True
    """True where the outside air is at large y: the wall is filled from inside."""
    wall_id: str = ""
    stated: tuple[tuple[str, float], ...] = ()
    """Patterns of material names (* and ?, capitals alike) with the W/(m K) that the job states for them, which go
    before the model's own and the table's; the first that fits counts."""


@dataclass(frozen=True, slots=True)
class LayerResistance:
    """One layer's figure, for printing beside the result."""

    name: str
    thickness: float
    """m"""
    conductivity: float | None
    """W/(m K)"""
    resistance: float
    """m2 K/W"""
    source: str
    reason: str


@dataclass(frozen=True, slots=True)
class LayerResistances:
    """An assembly with the account of where its figures come from."""

    assembly: Assembly
    layers: tuple[LayerResistance, ...]
    findings: tuple[Finding, ...]
    films: tuple[LayerResistance, ...] = ()
    """The surface films that count: the inside one, then the one of the other face."""


def framing_resistance(depth: float, material: str = "softwood") -> LayerResistance:
    """Resistance of wood framing through its depth (m). A stud whose material says nothing or just 'wood' is softwood.

    Source: the timber rows of `design_conductivities.csv`. Raises ThermalError for steel, which has no such figure.

    >>> round(framing_resistance(0.14).resistance, 3)
    1.077
    """
    if names_metal(material):
        raise ThermalError(f"'{material}' is metal: a metal stud has no resistance of its own; use a steel method.")
    value = design_value(material)
    if value.conductivity is None or value.key == "wood":
        value = design_value_by_key("softwood")
    assert value.conductivity is not None
    return LayerResistance(
        material, depth, value.conductivity, depth / value.conductivity, value.source, f"{value.key} through its depth"
    )


def layers_to_resistances(
    layers: Sequence[Layer], stud_planes: Sequence[Plane], settings: ResistanceSettings | None = None
) -> LayerResistances:
    """The planes of a wall from inside air to outside air.

    `layers` are those of one wall in its wall axes, in any order; the stud layers among them are replaced by
    `stud_planes`, one per stud layer from the fill side outwards (see `parts_from_patches`). The model's own
    conductivity comes before the table of design values. A layer whose conductivity stays unknown counts as nothing,
    is named in `assembly.missing` and is a finding. A well or slightly ventilated air layer outside the studs drops out
    with everything beyond it, and the outside film becomes an inside film (BR 443 4.7.3 for the well ventilated;
    for the slightly ventilated the editions of ISO 6946 disagree, and this is the safe side of both).

    Raises ThermalError where the number of stud planes is not that of the stud layers.
    """
    settings = settings or ResistanceSettings()
    ordered = sorted(layers, key=lambda layer: layer.y_min, reverse=not settings.outside_far)
    n_stud = sum(layer.role is LayerRole.STUD for layer in ordered)
    if n_stud != len(stud_planes):
        raise ThermalError(f"The wall has {n_stud} stud layers but {len(stud_planes)} were described.")
    studs = list(stud_planes if settings.outside_far else reversed(stud_planes))
    planes: list[Plane] = []
    rows: list[LayerResistance] = []
    findings: list[Finding] = []
    missing: list[str] = []
    sheltered = not settings.external
    behind_studs = False
    for layer in ordered:
        if layer.role is LayerRole.STUD:
            planes.append(studs.pop(0))
            behind_studs = not studs
            continue
        if behind_studs and _opens_to_outside(layer, settings):
            told = f"{settings.air.replace('_', ' ')} air: this layer and all beyond it are left out"
            rows.append(LayerResistance(layer.material, layer.thickness, None, 0.0, "BR 443 (2019) 4.7.3", told))
            sheltered = True
            break
        row, insulation, found = _one_layer(layer, settings)
        rows.append(row)
        findings += found
        if any(finding.code == "layer-conductivity-unknown" for finding in found):
            missing.append(row.name)
        plane = film_plane(row.name, row.resistance, row.source)
        planes.append(Plane(plane.name, plane.parts, continuous_insulation=insulation))
    inside = surface_film(settings.films, inside=True, direction=settings.direction)
    outside = inside if sheltered else surface_film(settings.films, inside=False, direction=settings.direction)
    planes.insert(0, film_plane(INSIDE_FILM, inside.resistance, inside.source))
    planes.append(film_plane(OUTSIDE_FILM, outside.resistance, outside.source))
    films = (
        LayerResistance(INSIDE_FILM, 0.0, None, inside.resistance, inside.source, "inside air"),
        LayerResistance(
            OUTSIDE_FILM, 0.0, None, outside.resistance, outside.source, _outside_reason(settings, sheltered=sheltered)
        ),
    )
    return LayerResistances(Assembly(tuple(planes), tuple(missing)), tuple(rows), tuple(findings), films)


def _outside_reason(settings: ResistanceSettings, *, sheltered: bool) -> str:
    """Why the outer face has the film that it has."""
    if not settings.external:
        return "an inside wall: an inside film on both faces"
    if sheltered:
        return f"an inside film, since the face looks into {settings.air.replace('_', ' ')} air"
    return "outside air"


def _opens_to_outside(layer: Layer, settings: ResistanceSettings) -> bool:
    return settings.external and layer.role is LayerRole.AIR and settings.air is not Ventilation.UNVENTILATED


def _one_layer(layer: Layer, settings: ResistanceSettings) -> tuple[LayerResistance, bool, list[Finding]]:
    """A plain layer's resistance, whether it insulates, and what is wrong with it."""
    name = layer.material or layer.category or str(layer.role)
    if layer.role is LayerRole.AIR:
        return _air(layer, name, settings)
    findings: list[Finding] = []
    stated = next((value for pattern, value in settings.stated if _fits(pattern, name)), None)
    if stated is not None:
        row = LayerResistance(name, layer.thickness, stated, layer.thickness / stated, "the job file", "as stated")
        return row, stated <= INSULATION_BELOW and layer.thickness > NEGLIGIBLE, findings
    if layer.conductivity is not None:
        if PLAUSIBLE[0] <= layer.conductivity <= PLAUSIBLE[1]:
            row = LayerResistance(
                name, layer.thickness, layer.conductivity, layer.thickness / layer.conductivity, "the model",
                "the material's own conductivity",
            )  # fmt: skip
            return row, layer.conductivity <= INSULATION_BELOW and layer.thickness > NEGLIGIBLE, findings
        findings.append(_implausible(layer, name, settings.wall_id))
    value = design_value(layer.material, layer.category)
    if value.resistance is not None:
        row = LayerResistance(name, layer.thickness, None, value.resistance, value.source, value.reason)
        return row, value.insulation, findings
    if value.conductivity is not None:
        row = LayerResistance(
            name, layer.thickness, value.conductivity, layer.thickness / value.conductivity, value.source, value.reason
        )
        return row, value.insulation, findings
    if layer.thickness < NEGLIGIBLE:
        return (
            LayerResistance(name, layer.thickness, None, 0.0, "", "a thin sheet, counted as nothing"),
            False,
            findings,
        )
    findings.append(_unknown(layer, name, value, settings.wall_id))
    return LayerResistance(name, layer.thickness, None, 0.0, "", value.reason), False, findings


def _fits(pattern: str, name: str) -> bool:
    return fnmatch.fnmatchcase(name.casefold(), pattern.casefold())


def _air(layer: Layer, name: str, settings: ResistanceSettings) -> tuple[LayerResistance, bool, list[Finding]]:
    findings: list[Finding] = []
    depth = min(layer.thickness, DEEPEST_AIR_LAYER)
    if layer.thickness > DEEPEST_AIR_LAYER:
        findings.append(
            Finding(
                "air-layer-too-deep",
                Severity.WARNING,
                f"Air layer '{name}' is deeper than an air layer of ISO 6946; it is counted as one of "
                f"{DEEPEST_AIR_LAYER:g} m: check whether it is a room.",
                settings.wall_id,
                measured=layer.thickness,
                limit=DEEPEST_AIR_LAYER,
                unit="m",
            )
        )
    row = LayerResistance(
        name, layer.thickness, None, air_layer_resistance(depth, settings.direction),
        "ISO 6946:2007 Table 2 (read in a transcription)", "unventilated air between ordinary faces",
    )  # fmt: skip
    return row, False, findings


def _unknown(layer: Layer, name: str, value: DesignValue, wall_id: str) -> Finding:
    reason = value.reason.removeprefix(f"'{value.text}': ")
    return Finding(
        "layer-conductivity-unknown",
        Severity.WARNING,
        f"No conductivity for layer '{name}': {reason} Counted as nothing; give the material its ThermalConductivity "
        "in the model or in the job file.",
        wall_id,
        measured=layer.thickness,
        unit="m",
    )


def _implausible(layer: Layer, name: str, wall_id: str) -> Finding:
    return Finding(
        "layer-conductivity-implausible",
        Severity.WARNING,
        f"Layer '{name}' has a conductivity that no building material has; the design value is used instead: check "
        "the unit in the model.",
        wall_id,
        measured=layer.conductivity,
        limit=PLAUSIBLE[1],
        unit="W/(m K)",
    )
