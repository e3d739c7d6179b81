"""What the first page of the consultant's statement says of the walls, as texts and rows."""

from __future__ import annotations

from collections import Counter

from reports.cautions import FIRST
from reports.statement_words import Room, cut, more, name_cut
from takeoff.envelope.groups import AreaGroup, building
from takeoff.envelope.walls import WallPart
from takeoff.model import Status
from takeoff.plans.plan_check import PlanCheck
from takeoff.plurals import plural
from takeoff.thermal import CHECK_LOCALLY, LayerResistance, OptionVerdict, TransmittanceMethod, Verdict
from takeoff.totals import outcomes
from takeoff.units import (
    UnitSystem,
    format_area,
    format_conductivity,
    format_heat_loss,
    format_length,
    format_resistance,
    format_transmittance,
)

METHODS = {
    TransmittanceMethod.PARALLEL_PATH: "parallel path",
    TransmittanceMethod.ISOTHERMAL_PLANES: "isothermal planes",
    TransmittanceMethod.COMBINED: "ISO 6946",
    TransmittanceMethod.STEEL_TABLE: "steel table",
    TransmittanceMethod.STEEL_ZONES: "steel zones",
    TransmittanceMethod.MODIFIED_ZONE: "modified zone",
}
"""Methods in a column's width; the full names stand below the table."""
MOST_OPTION_WORDS, MOST_OPTION_TYPES = 4, 2
"""Different outcomes against R-value options that are told, and wall types named with each."""


def first_page(check: PlanCheck, room: Room) -> dict[str, object]:
    """What the template shows of the walls, as it takes it."""
    takeoff = check.takeoff
    system = takeoff.job.report.units
    return {
        "project": cut(takeoff.project_name or takeoff.model_name, 90),
        "model": cut(takeoff.model_name, 90),
        "facts": statement_facts(check, system),
        "types": _group_rows(check, "wall_type", room, system),
        "sides": _side_rows(check, "orientation", room, room.sides, system),
        "storeys": _side_rows(check, "storey", room, room.storeys, system),
        "rooms": _side_rows(check, "room", room, room.rooms, system),
        "methods": [*_methods(check), *_option_words(check, room, system)],
        "build_up": _build_up(check, room, system),
        "aside": _aside(check, room, system),
        "first": FIRST,
    }


def statement_facts(check: PlanCheck, system: UnitSystem) -> list[list[str]]:
    """Pairs of what and how much: what the reader looks for first."""
    row = building(check.groups)
    statuses = Counter(result.status for result in check.takeoff.results)
    walls = f"{len(check.takeoff.results)} in the model, {statuses[Status.TAKEN_OFF]} taken off"
    if row is None:
        return [["walls", walls], ["outside walls taken off", "none"]]
    sums = row.sums
    facts = [
        ["walls", walls],
        ["insulated net area of outside walls", format_area(sums.insulated, system)],
        ["real framing fraction", _share(sums.framing_fraction)],
        ["U-value, weighted by area", _u(sums.u, system)],
        ["resistance, 1/U", _r(sums.u, system)],
        ["target", "none set" if check.target is None else f"U {_u(check.target.u, system)}"],
        ["outside walls together", _verdict_words(row.verdict, system)],
    ]
    without = sums.net - sums.area_with_u
    if without > 0.005:
        facts.append(["outside walls without a U-value", format_area(without, system)])
    if sums.excess > 0.005:
        cost, heat = format_heat_loss(sums.excess, system), format_heat_loss(sums.heat_flow, system)
        facts.append(["cost of cavities left unfilled", f"{cost} of {heat}"])
    else:
        facts.append(["heat through them", format_heat_loss(sums.heat_flow, system)])
    return facts


def _share(value: float | None) -> str:
    return "" if value is None else f"{100 * value:.1f} %"


def _u(value: float | None, system: UnitSystem) -> str:
    return "unknown" if value is None else format_transmittance(value, system)


def _bare_u(value: float | None, system: UnitSystem) -> str:
    """A U-value without its unit, for a column whose head has it."""
    return "-" if value is None else format_transmittance(value, system).split(" ")[0]


def _r(u: float | None, system: UnitSystem) -> str:
    return "unknown" if u is None else format_resistance(1.0 / u, system)


def _verdict_words(verdict: Verdict | None, system: UnitSystem) -> str:
    if verdict is None:
        return "not judged"
    word = "MEET the target" if verdict.passes else "MISS the target"
    return f"{word}, margin {100 * verdict.margin_share:+.0f} %"


def _group_rows(check: PlanCheck, grouped_by: str, room: Room, system: UnitSystem) -> dict[str, object]:
    """Rows of wall types, outside walls first, the largest first; what does not fit is counted."""
    rows = [row for row in check.groups if row.grouped_by == grouped_by]
    rows.sort(key=lambda row: (not row.external, -row.sums.net))
    return {
        "unit": format_transmittance(1.0, system).split(" ", 1)[1],
        "rows": [_group_row(row, check, room, system) for row in rows[: room.types]],
        "more": more(rows[room.types :], "wall types", "area_groups.csv"),
    }


def _group_row(row: AreaGroup, check: PlanCheck, room: Room, system: UnitSystem) -> list[str]:
    sums = row.sums
    verdict = "" if row.verdict is None else ("meets" if row.verdict.passes else "MISSES")
    margin = "" if row.verdict is None else f" {100 * row.verdict.margin_share:+.0f} %"
    return [
        room.named(row.name or "(no type)", 40),
        "outside" if row.external else "inside",
        str(sums.walls),
        format_area(sums.gross, system),
        format_area(sums.opening, system),
        _share(sums.framing_fraction),
        format_area(sums.insulated, system),
        _bare_u(sums.u, system),
        _method_of(row, check),
        verdict + margin,
    ]


def _method_of(row: AreaGroup, check: PlanCheck) -> str:
    used = {
        METHODS[part.governing.method]
        for part in check.envelope.parts
        if part.governing is not None and part.type_label == row.name and part.wall.wall.external == row.external
    }
    return ", ".join(sorted(used)) or "none applies"


def _side_rows(check: PlanCheck, grouped_by: str, room: Room, most: int, system: UnitSystem) -> dict[str, object]:
    """Short rows of outside walls only."""
    rows = [row for row in check.groups if row.grouped_by == grouped_by and row.external]
    if grouped_by == "room":
        rows.sort(key=lambda row: -row.sums.insulated)
    cells = [
        [
            room.named(row.name or f"(no {grouped_by})", 30),
            format_area(row.sums.insulated, system),
            _bare_u(row.sums.u, system),
        ]
        for row in rows[:most]
    ]
    return {"rows": cells, "more": more(rows[most:], f"{grouped_by}s", "area_groups.csv")}


def _methods(check: PlanCheck) -> list[str]:
    """Each method in use once: short name, full name, why, source."""
    found: dict[TransmittanceMethod, str] = {}
    for part in check.envelope.parts:
        if part.governing is not None:
            answer = part.governing
            found.setdefault(answer.method, f"{METHODS[answer.method]}: {answer.why} Source: {answer.source}.")
    return list(found.values())


def _option_words(check: PlanCheck, room: Room, system: UnitSystem) -> list[str]:
    """How wall types stand against the code's R-value options, which comply as a U-value does; none where there are no
    such options."""
    types: dict[str, list[OptionVerdict]] = {}
    for row in check.values:
        if row.option is not None:
            types.setdefault(row.part.type_label, []).append(row.option)
    if not types:
        return []
    alike: dict[str, list[str]] = {}
    for name, verdicts in types.items():
        worst = min(verdicts, key=lambda one: (one.passes, one.cavity_margin + one.continuous_margin))
        alike.setdefault(_option_said(worst, system), []).append(room.named(name or "(no type)", 40))
    said = [f"{_some(names)}: {words}" for words, names in list(alike.items())[:MOST_OPTION_WORDS]]
    rest = sum(len(names) for names in list(alike.values())[MOST_OPTION_WORDS:])
    if rest:
        said.append(f"{plural(rest, 'more type')} in wall_values.csv")
    source = next(iter(types.values()))[0].option.source
    return [f"By R-value instead of U ({source}; {CHECK_LOCALLY}): {'; '.join(said)}."]


def _option_said(verdict: OptionVerdict, system: UnitSystem) -> str:
    """What a wall's insulation is, and how it stands against its option."""
    option = verdict.option
    has = _two_resistances(option.cavity + verdict.cavity_margin, option.continuous + verdict.continuous_margin, system)
    asks = _two_resistances(option.cavity, option.continuous, system)
    words = "meets" if verdict.passes else "MISSES all, nearest"
    return f"{has}, {words} {option.published}, which asks for {asks}"


def _some(names: list[str]) -> str:
    """The first names, and how many there are beyond."""
    rest = len(names) - MOST_OPTION_TYPES
    return ", ".join(names[:MOST_OPTION_TYPES]) + (f" and {plural(rest, 'more type')}" if rest > 0 else "")


def _two_resistances(cavity: float, continuous: float, system: UnitSystem) -> str:
    """Cavity and continuous insulation, m2 K/W, in the reader's units."""
    return f"{format_resistance(cavity, system)} in the cavity, {format_resistance(continuous, system)} past the studs"


def _build_up(check: PlanCheck, room: Room, system: UnitSystem) -> dict[str, object]:
    """The layers of the outside wall type with the most area, with its largest wall as the example."""
    parts = [part for part in check.envelope.parts if part.wall.wall.external and part.governing is not None]
    if not parts:
        return {"title": "", "rows": [], "more": "", "others": ""}
    area: dict[str, float] = {}
    for part in parts:
        area[part.type_label] = area.get(part.type_label, 0.0) + part.net
    largest = max(area, key=lambda name: area[name])
    part = max((each for each in parts if each.type_label == largest), key=lambda each: each.net)
    rows = [_layer_row(part, layer, system) for layer in part.heat.layers]
    studs = [
        "stud layer" if len(part.layers) == 1 else f"{len(part.layers)} stud layers",
        format_length(sum(layer.frame.layer.depth for layer in part.layers), system),
        "",
        f"fill {format_resistance(part.heat.fill_resistance, system)}" if part.heat.fill_resistance else "no fill",
        _fill_source(part),
    ]
    rows.insert(part.heat.layers_before_studs, studs)
    films = [_film_row(film, system) for film in part.heat.films]
    rows = [*films[:1], *rows, *films[1:]]
    name = room.named(part.wall.wall.name or part.wall.wall.wall_id, 40)
    return {
        "title": f"{room.named(largest, 60)} (wall '{name}', framing {_share(part.framing / part.net)})",
        "rows": rows[: room.layers],
        "more": more(rows[room.layers :], "layers", "layer_values.csv"),
        "others": _other_answers(part, system),
    }


def _film_row(film: LayerResistance, system: UnitSystem) -> list[str]:
    return [film.name, "", "", format_resistance(film.resistance, system), cut(f"{film.reason}; {film.source}", 240)]


def _layer_row(part: WallPart, layer: LayerResistance, system: UnitSystem) -> list[str]:
    conductivity = "" if layer.conductivity is None else format_conductivity(layer.conductivity, system)
    known = layer.name not in part.heat.missing
    told = layer.source if layer.resistance > 0.0 else layer.reason
    return [
        name_cut(layer.name, 40),
        format_length(layer.thickness, system),
        conductivity,
        format_resistance(layer.resistance, system) if known else "unknown: as nothing",
        cut(told or layer.reason, 160),
    ]


def _fill_source(part: WallPart) -> str:
    named = next((row.source for row in part.heat.cavities if row.flow.kind == "filled"), "")
    return cut(named or ("page 2, what it rests on" if part.heat.fill_resistance else ""), 160)


def _other_answers(part: WallPart, system: UnitSystem) -> str:
    """The other methods' answers for the same wall, since they differ and a reader may want the other one."""
    words = [f"{METHODS[each.method]} U {_bare_u(each.u, system)}" for each in part.heat.transmittances]
    limits = next((each for each in part.heat.transmittances if each.upper is not None), None)
    if limits is not None and limits.upper is not None and limits.lower is not None:
        upper, lower = (format_resistance(value, system) for value in (limits.upper, limits.lower))
        words.append(f"ISO 6946 limits {upper} and {lower}")
    return "; ".join(words)


def _aside(check: PlanCheck, room: Room, system: UnitSystem) -> dict[str, object]:
    """Walls that were not taken off, by reason: their areas and values are in nothing above."""
    groups = outcomes(check.takeoff.results)
    rows = [
        [str(row.count), format_area(row.area, system) if row.area > 0.0 else "unknown", room.told(row.reason, 110)]
        for row in groups[: room.aside]
    ]
    return {"rows": rows, "more": more(groups[room.aside :], "reasons", "walls.csv of bayfill takeoff")}
