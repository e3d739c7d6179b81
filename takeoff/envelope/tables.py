"""Tables of the check: a row per length of wall, per layer around the studs, per cavity, and per group."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from takeoff.columns import Table, count, number, text, truth
from takeoff.envelope.assemblies import CavityHeat
from takeoff.envelope.groups import AreaGroup, excess_of
from takeoff.envelope.options import continuous_resistance, option_verdict
from takeoff.envelope.walls import Envelope, WallPart
from takeoff.thermal import LayerResistance, OptionVerdict, RValueOption, Target, TransmittanceMethod, Verdict, judge


@dataclass(frozen=True, slots=True, eq=False)
class WallValue:
    """One length of wall with its verdict."""

    part: WallPart
    verdict: Verdict | None
    option: OptionVerdict | None = None
    """How its insulation alone stands against the code's R-value options, where there are any."""


@dataclass(frozen=True, slots=True, eq=False)
class LayerValue:
    """One layer around the studs of one length of wall, or one of its two surface films."""

    part: WallPart
    position: int
    layer: LayerResistance


@dataclass(frozen=True, slots=True, eq=False)
class CavityValue:
    """One piece of a stud layer."""

    part: WallPart
    row: CavityHeat


def wall_values(envelope: Envelope, target: Target | None, options: Sequence[RValueOption] = ()) -> list[WallValue]:
    """Every length of wall, judged where it is an outside wall: by its U-value, and by its insulation alone."""
    return [WallValue(part, verdict_of(part, target), option_verdict(part, options)) for part in envelope.parts]


def verdict_of(part: WallPart, target: Target | None) -> Verdict | None:
    """How an outside wall stands against the target; None for others, and where there is no U-value or no target."""
    if target is None or part.governing is None or not part.wall.wall.external:
        return None
    return judge(part.governing.u, target)


def layer_values(envelope: Envelope) -> list[LayerValue]:
    """The inside film, every layer around the studs and the outside film, wall by wall, from inside to outside."""
    return [
        LayerValue(part, position, layer)
        for part in envelope.parts
        for position, layer in enumerate(
            (*part.heat.films[:1], *part.heat.layers, *part.heat.films[1:]), start=0 if part.heat.films else 1
        )
    ]


def _film(part: WallPart, place: int) -> float | None:
    return part.heat.films[place].resistance if part.heat.films else None


def cavity_values(envelope: Envelope) -> list[CavityValue]:
    """Every piece of every stud layer, wall by wall."""
    return [CavityValue(part, row) for part in envelope.parts for row in part.heat.cavities]


def _u_by(part: WallPart, method: TransmittanceMethod) -> float | None:
    return next((found.u for found in part.heat.transmittances if found.method is method), None)


def _limit(part: WallPart, *, upper: bool) -> float | None:
    for found in part.heat.transmittances:
        if found.method is TransmittanceMethod.COMBINED:
            return found.upper if upper else found.lower
    return None


def _why(row: WallValue) -> str:
    found = row.part.governing
    return row.part.heat.reason if found is None else found.why


def _passes(verdict: Verdict | None) -> bool | None:
    return None if verdict is None else verdict.passes


WALL_VALUES: Table[WallValue] = Table(
    "wall_values",
    "One length of a wall that was taken off, with its areas and its U-value; a wall that bends has several.",
    "as walls.csv, then along the wall",
    (
        text("wall_id", "GlobalId of the wall", lambda r: r.part.wall.wall.wall_id),
        count("part", "number of the length in its wall, from 1", lambda r: r.part.number),
        text("name", "name in the model", lambda r: r.part.wall.wall.name),
        text("type", "name of the wall type", lambda r: r.part.wall.wall.type_name),
        text("storey", "name of the storey", lambda r: r.part.wall.wall.storey),
        text("rooms", "rooms on its inner side", lambda r: "; ".join(s.room for s in r.part.rooms if s.room)),
        truth("external", "true for an outside wall", lambda r: r.part.wall.wall.external),
        text("orientation", "eighth of the compass that it faces, or inside", lambda r: r.part.orientation),
        number("azimuth_deg", "degree", "way it faces, clockwise from true north", lambda r: r.part.azimuth),
        number("gross_area_m2", "m2", "elevation of the stud layer, openings not deducted", lambda r: r.part.gross),
        number("opening_area_m2", "m2", "openings", lambda r: r.part.opening),
        number("framing_area_m2", "m2", "members and obstructions as elevation", lambda r: r.part.framing),
        number("framing_fraction", "1", "framing over net area", lambda r: r.part.framing / r.part.net),
        number("insulated_area_m2", "m2", "net area if it is filled, framing included", lambda r: r.part.insulated),
        number("u_W_m2K", "W/(m2 K)", "U-value that counts, air to air",
               lambda r: r.part.governing.u if r.part.governing else None),
        number("r_m2K_W", "m2 K/W", "1/U", lambda r: r.part.governing.resistance if r.part.governing else None),
        text("method", "method of that U-value", lambda r: r.part.governing.method if r.part.governing else ""),
        text("why", "why this method applies, or why there is no U-value", _why),
        number("u_parallel_path_W_m2K", "W/(m2 K)", "U by parallel path; never for steel",
               lambda r: _u_by(r.part, TransmittanceMethod.PARALLEL_PATH)),
        number("u_isothermal_planes_W_m2K", "W/(m2 K)", "U by isothermal planes",
               lambda r: _u_by(r.part, TransmittanceMethod.ISOTHERMAL_PLANES)),
        number("u_combined_W_m2K", "W/(m2 K)", "U by the combined method of ISO 6946",
               lambda r: _u_by(r.part, TransmittanceMethod.COMBINED)),
        number("r_upper_limit_m2K_W", "m2 K/W", "upper limit, combined method", lambda r: _limit(r.part, upper=True)),
        number("r_lower_limit_m2K_W", "m2 K/W", "lower limit, combined method", lambda r: _limit(r.part, upper=False)),
        number("u_steel_table_W_m2K", "W/(m2 K)", "U by the table of effective resistances for steel studs",
               lambda r: _u_by(r.part, TransmittanceMethod.STEEL_TABLE)),
        number("u_steel_zones_W_m2K", "W/(m2 K)", "U by the zone method for steel studs",
               lambda r: _u_by(r.part, TransmittanceMethod.STEEL_ZONES)),
        number("inside_film_m2K_W", "m2 K/W", "surface film of the inner face", lambda r: _film(r.part, 0)),
        number("outside_film_m2K_W", "m2 K/W",
               "film that counts for the outer face: an inside film where it looks into ventilated air or a room",
               lambda r: _film(r.part, 1)),
        number("fill_r_m2K_W", "m2 K/W", "resistance of the blown fill over the depth of the studs",
               lambda r: r.part.heat.fill_resistance),
        number("target_W_m2K", "W/(m2 K)", "U-value that may not be exceeded",
               lambda r: r.verdict.target.u if r.verdict else None),
        truth("passes", "true where U is at or below the target", lambda r: _passes(r.verdict)),
        number("margin_W_m2K", "W/(m2 K)", "target less U", lambda r: r.verdict.margin if r.verdict else None),
        number("excess_W_K", "W/K", "what its cavities without fill cost", lambda r: excess_of(r.part)),
        text("counted_as_nothing", "layers whose resistance is not known", lambda r: "; ".join(r.part.heat.missing)),
        text("notes", "what else has to be said of the U-value",
             lambda r: " ".join(r.part.governing.notes) if r.part.governing else ""),
        text("source", "source of the method", lambda r: r.part.governing.source if r.part.governing else ""),
        number("continuous_r_m2K_W", "m2 K/W", "resistance of the insulating layers that run past the studs",
               lambda r: continuous_resistance(r.part)),
        text("r_option", "R-value option of the code that its insulation meets, else the nearest, as published",
             lambda r: r.option.option.published if r.option else ""),
        truth("meets_r_option", "true where its insulation meets that option, which complies too",
              lambda r: r.option.passes if r.option else None),
    ),
)  # fmt: skip

LAYER_VALUES: Table[LayerValue] = Table(
    "layer_values",
    "One layer around the studs, or one of the two surface films, with the resistance that counts for it.",
    "as wall_values.csv, then from inside to outside",
    (
        text("wall_id", "GlobalId of the wall", lambda r: r.part.wall.wall.wall_id),
        count("part", "number of the length in its wall, from 1", lambda r: r.part.number),
        count("position", "1 is the innermost layer, 0 the inside film; the outside film is the last",
              lambda r: r.position),
        text("material", "name in the model, or inside or outside surface film", lambda r: r.layer.name),
        number("thickness_m", "m", "thickness", lambda r: r.layer.thickness),
        number("conductivity_W_mK", "W/(m K)", "conductivity, where the resistance is from one",
               lambda r: r.layer.conductivity),
        number("resistance_m2K_W", "m2 K/W", "resistance", lambda r: r.layer.resistance),
        text("source", "source and edition of the figure", lambda r: r.layer.source),
        text("reason", "why this figure", lambda r: r.layer.reason),
    ),
)  # fmt: skip

CAVITY_VALUES: Table[CavityValue] = Table(
    "cavity_heat",
    "One cavity, sliver or the framing of a stud layer, with the heat that it lets through.",
    "as wall_values.csv, then as cavities.csv, framing last",
    (
        text("piece", "cavity_id of cavities.csv, or framing", lambda r: r.row.flow.name),
        text("wall_id", "GlobalId of the wall", lambda r: r.part.wall.wall.wall_id),
        text("layer_key", "stud layer", lambda r: r.row.layer_key),
        text("kind", "filled, hand_filled, unfilled, wood_framing or header", lambda r: r.row.flow.kind),
        number("area_m2", "m2", "area", lambda r: r.row.flow.area),
        number("resistance_m2K_W", "m2 K/W", "resistance through the depth of the studs", lambda r: r.row.resistance),
        number("u_W_m2K", "W/(m2 K)", "U-value there, air to air", lambda r: r.row.flow.u),
        number("heat_flow_W_K", "W/K", "heat that it lets through", lambda r: r.row.flow.heat_flow),
        number("filled_u_W_m2K", "W/(m2 K)", "U-value there if it were blown; empty for framing",
               lambda r: r.row.flow.filled_u),
        number("excess_W_K", "W/K", "heat above what it would let through if blown", lambda r: r.row.flow.excess),
        text("source", "source and edition of the resistance", lambda r: r.row.source),
    ),
)  # fmt: skip

AREA_GROUPS: Table[AreaGroup] = Table(
    "area_groups",
    "One wall type, storey, orientation or room, or all walls of the building; outside and inside walls apart.",
    "building, wall types, storeys, orientations (clockwise from north), rooms; outside walls first",
    (
        text("grouped_by", "building, wall_type, storey, orientation or room", lambda r: r.grouped_by),
        text("group", "its name; empty for walls without one", lambda r: r.name),
        truth("external", "true for outside walls", lambda r: r.external),
        count("walls", "number of walls", lambda r: r.sums.walls),
        number("gross_area_m2", "m2", "elevation of the stud layers, openings not deducted", lambda r: r.sums.gross),
        number("opening_area_m2", "m2", "openings", lambda r: r.sums.opening),
        number("framing_area_m2", "m2", "members and obstructions as elevation", lambda r: r.sums.framing),
        number("framing_fraction", "1", "framing over net area", lambda r: r.sums.framing_fraction),
        number("insulated_area_m2", "m2", "net area of the walls that are filled", lambda r: r.sums.insulated),
        number("area_with_u_m2", "m2", "net area of the walls that have a U-value", lambda r: r.sums.area_with_u),
        number("u_W_m2K", "W/(m2 K)", "U-value weighted by area", lambda r: r.sums.u),
        number("r_m2K_W", "m2 K/W", "1/U, no mean of resistances", lambda r: r.sums.resistance),
        number("heat_flow_W_K", "W/K", "area times U", lambda r: r.sums.heat_flow),
        number("excess_W_K", "W/K", "cost of cavities without fill in filled walls", lambda r: r.sums.excess),
        number("target_W_m2K", "W/(m2 K)", "U-value that may not be exceeded",
               lambda r: r.verdict.target.u if r.verdict else None),
        truth("passes", "true where U is at or below the target", lambda r: _passes(r.verdict)),
        number("margin_W_m2K", "W/(m2 K)", "target less U", lambda r: r.verdict.margin if r.verdict else None),
    ),
)  # fmt: skip

ENVELOPE_TABLES: Sequence[Table] = (WALL_VALUES, LAYER_VALUES, CAVITY_VALUES, AREA_GROUPS)
"""Every table of this module, in the order of the README."""
