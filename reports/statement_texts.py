"""What the consultant's statement says, as texts and rows; how many rows fit is the caller's to say."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from reports.cautions import FIRST
from takeoff.envelope.groups import AreaGroup, building
from takeoff.envelope.settings import fill_of, grade_of, rule_of
from takeoff.envelope.stack import FramingFacts
from takeoff.envelope.walls import WallPart
from takeoff.model import Finding, Model, Status
from takeoff.plans.comparison import Agreement, Comparison
from takeoff.plans.plan_check import PlanCheck
from takeoff.thermal import TransmittanceMethod, Verdict, film_rule, surface_film
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
AGREEMENTS = {Agreement.AGREES: "agrees", Agreement.DIFFERS: "DIFFERS", Agreement.NOT_COMPARED: "not compared"}
LONGEST = 46
"""Characters of a name in a table."""
LONGEST_REASON = 150
_LONGEST_WORD = 14
"""Letters of a word that any column holds."""
NO_CERTIFICATE = (
    "Worked out from the building model; it is no certificate and replaces neither a look at the walls nor the proof "
    "that the local code asks for. Code figures: check the edition in force locally."
)


@dataclass(frozen=True, slots=True)
class Room:
    """How many rows each table may have, so that the statement keeps to two pages."""

    types: int = 12
    sides: int = 8
    storeys: int = 12
    rooms: int = 14
    layers: int = 12
    aside: int = 6
    lines: int = 24
    claims: int = 10
    findings: int = 16
    notes: int = 10

    def scaled(self, share: float) -> Room:
        """The same with fewer rows where a model may have many, at least one each; the others stay."""
        return replace(self, **{name: max(1, int(getattr(self, name) * share)) for name in _MANY})


_MANY = ("types", "storeys", "rooms", "layers", "aside", "lines", "findings")


def first_page(model: Model, check: PlanCheck, room: Room) -> dict[str, object]:
    """What the template shows of the walls, as it takes it."""
    takeoff = check.takeoff
    system = takeoff.job.report.units
    return {
        "project": cut(takeoff.project_name or takeoff.model_name, 90),
        "model": cut(takeoff.model_name, 90),
        "facts": statement_facts(check, system),
        "types": _group_rows(check, "wall_type", room.types, system),
        "sides": _side_rows(check, "orientation", room.sides, system),
        "storeys": _side_rows(check, "storey", room.storeys, system),
        "rooms": _side_rows(check, "room", room.rooms, system),
        "methods": _methods(check),
        "build_up": _build_up(check, room.layers, system),
        "aside": _aside(check, room.aside, system),
        "first": FIRST,
    }


def second_page(model: Model, check: PlanCheck, room: Room) -> dict[str, object]:
    """What the template shows of the comparisons, the findings and what it all rests on, as it takes it."""
    system = check.takeoff.job.report.units
    return {
        "declared": _declared(check, room.lines, system),
        "claims": _claims(check, room.claims),
        "findings": _findings(check, room.findings, system),
        "counts": _counts(check),
        "notes": _few_notes(_notes(model, check, system), room.notes),
        "no_certificate": NO_CERTIFICATE,
    }


def cut(text: str, longest: int = LONGEST) -> str:
    """A text that keeps to a length, its end replaced by dots where it does not."""
    line = " ".join(text.split())
    kept = line if len(line) <= longest else line[: longest - 3].rstrip() + "..."
    return " ".join(_breakable(word) for word in kept.split(" "))


def name_cut(name: str, longest: int = LONGEST) -> str:
    """A name that keeps to a length, its middle replaced by dots: names often differ in their ends.

    >>> name_cut("Basic Wall: Interior - Furring (38 mm)", 24)
    'Basic Wall:...ng (38 mm)'
    """
    line = " ".join(name.split())
    if len(line) <= longest:
        return cut(line, longest)
    tail = (longest - 3) // 2
    return cut(f"{line[: longest - 3 - tail].rstrip()}...{line[len(line) - tail :].lstrip()}", longest)


def _breakable(word: str) -> str:
    """A long word with places where a line may end: after the marks in it, else every so many letters."""
    if len(word) <= _LONGEST_WORD:
        return word
    parts = re.findall(rf".{{1,{_LONGEST_WORD}}}?(?:[._:/-]+|$)|.{{1,{_LONGEST_WORD}}}", word)
    return "\u200b".join(parts)


# ---------------------------------------------------------------- walls


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


def _group_rows(check: PlanCheck, grouped_by: str, most: int, system: UnitSystem) -> dict[str, object]:
    """Rows of wall types, outside walls first, the largest first; what does not fit is counted."""
    rows = [row for row in check.groups if row.grouped_by == grouped_by]
    rows.sort(key=lambda row: (not row.external, -row.sums.net))
    return {
        "unit": format_transmittance(1.0, system).split(" ", 1)[1],
        "rows": [_group_row(row, check, system) for row in rows[:most]],
        "more": _more(rows[most:], "wall types", "area_groups.csv"),
    }


def _group_row(row: AreaGroup, check: PlanCheck, system: UnitSystem) -> list[str]:
    sums = row.sums
    verdict = "" if row.verdict is None else ("meets" if row.verdict.passes else "MISSES")
    margin = "" if row.verdict is None else f" {100 * row.verdict.margin_share:+.0f} %"
    return [
        name_cut(row.name or "(no type)", 40),
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


def _side_rows(check: PlanCheck, grouped_by: str, most: int, system: UnitSystem) -> dict[str, object]:
    """Short rows of outside walls only."""
    rows = [row for row in check.groups if row.grouped_by == grouped_by and row.external]
    if grouped_by == "room":
        rows.sort(key=lambda row: -row.sums.insulated)
    cells = [
        [
            cut(row.name or f"(no {grouped_by})", 30),
            format_area(row.sums.insulated, system),
            _bare_u(row.sums.u, system),
        ]
        for row in rows[:most]
    ]
    return {"rows": cells, "more": _more(rows[most:], f"{grouped_by}s", "area_groups.csv")}


def _more(rest: Sequence[object], what: str, file: str) -> str:
    return f"and {len(rest)} more {what}: {file}" if rest else ""


def _methods(check: PlanCheck) -> list[str]:
    """Each method in use once: short name, full name, why, source."""
    found: dict[TransmittanceMethod, str] = {}
    for part in check.envelope.parts:
        if part.governing is not None:
            answer = part.governing
            found.setdefault(answer.method, f"{METHODS[answer.method]}: {answer.why} Source: {answer.source}.")
    return list(found.values())


def _build_up(check: PlanCheck, most: int, system: UnitSystem) -> dict[str, object]:
    """The layers of the outside wall type with the most area, with its largest wall as the example."""
    parts = [part for part in check.envelope.parts if part.wall.wall.external and part.governing is not None]
    if not parts:
        return {"title": "", "rows": [], "more": "", "others": ""}
    area: dict[str, float] = {}
    for part in parts:
        area[part.type_label] = area.get(part.type_label, 0.0) + part.net
    largest = max(area, key=lambda name: area[name])
    part = max((each for each in parts if each.type_label == largest), key=lambda each: each.net)
    rows = [_layer_row(part, number, system) for number in range(len(part.heat.layers))]
    studs = [
        "stud layer" if len(part.layers) == 1 else f"{len(part.layers)} stud layers",
        format_length(sum(layer.frame.layer.depth for layer in part.layers), system),
        "",
        f"fill {format_resistance(part.heat.fill_resistance, system)}" if part.heat.fill_resistance else "no fill",
        _fill_source(part),
    ]
    rows.insert(part.heat.layers_before_studs, studs)
    name = part.wall.wall.name or part.wall.wall.wall_id
    return {
        "title": f"{name_cut(largest, 60)} (wall '{name_cut(name, 40)}', framing {_share(part.framing / part.net)})",
        "rows": rows[:most],
        "more": _more(rows[most:], "layers", "layer_values.csv"),
        "others": _other_answers(part, system),
    }


def _layer_row(part: WallPart, number: int, system: UnitSystem) -> list[str]:
    layer = part.heat.layers[number]
    conductivity = "" if layer.conductivity is None else format_conductivity(layer.conductivity, system)
    known = layer.name not in part.heat.missing
    told = layer.source if layer.resistance > 0.0 else layer.reason
    return [
        name_cut(layer.name, 40),
        format_length(layer.thickness, system),
        conductivity,
        format_resistance(layer.resistance, system) if known else "unknown: as nothing",
        cut(told or layer.reason, 70),
    ]


def _fill_source(part: WallPart) -> str:
    return cut(next((row.source for row in part.heat.cavities if row.flow.kind == "filled"), ""), 70)


def _other_answers(part: WallPart, system: UnitSystem) -> str:
    """The other methods' answers for the same wall, since they differ and a reader may want the other one."""
    words = [f"{METHODS[each.method]} U {_bare_u(each.u, system)}" for each in part.heat.transmittances]
    limits = next((each for each in part.heat.transmittances if each.upper is not None), None)
    if limits is not None and limits.upper is not None and limits.lower is not None:
        upper, lower = (format_resistance(value, system) for value in (limits.upper, limits.lower))
        words.append(f"ISO 6946 limits {upper} and {lower}")
    return "; ".join(words)


def _aside(check: PlanCheck, most: int, system: UnitSystem) -> dict[str, object]:
    """Walls that were not taken off, by reason: their areas and values are in nothing above."""
    groups = outcomes(check.takeoff.results)
    rows = [
        [str(row.count), format_area(row.area, system) if row.area > 0.0 else "unknown", cut(row.reason, 110)]
        for row in groups[:most]
    ]
    return {"rows": rows, "more": _more(groups[most:], "reasons", "walls.csv of bayfill takeoff")}


# ---------------------------------------------------------------- against the plans


def counts_words(check: PlanCheck) -> str:
    """How many comparisons came out how."""
    words = {Agreement.AGREES: "agree", Agreement.DIFFERS: "differ", Agreement.NOT_COMPARED: "could not be compared"}
    counts = ", ".join(f"{check.count(each)} {word}" for each, word in words.items())
    return f"{len(check.comparisons)} comparisons: {counts}"


def _counts(check: PlanCheck) -> str:
    return f"{counts_words(check)}. Each stands in plan_check.csv."


def figure(value: float | None, unit: str, system: UnitSystem) -> str:
    """A figure of a comparison or finding in the reader's units.

    >>> figure(0.25, "W/(m2 K)", "metric")
    '0.250 W/(m2 K)'
    """
    if value is None:
        return ""
    if unit == "m2":
        return format_area(value, system)
    if unit == "m":
        return format_length(value, system)
    if unit == "W/(m2 K)":
        return format_transmittance(value, system)
    if unit == "m2 K/W":
        return format_resistance(value, system)
    return f"{value:.3g} {unit}".strip()


def _unbroken(number: str) -> str:
    """A figure that stays on one line with its unit."""
    return number.replace(" ", "\u00a0").replace("/", "/\u2060")


def _declared(check: PlanCheck, most: int, system: UnitSystem) -> dict[str, object]:
    """Lines of the declared areas: those that differ first, then in the order of the file."""
    rows = [row for row in check.comparisons if row.line is not None or row.source == check.declared_name]
    rows = [row for row in rows if check.declared_name]
    rows.sort(key=lambda row: row.agreement is not Agreement.DIFFERS)
    return {
        "file": cut(check.declared_name, 60),
        "rows": [_declared_row(row, system) for row in rows[:most]],
        "more": _more(rows[most:], "comparisons", "plan_check.csv"),
    }


def _declared_row(row: Comparison, system: UnitSystem) -> list[str]:
    return [
        "" if row.line is None else str(row.line),
        cut(row.scope, 42),
        row.subject,
        _unbroken(figure(row.declared, row.unit, system)) or "nothing",
        _unbroken(figure(row.found, row.unit, system)),
        AGREEMENTS[row.agreement],
        cut(row.reason, LONGEST_REASON),
    ]


def _claims(check: PlanCheck, most: int) -> dict[str, object]:
    """What the model itself declares, by source, with the walls that differ."""
    groups: dict[str, list[Comparison]] = {}
    for row in check.comparisons:
        if row.line is None and row.source != check.declared_name:
            groups.setdefault(row.source, []).append(row)
    rows = []
    for source, found in groups.items():
        counts = Counter(row.agreement for row in found)
        differing = [row for row in found if row.agreement is Agreement.DIFFERS]
        names = ", ".join(dict.fromkeys(row.scope for row in differing))
        reason = f" ({cut(differing[0].reason, 80)})" if differing and differing[0].reason else ""
        rows.append([cut(source), *(str(counts[each]) for each in Agreement), cut(names, 70) + reason])
    rows.sort(key=lambda row: row[2] == "0")
    return {"rows": rows[:most], "more": _more(rows[most:], "sources", "plan_check.csv")}


def _findings(check: PlanCheck, most: int, system: UnitSystem) -> dict[str, object]:
    """What to look at, worst first, findings of one code together."""
    groups: dict[str, list[Finding]] = {}
    for finding in check.to_look_at:
        groups.setdefault(finding.code, []).append(finding)
    walls = {result.wall.wall_id: result.wall.name for result in check.takeoff.results}
    rows = [_finding_row(group, walls, system) for group in groups.values()]
    return {"rows": rows[:most], "more": _more(rows[most:], "kinds of finding", "findings.csv")}


def _finding_row(group: Sequence[Finding], walls: Mapping[str, str], system: UnitSystem) -> list[str]:
    first = group[0]
    words = first.code.replace("-", " ")
    count = f" ({len(group)})" if len(group) > 1 else ""
    measured = figure(first.measured, first.unit, system)
    limit = figure(first.limit, first.unit, system)
    numbers = f"{_unbroken(measured)} against {_unbroken(limit)}" if measured and limit else _unbroken(measured)
    name = first.element_name or walls.get(first.wall_id, "") or first.element_id
    return [words + count, name_cut(name, 40), numbers, cut(first.message, 240)]


# ---------------------------------------------------------------- what it rests on


def _few_notes(notes: Sequence[str], most: int) -> list[str]:
    """The first notes, and how many there are beyond."""
    if len(notes) <= most:
        return list(notes)
    rest = len(notes) - most + 1
    return [*notes[: most - 1], f"{rest} more reasons why a wall has no U-value: wall_values.csv, findings.csv."]


def _notes(model: Model, check: PlanCheck, system: UnitSystem) -> list[str]:
    """Assumptions with their sources, the most telling first."""
    job = check.takeoff.job
    fill = fill_of(job, FramingFacts("", False))
    inside, outside = (surface_film(film_rule(rule_of(job)), inside=side) for side in (True, False))
    notes = [f"Fill: {fill.fibre.name}, {fill.fibre.source}."]
    if check.target is not None:
        mark = f" ({check.target.warning})" if check.target.warning else ""
        memory = "; from memory, to be confirmed" if check.target.from_memory else ""
        notes.append(f"Target: {check.target.name}{mark}. Source: {check.target.source}{memory}.")
    missing = sorted({name for part in check.envelope.parts for name in part.heat.missing})
    if missing:
        notes.append(f"Counted as nothing, since not known: {cut(', '.join(missing), 160)}. The real U-value is lower.")
    if not model.true_north_stated:
        notes.append("The model does not state true north: its y axis was taken as north. Check the orientations.")
    notes.append(
        f"Surface films {format_resistance(inside.resistance, system)} and "
        f"{format_resistance(outside.resistance, system)} ({inside.source}). Air layers: "
        f"{job.thermal.air_layers.replace('_', ' ')} unless the model calls them ventilated."
    )
    notes.append(
        f"Framing is what stands in the walls (modelled, or laid out by rule), each cavity counts with its own depth. "
        f"Installation grade {grade_of(job)}. Areas are those of the stud layer, openings deducted. Walls alone: no "
        "windows, doors, roofs or floors, and no thermal bridges where walls meet them or each other."
    )
    if any(part.heat.steel for part in check.envelope.parts):
        notes.append("Of steel studs the framing fraction counts the metal only; their U-values follow stud spacing.")
    reasons = Counter(part.heat.reason for part in check.envelope.parts if part.governing is None)
    notes += [f"No U-value for {count} lengths of wall: {cut(reason, 160)}" for reason, count in reasons.items()]
    return notes
