"""Tables with a row per wall, per stud layer and per material layer."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from takeoff.columns import Table, count, number, text, truth
from takeoff.layer_groups import groups_in_depth
from takeoff.model import (
    Cavity,
    CavityKind,
    Layer,
    LayerRole,
    LayerTakeoff,
    Method,
    Source,
    Status,
    StudLayer,
    Wall,
    WallTakeoff,
)

NOT_CAVITIES = frozenset({CavityKind.SLIVER, CavityKind.OPENING_GAP})
"""Kinds that stand in cavities.csv so that nothing is lost, but are no cavity in any sum."""

FILLED = frozenset({Method.BLOW, Method.BATT, Method.BEFORE_SHEATHING})
"""Methods that put insulation into a cavity."""


_NUMBER_AT_END = re.compile(r"[\s:#_-]*\d+$")


@dataclass(frozen=True, slots=True, eq=False)
class LayerRow:
    """One stud layer with the wall it belongs to."""

    wall: WallTakeoff
    layer: LayerTakeoff


@dataclass(frozen=True, slots=True, eq=False)
class BuildUpRow:
    """One material layer as seen from the fill side of one stud layer."""

    stud_layer: StudLayer
    position: int
    layer: Layer


def real_cavities(layers: Iterable[LayerTakeoff]) -> tuple[Cavity, ...]:
    """The cavities that count: no slivers, no gaps that are openings."""
    return tuple(cavity for layer in layers for cavity in layer.cavities if cavity.kind not in NOT_CAVITIES)


def fill_volume(layers: Iterable[LayerTakeoff]) -> float:
    """m3 of the cavities that get insulation: blown, by hand, or before sheathing."""
    return sum(cavity.volume for cavity in real_cavities(layers) if cavity.method in FILLED)


def is_filled(layer: LayerTakeoff) -> bool:
    """Whether some cavity of a stud layer gets insulation."""
    return any(
        cavity.method in FILLED and cavity.kind not in NOT_CAVITIES and cavity.volume > 0.0 for cavity in layer.cavities
    )


def type_label(wall: Wall) -> str:
    """Name of a wall's type; where it has none, the wall's own name without the number that tells walls apart."""
    return wall.type_name or _NUMBER_AT_END.sub("", wall.name)


def net_area(layer: LayerTakeoff) -> float:
    """m2 of a stud layer in elevation, openings deducted."""
    return layer.gross_area - layer.opening_area


def framing_fraction(layers: Iterable[LayerTakeoff]) -> float | None:
    """Members' elevation area over the net elevation area of the stud layers, dimensionless; None without area."""
    rows = tuple(layers)
    net = sum(net_area(row) for row in rows)
    return sum(row.framing_area for row in rows) / net if net > 0.0 else None


def insulated_area(wall: WallTakeoff) -> float:
    """m2 of an insulated wall in elevation, openings deducted, framing included; once where studs stand in two rows.

    Of stud layers behind each other the larger counts, since the wall separates inside from outside only once; those
    beside each other (a wall that bends) add up. A layer counts only where some cavity of it is filled.
    """
    if not wall.wall.insulated:
        return 0.0
    filled = [layer for layer in wall.layers if is_filled(layer)]
    return sum(max(net_area(layer) for layer in group) for group in groups_in_depth(filled))


def stud_depth(wall: WallTakeoff) -> float | None:
    """m; depths of stud layers behind each other added up, the deepest place of the wall; None without a result."""
    groups = groups_in_depth(wall.layers)
    return max((sum(layer.frame.layer.depth for layer in group) for group in groups), default=None)


def opening_area_once(wall: WallTakeoff) -> float:
    """m2; an opening through two rows of studs counts once."""
    return sum(max(layer.opening_area for layer in group) for group in groups_in_depth(wall.layers))


def declared(wall: WallTakeoff, name: str) -> float | None:
    """A quantity that the model itself carries for the wall, by its standard name, SI; None where it has none."""
    return next((quantity.value for quantity in wall.wall.quantities if quantity.name == name), None)


def wall_framing_source(wall: WallTakeoff) -> str:
    """'modelled' or 'laid_out'; laid out as soon as one stud layer is; empty where nothing was taken off."""
    sources = {layer.frame.source for layer in wall.layers}
    if not sources:
        return ""
    return str(Source.LAID_OUT if Source.LAID_OUT in sources else Source.MODELLED)


def stud_material(layer: StudLayer) -> str:
    """Material of the layer that is framed, as the model names it; empty where the model has no layers."""
    return next((row.material for row in layer.layers if row.role is LayerRole.STUD and row.y_max > 0.0), "")


def _job_rules(wall: WallTakeoff) -> str:
    return "; ".join(wall.wall.job_rules)


def _measured(wall: WallTakeoff, value: float) -> float | None:
    """A size of the wall's body; 0 means that it could not be measured unless the wall was taken off."""
    return value if value > 0.0 or wall.status is Status.TAKEN_OFF else None


def _total(wall: WallTakeoff, values: Iterable[float]) -> float | None:
    return sum(values) if wall.layers else None


def _gross_area(wall: WallTakeoff) -> float | None:
    if wall.layers:
        return sum(layer.gross_area for layer in wall.layers)
    return _measured(wall, wall.wall.gross_area)


def _gross_difference(wall: WallTakeoff) -> float | None:
    stated = declared(wall, "GrossSideArea")
    return wall.wall.gross_area - stated if stated is not None and wall.wall.gross_area > 0.0 else None


def _net_difference(wall: WallTakeoff) -> float | None:
    stated = declared(wall, "NetSideArea")
    if stated is None or not wall.layers:
        return None
    return wall.wall.gross_area - opening_area_once(wall) - stated


def _external(wall: WallTakeoff) -> bool | None:
    """Unknown where neither the model nor the place of the wall tells."""
    return wall.wall.external if wall.wall.external or wall.wall.external_reason else None


def _insulated(wall: WallTakeoff) -> bool | None:
    return wall.wall.insulated if wall.wall.insulated or wall.wall.insulated_reason else None


def _unique(values: Iterable[str], joint: str) -> str:
    return joint.join(dict.fromkeys(value for value in values if value))


def stud_layers_of(wall: WallTakeoff) -> tuple[StudLayer, ...]:
    """A wall's stud layers, those with a result as their frame has them, then those without."""
    done = {layer.frame.layer.key: layer.frame.layer for layer in wall.layers}
    return (*done.values(), *(layer for layer in wall.wall.stud_layers if layer.key not in done))


def layer_rows(results: Sequence[WallTakeoff]) -> list[LayerRow]:
    """Every stud layer, wall by wall."""
    return [LayerRow(wall, layer) for wall in results for layer in wall.layers]


def build_up_rows(results: Sequence[WallTakeoff]) -> list[BuildUpRow]:
    """Every material layer of every stud layer's wall, from the fill side outwards."""
    return [
        BuildUpRow(stud_layer, position, layer)
        for wall in results
        for stud_layer in stud_layers_of(wall)
        for position, layer in enumerate(sorted(stud_layer.layers, key=lambda row: row.y_min), start=1)
    ]


WALLS: Table[WallTakeoff] = Table(
    "walls",
    "One wall of the model, whatever came of it. A wall with two stud layers has one row with their sums.",
    "storey elevation (unknown last), then as in the model file",
    (
        text("wall_id", "GlobalId of the wall", lambda w: w.wall.wall_id),
        text("name", "name in the model", lambda w: w.wall.name),
        text("type", "name of the wall type", lambda w: w.wall.type_name),
        text(
            "storey",
            "name of the storey on whose floor it stands, by elevations where the model has it elsewhere",
            lambda w: w.wall.storey,
        ),
        truth("external", "true for an outside wall (see external_reason)", _external),
        number("length_m", "m", "length of the wall's body", lambda w: _measured(w, w.wall.length)),
        number("height_m", "m", "height of the wall's body", lambda w: _measured(w, w.wall.height)),
        number("stud_depth_m", "m", "depth of the stud layer; of layers behind each other, their sum", stud_depth),
        number(
            "gross_area_m2",
            "m2",
            "elevation of the stud layer (volume over depth), openings not deducted, summed over stud layers; "
            "of a wall not taken off, elevation of its body",
            _gross_area,
        ),
        number(
            "opening_area_m2",
            "m2",
            "elevation of the openings (volume over depth), summed over stud layers",
            lambda w: _total(w, (row.opening_area for row in w.layers)),
        ),
        number(
            "framing_area_m2",
            "m2",
            "members and obstructions as elevation: their volume over the depth, summed over stud layers",
            lambda w: _total(w, (row.framing_area for row in w.layers)),
        ),
        number(
            "cavity_area_m2",
            "m2",
            "elevation of the cavities, without slivers and openings",
            lambda w: _total(w, (cavity.area for cavity in real_cavities(w.layers))),
        ),
        number(
            "cavity_volume_m3",
            "m3",
            "volume of the cavities, without slivers and openings",
            lambda w: _total(w, (cavity.volume for cavity in real_cavities(w.layers))),
        ),
        number(
            "framing_fraction",
            "1",
            "framing_area_m2 / (gross_area_m2 - opening_area_m2)",
            lambda w: framing_fraction(w.layers),
        ),
        text("framing_source", "modelled or laid_out (laid_out if any stud layer is)", wall_framing_source),
        number(
            "balance_residual",
            "1",
            "part of the gross volume that the volume balance cannot account for; the worst stud layer",
            lambda w: max((row.balance.residual for row in w.layers), default=None),
        ),
        text("status", "taken_off, left_out (no framed wall) or failed (a step went wrong)", lambda w: w.status),
        text("reason", "why this status", lambda w: w.reason),
        text("ifc_class", "class in the model", lambda w: w.wall.ifc_class),
        text("external_reason", "how outside or inside was told", lambda w: w.wall.external_reason),
        truth("insulated", "true where the job file has this wall filled", _insulated),
        text("insulated_reason", "why it is filled or not", lambda w: w.wall.insulated_reason),
        text("framing_rule", "rule set of the frame", lambda w: _unique((row.frame.rule for row in w.layers), "; ")),
        text(
            "stud_material",
            "material of the stud layer",
            lambda w: _unique((stud_material(layer) for layer in stud_layers_of(w)), "; "),
        ),
        text(
            "rooms",
            "rooms on the fill side, nearest first",
            lambda w: _unique((room for layer in stud_layers_of(w) for room in layer.rooms), "; "),
        ),
        count("stud_layers", "number of stud layers", lambda w: len(stud_layers_of(w))),
        count(
            "cavities",
            "number of cavities, without slivers and openings",
            lambda w: len(real_cavities(w.layers)) if w.layers else None,
        ),
        number(
            "insulated_area_m2",
            "m2",
            "net elevation if the wall is filled, framing included, once for stud layers behind each other",
            lambda w: insulated_area(w) if w.layers else None,
        ),
        number(
            "fill_volume_m3",
            "m3",
            "volume of the cavities to be filled, by any method",
            lambda w: fill_volume(w.layers) if w.layers else None,
        ),
        number(
            "gross_volume_m3",
            "m3",
            "volume of the stud layer, nothing deducted",
            lambda w: _total(w, (row.balance.gross for row in w.layers)),
        ),
        number(
            "opening_volume_m3",
            "m3",
            "volume of the openings in it",
            lambda w: _total(w, (row.balance.openings for row in w.layers)),
        ),
        number(
            "framing_volume_m3",
            "m3",
            "volume of members and obstructions in it",
            lambda w: _total(w, (row.balance.framing for row in w.layers)),
        ),
        number(
            "sliver_volume_m3",
            "m3",
            "volume of the gaps that are sealed, not filled",
            lambda w: _total(w, (row.balance.slivers for row in w.layers)),
        ),
        number(
            "declared_gross_area_m2",
            "m2",
            "GrossSideArea that the model carries for the wall",
            lambda w: declared(w, "GrossSideArea"),
        ),
        number("gross_area_difference_m2", "m2", "wall's body as measured here less GrossSideArea", _gross_difference),
        number(
            "declared_net_area_m2",
            "m2",
            "NetSideArea that the model carries for the wall",
            lambda w: declared(w, "NetSideArea"),
        ),
        number(
            "net_area_difference_m2",
            "m2",
            "wall's body less openings as measured here, less NetSideArea",
            _net_difference,
        ),
        text("job_rules", "blocks of the job file that hold for the wall, with what each says", _job_rules),
    ),
)


STUD_LAYERS: Table[LayerRow] = Table(
    "stud_layers",
    "One stud layer of a wall that was taken off: the thing that is framed, sliced and filled.",
    "as walls.csv, then from the first stud layer on",
    (
        text("layer_key", "wall_id, with #2 and so on for a second layer", lambda r: r.layer.frame.layer.key),
        text("wall_id", "GlobalId of the wall", lambda r: r.wall.wall.wall_id),
        number("depth_m", "m", "depth", lambda r: r.layer.frame.layer.depth),
        text("material", "material of the stud layer", lambda r: stud_material(r.layer.frame.layer)),
        text("fill_side", "why it is filled from this side", lambda r: r.layer.frame.layer.fill_side),
        text("rooms", "rooms on the fill side", lambda r: _unique(r.layer.frame.layer.rooms, "; ")),
        text("framing_source", "modelled or laid_out", lambda r: r.layer.frame.source),
        text("framing_rule", "rule set of the frame", lambda r: r.layer.frame.rule),
        count("members", "number of members and obstructions", lambda r: len(r.layer.frame.members)),
        count("cavities", "number without slivers and openings", lambda r: len(real_cavities([r.layer]))),
        number("gross_area_m2", "m2", "elevation, openings not deducted", lambda r: r.layer.gross_area),
        number("opening_area_m2", "m2", "elevation of the openings", lambda r: r.layer.opening_area),
        number(
            "framing_area_m2",
            "m2",
            "members and obstructions as elevation: their volume over the depth",
            lambda r: r.layer.framing_area,
        ),
        number(
            "framing_fraction",
            "1",
            "framing_area_m2 / (gross_area_m2 - opening_area_m2)",
            lambda r: framing_fraction([r.layer]),
        ),
        number("gross_volume_m3", "m3", "volume, nothing deducted", lambda r: r.layer.balance.gross),
        number("opening_volume_m3", "m3", "volume of the openings", lambda r: r.layer.balance.openings),
        number("framing_volume_m3", "m3", "volume of members and obstructions", lambda r: r.layer.balance.framing),
        number("cavity_volume_m3", "m3", "volume of the cavities", lambda r: r.layer.balance.cavities),
        number("sliver_volume_m3", "m3", "volume of the gaps that are sealed", lambda r: r.layer.balance.slivers),
        number("balance_residual", "1", "unaccounted part of the gross volume", lambda r: r.layer.balance.residual),
        text("job_rules", "blocks of the job file that hold for the wall", lambda r: _job_rules(r.wall)),
    ),
)


BUILD_UP: Table[BuildUpRow] = Table(
    "build_up",
    "One material layer of a framed wall, as seen from the fill side of one of its stud layers.",
    "as stud_layers.csv, then from the fill side into the wall",
    (
        text("layer_key", "stud layer from whose fill side it is seen", lambda r: r.stud_layer.key),
        count("position", "1 is the first that one meets from the fill side", lambda r: r.position),
        text("material", "name in the model", lambda r: r.layer.material),
        text("category", "material category in the model", lambda r: r.layer.category),
        number("thickness_m", "m", "thickness", lambda r: r.layer.thickness),
        text("role", "stud_layer, sheathing, lining, cladding, air or other", lambda r: r.layer.role),
        text("reason", "how the role was told", lambda r: r.layer.reason),
        number("y_min_m", "m", "near face in wall axes", lambda r: r.layer.y_min),
        number("y_max_m", "m", "far face in wall axes", lambda r: r.layer.y_max),
        number("conductivity_W_mK", "W/(m K)", "conductivity that the model carries", lambda r: r.layer.conductivity),
    ),
)
