"""From the stud layers of one length of wall to its U-values and to the heat through each of its cavities."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from takeoff.envelope.settings import fill_of, grade_of, rule_of, settings_for
from takeoff.envelope.stack import Placed, framing_facts, placed_in_depth, stacked, steel_studs
from takeoff.finding import Finding, Severity
from takeoff.job import Job
from takeoff.model import Cavity, Layer, LayerRole, LayerTakeoff, WallTakeoff
from takeoff.thermal import (
    Assembly,
    CavityHeatFlow,
    LayerResistance,
    Part,
    PartKind,
    Patch,
    Plane,
    Rule,
    SteelStuds,
    StudLayerFill,
    ThermalError,
    Transmittance,
    TransmittanceMethod,
    blown_resistance,
    cavity_heat_flows,
    layers_to_resistances,
    parts_from_patches,
    plane_resistance,
    resistance_beside,
    stud_layer_patches,
    whole_wall_transmittances,
    with_air_gaps,
    with_grade,
)
from takeoff.wall_tables import net_area

_SAME_RESISTANCE = 1e-6
"""m2 K/W; parts of one kind that differ by less are one part."""
_MOST_PARTS = 24
"""Parts of one stud layer where another stands behind it: paths multiply. Beyond, parts of one kind are put together
at their middle conductance, which is the safe side."""


@dataclass(frozen=True, slots=True)
class CavityHeat:
    """One piece of a stud layer with what it lets through, and where its resistance is from."""

    layer_key: str
    flow: CavityHeatFlow
    resistance: float
    """m2 K/W of the stud layer at this piece, through its depth"""
    source: str


@dataclass(frozen=True, slots=True, eq=False)
class Heat:
    """The U-values of one length of wall, the governing one first; none where `reason` says why."""

    transmittances: tuple[Transmittance, ...] = ()
    layers: tuple[LayerResistance, ...] = ()
    """Layers around the studs, from inside to outside, films not among them."""
    layers_before_studs: int = 0
    """How many of them lie inside the first stud layer."""
    cavities: tuple[CavityHeat, ...] = ()
    missing: tuple[str, ...] = ()
    fill_resistance: float | None = None
    """m2 K/W of the blown fill over the depth of the stud layers, None where nothing is blown."""
    steel: bool = False
    reason: str = ""
    findings: tuple[Finding, ...] = ()
    films: tuple[LayerResistance, ...] = ()
    """The surface films that count, inside first; none where there is no U-value."""


@dataclass(frozen=True, slots=True, eq=False)
class _StudPlane:
    """A stud layer as heat sees it."""

    key: str
    plane: Plane
    patches: tuple[Patch, ...]
    studs: SteelStuds | None
    steel: bool
    filled_resistance: float | None
    findings: tuple[Finding, ...]


def heat_of(wall: WallTakeoff, group: Sequence[LayerTakeoff], job: Job, *, outside_far: bool) -> Heat:
    """U-values and heat flows of stud layers that stand behind each other.

    Where no method covers the wall, or a figure is missing that none can do without, there is no U-value, `reason`
    says why, and a finding does too.
    """
    placed = placed_in_depth(group)
    settings = settings_for(
        job, group[0].frame.layer.layers, wall_id=wall.wall.wall_id, external=wall.wall.external,
        outside_far=outside_far,
    )  # fmt: skip
    steel = False
    try:
        planes = [_stud_plane(wall, each, job, alone=len(placed) == 1) for each in placed]
        steel = any(each.steel for each in planes)
        layers = stacked(group[0].frame.layer, placed)
        found = layers_to_resistances(layers, [each.plane for each in planes], settings)
        answers = whole_wall_transmittances(found.assembly, rule_of(job))
    except ThermalError as error:
        said = Finding(
            "no-u-value", Severity.WARNING, f"No U-value: {error}", wall.wall.wall_id, wall.wall.wall_id,
            wall.wall.ifc_class, wall.wall.name,
        )  # fmt: skip
        return Heat(steel=steel, reason=str(error), findings=(said,))
    notes = () if group[0].frame.layer.layers else (NO_LAYERS,)
    filled = [each.filled_resistance for each in planes if each.filled_resistance is not None]
    fill_resistance = sum(filled) if filled else None
    answers = tuple(_finished(answer, found.assembly, planes, job, notes) for answer in answers)
    cavities, said = _flows(found.assembly, planes, wall)
    return Heat(
        transmittances=answers,
        layers=found.layers,
        layers_before_studs=_before_studs(layers, outside_far=outside_far),
        cavities=cavities,
        missing=found.assembly.missing,
        fill_resistance=fill_resistance,
        steel=steel,
        findings=(*(finding for each in planes for finding in each.findings), *found.findings, *said),
        films=found.films,
    )


def _before_studs(layers: Sequence[Layer], *, outside_far: bool) -> int:
    """How many layers come before the first stud layer on the way from inside to outside."""
    ordered = layers if outside_far else layers[::-1]
    return next((number for number, layer in enumerate(ordered) if layer.role is LayerRole.STUD), 0)


NO_LAYERS = "The model gives no layers for this wall: only the stud layer and the surface films are counted."


def _finished(
    answer: Transmittance, assembly: Assembly, planes: Sequence[_StudPlane], job: Job, notes: Sequence[str]
) -> Transmittance:
    """An answer with the air-gap correction of the combined method and with notes."""
    if answer.method is TransmittanceMethod.COMBINED and rule_of(job) is Rule.ISO and job.thermal.air_gaps:
        insulation = sum(plane_resistance(each.plane) for each in planes)
        answer = with_air_gaps(answer, insulation, job.thermal.air_gaps)
    return replace(answer, notes=(*answer.notes, *notes)) if notes else answer


# ---------------------------------------------------------------- stud layers


def _stud_plane(wall: WallTakeoff, placed: Placed, job: Job, *, alone: bool) -> _StudPlane:
    taken = placed.taken
    depth = taken.frame.layer.depth
    facts = framing_facts(wall, taken, job)
    fill = fill_of(job, facts)
    found = stud_layer_patches(taken.cavities, net_area(taken), depth, fill)
    studs = steel_studs(taken, job) if facts.steel else None
    parts = _merged(parts_from_patches(found.patches), most=None if alone else _MOST_PARTS)
    plane = with_grade(Plane(f"studs {taken.frame.layer.key}", parts, studs), grade_of(job), depth)
    return _StudPlane(
        key=taken.frame.layer.key,
        plane=plane,
        patches=found.patches,
        studs=studs,
        steel=facts.steel,
        filled_resistance=_filled_resistance(fill, depth, taken.cavities),
        findings=found.findings,
    )


def _filled_resistance(fill: StudLayerFill, depth: float, cavities: Sequence[Cavity]) -> float | None:
    """m2 K/W of the blown fill over the whole depth; over the deepest cavity where the fibre's source ends before."""
    value = blown_resistance(fill, depth).value
    if value is not None or not cavities:
        return value
    deepest = max((cavity.volume / cavity.area for cavity in cavities if cavity.area > 0.0), default=0.0)
    return blown_resistance(fill, min(deepest, depth)).value


def _merged(parts: Sequence[Part], most: int | None) -> tuple[Part, ...]:
    """Parts of one kind and one resistance as one part; with `most`, no more than that many."""
    groups: dict[tuple[PartKind, int], list[Part]] = {}
    for part in parts:
        groups.setdefault((part.kind, round(part.resistance / _SAME_RESISTANCE)), []).append(part)
    rows = [_as_one(group) for group in groups.values()]
    if most is None or len(rows) <= most:
        return tuple(rows)
    kinds: dict[PartKind, list[Part]] = {}
    for row in rows:
        kinds.setdefault(row.kind, []).append(row)
    return tuple(_as_one(group) for group in kinds.values())


def _as_one(group: Sequence[Part]) -> Part:
    if len(group) == 1:
        return group[0]
    fraction = sum(part.fraction for part in group)
    conductance = sum(part.fraction / part.resistance for part in group if part.resistance > 0.0) / fraction
    resistance = 1.0 / conductance if conductance > 0.0 and all(part.resistance > 0.0 for part in group) else 0.0
    first = group[0]
    return Part(f"{len(group)} x {first.kind}", first.kind, fraction, resistance, first.source)


def _flows(
    assembly: Assembly, planes: Sequence[_StudPlane], wall: WallTakeoff
) -> tuple[tuple[CavityHeat, ...], tuple[Finding, ...]]:
    """Heat through every cavity and piece of framing; the steel between cavities is in their own figures."""
    rows: list[CavityHeat] = []
    for each in planes:
        filled = each.filled_resistance
        if filled is None or (each.steel and each.studs is None):
            continue
        patches = [patch for patch in each.patches if patch.kind is not PartKind.STEEL]
        try:
            flows = cavity_heat_flows(patches, resistance_beside(assembly, each.plane), filled, each.studs)
        except ThermalError as error:
            said = Finding(
                "no-cavity-heat", Severity.INFO, f"Heat through single cavities is not given: {error}",
                wall.wall.wall_id, wall.wall.wall_id, wall.wall.ifc_class, wall.wall.name,
            )  # fmt: skip
            return tuple(rows), (said,)
        rows += [
            CavityHeat(each.key, flow, patch.resistance, patch.source)
            for flow, patch in zip(flows, patches, strict=True)
        ]
    return tuple(rows), ()
