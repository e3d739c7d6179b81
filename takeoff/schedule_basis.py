"""What the schedule rests on: plain frozen rows, derived once from a takeoff and its fill plan.

Schedule, labour and price are functions of these rows, the job and the price book; nothing else of the model is needed.
The rows go into takeoff.json too, so that a quote made from that file is the same as one made from the model.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from geometry.solids import areal, silhouette
from takeoff.building import ModelLayer
from takeoff.fill import FillPlan, Pass
from takeoff.fill_order import Preparation, PreparationKind, Step, order_work
from takeoff.finding import Finding
from takeoff.layer_groups import groups_in_depth
from takeoff.layer_judgement import stud_material
from takeoff.model import Cavity, LayerRole, LayerTakeoff, Source, WallTakeoff
from takeoff.netting_lines import NettingLines, netting_lines_of
from takeoff.piece_tables import outline_texts
from takeoff.tidy_rows import tidied, tidied_columns
from takeoff.totals import finding_groups
from takeoff.wall_tables import insulated_area, is_filled, net_area, stud_depth, type_label, wall_framing_source

BY_ELEMENT = frozenset(
    {"opening element", "recess in the wall", "left between an opening element and the members around it"}
)
"""Evidence of an opening or recess that an opening element of the model states, or that lies around one."""


@dataclass(frozen=True, slots=True)
class BasisWall:
    """One wall of the model, whatever came of it. Areas m2, depth m."""

    wall_id: str
    name: str
    type_name: str
    storey: str
    status: str
    reason: str
    external: bool
    insulated: bool
    insulated_reason: str
    source: str
    """modelled, laid_out, or empty where nothing was taken off"""
    depth: float
    gross_area: float
    """Of the stud layers that count once; of a wall not taken off, of its body."""
    net_area: float
    """Insulated area: openings deducted, framing included, 0 where nothing is filled."""
    opening_areas: str
    """m2 of each opening in the insulated layers, parted by blanks."""


@dataclass(frozen=True, slots=True)
class BasisLayer:
    """One stud layer in which something is filled. Lengths m, areas m2."""

    layer_key: str
    wall_id: str
    wall_name: str
    type_name: str
    storey: str
    source: str
    studs: str
    """wood, steel or unknown"""
    depth: float
    netted: bool
    face_area: float
    """Of the layer, openings not deducted; 0 where no netting is hung."""
    netting_area: float
    top_plate: float
    bottom_plate: float
    ends: float
    openings: float
    stud_lines: float
    n_stud_lines: int
    stud_places: str
    """x of the middle of each stud line, m, parted by blanks."""
    outline_wkt: str
    """The netting in elevation (x z), m: the face of the layer less its openings; empty where none is hung."""


@dataclass(frozen=True, slots=True)
class BasisCavity:
    """One cavity that is filled or sealed. m, m2, m3."""

    cavity_id: str
    layer_key: str
    storey: str
    room: str
    method: str
    source: str
    area: float
    depth: float
    """Volume over area."""
    volume: float
    blown_volume: float
    lower_holes: int
    upper_holes: int
    ladder_holes: int
    """Of the upper ones, those above standing reach."""


@dataclass(frozen=True, slots=True)
class BasisHandFill:
    """One place that is not blown: a cavity or a part of one. m, m2, m3."""

    cavity_id: str
    layer_key: str
    storey: str
    room: str
    method: str
    source: str
    width: float
    """Shorter side in elevation."""
    length: float
    depth: float
    area: float
    volume: float


@dataclass(frozen=True, slots=True)
class BasisPiece:
    """A blocker or an eave baffle. length: m, of the side that it closes or along the wall; area: m2, of a blocker."""

    kind: str
    layer_key: str
    cavity_id: str
    storey: str
    room: str
    source: str
    reason: str
    length: float
    area: float


@dataclass(frozen=True, slots=True)
class BasisRelease:
    """One room in the order of work; rooms of one release are worked together, release 0 comes before sheathing."""

    number: int
    storey: str
    room: str


@dataclass(frozen=True, slots=True)
class BasisOpening:
    """An opening of a filled wall that no opening element of the model states."""

    wall_id: str
    evidence: str
    filling_name: str
    area: float
    """m2"""


@dataclass(frozen=True, slots=True)
class BasisFinding:
    """Findings with one code."""

    code: str
    severity: str
    count: int
    walls: int
    example: str


@dataclass(frozen=True, slots=True)
class Basis:
    """All rows, each kind in the order of the result tables."""

    model: str
    project: str
    walls: tuple[BasisWall, ...]
    layers: tuple[BasisLayer, ...]
    cavities: tuple[BasisCavity, ...]
    hand_fills: tuple[BasisHandFill, ...]
    pieces: tuple[BasisPiece, ...]
    releases: tuple[BasisRelease, ...]
    openings: tuple[BasisOpening, ...]
    findings: tuple[BasisFinding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class BasisSources:
    """What the basis is derived from. preparations: all of a takeoff; those of the plan alone where there are none."""

    model: str
    project: str
    results: Sequence[WallTakeoff]
    findings: Sequence[Finding]
    plan: FillPlan
    preparations: Sequence[Preparation] = ()


def schedule_basis(sources: BasisSources) -> Basis:
    """The basis of a takeoff; its numbers have the digits that result files have."""
    layers = {layer.frame.layer.key: layer for wall in sources.results for layer in wall.layers}
    steps = order_work(sources.plan, sources.results, sources.preparations or None)
    return Basis(
        model=sources.model,
        project=sources.project,
        walls=tidied(map(_wall, sources.results)),
        layers=_layers(sources.results, sources.plan),
        cavities=_cavities(layers, sources.plan),
        hand_fills=_hand_fills(layers, sources.plan),
        pieces=tidied(_piece(item, layers) for item in sources.preparations if item.kind in _PIECES),
        releases=_releases(steps),
        openings=_openings(sources.results),
        findings=tuple(
            BasisFinding(group.code, str(group.severity), group.count, group.walls, group.example)
            for group in finding_groups(sources.findings)
        ),
    )


_PIECES = (PreparationKind.BLOCKER, PreparationKind.EAVE_BAFFLE)


def _numbers(values: Sequence[float]) -> str:
    return " ".join(f"{value:.9g}" for value in values)


def parted(text: str) -> tuple[float, ...]:
    """Numbers that stand in a row as text, parted by blanks."""
    return tuple(float(word) for word in text.split())


# ---------------------------------------------------------------- walls


def _wall(result: WallTakeoff) -> BasisWall:
    wall = result.wall
    area = insulated_area(result)
    counted = _counted(result) if area > 0.0 else []
    openings = [each for layer in counted for each in _opening_areas(layer)]
    return BasisWall(
        wall_id=wall.wall_id,
        name=wall.name,
        type_name=type_label(wall),
        storey=wall.storey,
        status=str(result.status),
        reason=result.reason,
        external=wall.external,
        insulated=wall.insulated,
        insulated_reason=wall.insulated_reason,
        source=wall_framing_source(result),
        depth=_filled_depth(result) or stud_depth(result) or 0.0,
        gross_area=sum(layer.gross_area for layer in counted) if counted else wall.gross_area,
        net_area=area,
        opening_areas=_numbers([each for each in openings if each > 0.0]),
    )


def _opening_areas(layer: LayerTakeoff) -> list[float]:
    """m2 that each opening through a stud layer takes of its face."""
    through = [each.outline for each in layer.frame.openings if each.solid is None and not each.beyond_frame]
    if not through:
        return []
    face = areal(silhouette(layer.frame.layer.outline))
    return shapely.area(shapely.intersection(np.array(through, dtype=object), face)).tolist()


def _filled(result: WallTakeoff) -> list[list[LayerTakeoff]]:
    """The stud layers that are filled, those behind each other together."""
    return groups_in_depth([layer for layer in result.layers if is_filled(layer)])


def _counted(result: WallTakeoff) -> list[LayerTakeoff]:
    """Of stud layers behind each other the one whose area counts, as `insulated_area` takes it."""
    return [max(group, key=net_area) for group in _filled(result)]


def _filled_depth(result: WallTakeoff) -> float:
    """m; depths of filled layers behind each other added up, the deepest place of the wall."""
    return max((sum(layer.frame.layer.depth for layer in group) for group in _filled(result)), default=0.0)


# ---------------------------------------------------------------- stud layers


def _layers(results: Sequence[WallTakeoff], plan: FillPlan) -> tuple[BasisLayer, ...]:
    blown = {fill.layer_key for fill in plan.cavities if fill.n_holes}
    worked = blown | {fill.layer_key for fill in plan.cavities if fill.hand_volume > 0.0}
    rows = [(wall, layer) for wall in results for layer in wall.layers if layer.frame.layer.key in worked]
    nettings = _nettings([layer for _, layer in rows if layer.frame.layer.key in blown])
    return tidied(_layer(wall, layer, nettings.get(layer.frame.layer.key, _NO_NETTING)) for wall, layer in rows)


@dataclass(frozen=True, slots=True, eq=False)
class _Netting:
    lines: NettingLines
    outline_wkt: str


_NO_NETTING = _Netting(NettingLines("", 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0, Polygon(), ()), "")
_AT_ONCE = 50
"""Stud layers whose netting is worked out together."""


def _nettings(layers: Sequence[LayerTakeoff]) -> dict[str, _Netting]:
    """The netting of blown stud layers by their keys."""
    found: dict[str, _Netting] = {}
    for start in range(0, len(layers), _AT_ONCE):
        lines = netting_lines_of(layers[start : start + _AT_ONCE])
        texts = outline_texts([each.outline for each in lines])
        found |= {each.layer_key: _Netting(each, text) for each, text in zip(lines, texts, strict=True)}
    return found


def _layer(result: WallTakeoff, layer: LayerTakeoff, netting: _Netting) -> BasisLayer:
    place, wall, lines = layer.frame.layer, result.wall, netting.lines
    netted = netting is not _NO_NETTING
    return BasisLayer(
        layer_key=place.key,
        wall_id=place.wall_id,
        wall_name=wall.name,
        type_name=type_label(wall),
        storey=wall.storey,
        source=str(layer.frame.source),
        studs=studs_of(layer),
        depth=place.depth,
        netted=netted,
        face_area=float(silhouette(place.outline).area) if netted else 0.0,
        netting_area=lines.area,
        top_plate=lines.top_plate,
        bottom_plate=lines.bottom_plate,
        ends=lines.ends,
        openings=lines.openings,
        stud_lines=lines.stud_lines,
        n_stud_lines=lines.n_stud_lines,
        stud_places=_numbers(lines.stud_places),
        outline_wkt=netting.outline_wkt,
    )


def studs_of(layer: LayerTakeoff) -> str:
    """wood, steel or unknown: by the material of the stud layer, else by the members' sections."""
    studs = next((row for row in layer.frame.layer.layers if row.role is LayerRole.STUD and row.y_max > 0.0), None)
    if studs is not None:
        told = stud_material(ModelLayer(studs.material, studs.category, studs.thickness), layer.frame.rule)
        if told != "unknown":
            return told
    return "steel" if "steel" in layer.frame.rule.lower() else "unknown"


# ---------------------------------------------------------------- cavities and places


def _cavities(layers: Mapping[str, LayerTakeoff], plan: FillPlan) -> tuple[BasisCavity, ...]:
    by_id = _by_id(layers)
    passes = {each: Counter(hole.cavity_id for hole in plan.holes if hole.fill_pass is each) for each in Pass}
    ladder = Counter(hole.cavity_id for hole in plan.holes if hole.ladder)
    fills = [fill for fill in plan.cavities if fill.n_holes or fill.hand_volume > 0.0]
    ids = [fill.cavity_id for fill in fills]
    cavities = [by_id[name] for name in ids]
    return tidied_columns(
        BasisCavity,
        cavity_id=ids,
        layer_key=[fill.layer_key for fill in fills],
        storey=[fill.storey for fill in fills],
        room=[fill.room for fill in fills],
        method=[str(fill.method) for fill in fills],
        source=[str(layers[fill.layer_key].frame.source) for fill in fills],
        area=[cavity.area for cavity in cavities],
        depth=[cavity.volume / cavity.area for cavity in cavities],
        volume=[cavity.volume for cavity in cavities],
        blown_volume=[fill.blown_volume for fill in fills],
        lower_holes=[passes[Pass.LOWER][name] for name in ids],
        upper_holes=[passes[Pass.UPPER][name] for name in ids],
        ladder_holes=[ladder[name] for name in ids],
    )


def _hand_fills(layers: Mapping[str, LayerTakeoff], plan: FillPlan) -> tuple[BasisHandFill, ...]:
    by_id, fills = _by_id(layers), {fill.cavity_id: fill for fill in plan.cavities}
    parts = [part for part in plan.hand_fills if not part.outline.is_empty]
    boxes = shapely.bounds(np.array([part.outline for part in parts], dtype=object)).reshape(-1, 4)
    rows: list[BasisHandFill] = []
    for part, (x0, z0, x1, z1) in zip(parts, boxes.tolist(), strict=True):
        cavity, fill = by_id[part.cavity_id], fills[part.cavity_id]
        width, length = sorted((x1 - x0, z1 - z0))
        depth = cavity.y_max - cavity.y_min
        source = str(layers[fill.layer_key].frame.source)
        rows.append(
            BasisHandFill(
                part.cavity_id, fill.layer_key, fill.storey, fill.room, str(part.method), source,
                width, length, depth, part.area, part.volume,
            )
        )  # fmt: skip
    return tidied(rows)


def _by_id(layers: Mapping[str, LayerTakeoff]) -> dict[str, Cavity]:
    return {cavity.cavity_id: cavity for layer in layers.values() for cavity in layer.cavities}


def _piece(item: Preparation, layers: Mapping[str, LayerTakeoff]) -> BasisPiece:
    layer = layers.get(item.layer_key)
    source = layer.frame.source if layer is not None else Source.LAID_OUT
    return BasisPiece(
        str(item.kind), item.layer_key, item.cavity_id, item.storey, item.room, str(source), item.reason,
        item.length, item.area,
    )  # fmt: skip


def _releases(steps: Sequence[Step]) -> tuple[BasisRelease, ...]:
    found = {(step.release, step.storey, room): None for step in steps for room in step.rooms}
    return tidied(BasisRelease(*each) for each in found)


def _openings(results: Sequence[WallTakeoff]) -> tuple[BasisOpening, ...]:
    return tidied(
        BasisOpening(layer.frame.layer.wall_id, opening.evidence, opening.filling_name, opening.outline.area)
        for wall in results
        if insulated_area(wall) > 0.0
        for layer in wall.layers
        for opening in layer.frame.openings
        if opening.evidence not in BY_ELEMENT and not opening.beyond_frame
    )
