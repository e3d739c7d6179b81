"""What the second page of the consultant's statement says: comparisons, findings, and what it all rests on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from reports.statement_words import (
    AGREEMENTS,
    LONGEST_REASON,
    NO_CERTIFICATE,
    Room,
    cut,
    figure,
    more,
    unbroken,
)
from takeoff.building import Model
from takeoff.envelope.settings import fill_of, grade_of
from takeoff.envelope.stack import FramingFacts
from takeoff.finding import Finding
from takeoff.plans.comparison import Agreement, Comparison
from takeoff.plans.plan_check import PlanCheck
from takeoff.plurals import plural
from takeoff.units import UnitSystem, format_resistance


def second_page(model: Model, check: PlanCheck, room: Room) -> dict[str, object]:
    """What the template shows of the comparisons, the findings and what it all rests on, as it takes it."""
    system = check.takeoff.job.report.units
    return {
        "declared": _declared(check, room, system),
        "claims": _claims(check, room.claims),
        "findings": _findings(check, room, system),
        "counts": _counts(check),
        "notes": _few_notes(_notes(model, check, system), room.notes),
        "no_certificate": NO_CERTIFICATE,
    }


def counts_words(check: PlanCheck) -> str:
    """How many comparisons came out how."""
    words = {Agreement.AGREES: "agree", Agreement.DIFFERS: "differ", Agreement.NOT_COMPARED: "could not be compared"}
    counts = ", ".join(f"{check.count(each)} {word}" for each, word in words.items())
    return f"{plural(len(check.comparisons), 'comparison')}: {counts}"


def _counts(check: PlanCheck) -> str:
    return f"{counts_words(check)}. Each stands in plan_check.csv."


def _declared(check: PlanCheck, room: Room, system: UnitSystem) -> dict[str, object]:
    """Lines of the declared areas: those that differ first, then in the order of the file."""
    rows = [row for row in check.comparisons if row.line is not None or row.source == check.declared_name]
    rows = [row for row in rows if check.declared_name]
    rows.sort(key=lambda row: row.agreement is not Agreement.DIFFERS)
    return {
        "file": cut(check.declared_name, 60),
        "rows": [_declared_row(row, room, system) for row in rows[: room.lines]],
        "more": more(rows[room.lines :], "comparisons", "plan_check.csv"),
    }


def _declared_row(row: Comparison, room: Room, system: UnitSystem) -> list[str]:
    return [
        "" if row.line is None else str(row.line),
        room.named(row.scope, 42),
        row.subject,
        unbroken(figure(row.declared, row.unit, system)) or "nothing",
        unbroken(figure(row.found, row.unit, system)),
        AGREEMENTS[row.agreement],
        room.told(row.reason, LONGEST_REASON),
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
        reason = f" ({cut(differing[0].reason, 320)})" if differing and differing[0].reason else ""
        rows.append([cut(source), *(str(counts[each]) for each in Agreement), cut(names, 240) + reason])
    rows.sort(key=lambda row: row[2] == "0")
    return {"rows": rows[:most], "more": more(rows[most:], "sources", "plan_check.csv")}


def _findings(check: PlanCheck, room: Room, system: UnitSystem) -> dict[str, object]:
    """What to look at, worst first, findings of one code together."""
    groups: dict[str, list[Finding]] = {}
    for finding in check.to_look_at:
        groups.setdefault(finding.code, []).append(finding)
    walls = {result.wall.wall_id: result.wall.name for result in check.takeoff.results}
    rows = [_finding_row(group, walls, room, system) for group in groups.values()]
    return {"rows": rows[: room.findings], "more": more(rows[room.findings :], "kinds of finding", "findings.csv")}


def _finding_row(group: Sequence[Finding], walls: Mapping[str, str], room: Room, system: UnitSystem) -> list[str]:
    first = group[0]
    words = first.code.replace("-", " ").replace("u value", "U-value")
    count = f" ({len(group)})" if len(group) > 1 else ""
    measured = figure(first.measured, first.unit, system)
    limit = figure(first.limit, first.unit, system)
    numbers = f"{unbroken(measured)} against {unbroken(limit)}" if measured and limit else unbroken(measured)
    name = first.element_name or walls.get(first.wall_id, "") or first.element_id
    return [words + count, room.named(name, 40), numbers, cut(first.message, 400)]


# ---------------------------------------------------------------- what it rests on


def _few_notes(notes: Sequence[str], most: int) -> list[str]:
    """The first notes, and how many there are beyond."""
    if len(notes) <= most:
        return list(notes)
    rest = len(notes) - most + 1
    return [*notes[: most - 1], f"{rest} more reasons why a wall has no U-value: wall_values.csv, findings.csv."]


def films_words(check: PlanCheck, system: UnitSystem) -> str:
    """The surface films that the U-values were worked out with, each pair once, the most used first."""
    used = Counter(part.heat.films for part in check.envelope.parts if part.governing is not None and part.heat.films)
    words = []
    for (inside, outside), count in used.most_common():
        pair = f"{format_resistance(inside.resistance, system)} and {format_resistance(outside.resistance, system)}"
        lengths = "length" if count == 1 else "lengths"
        words.append(f"{pair} for {count} {lengths} of wall ({outside.reason})")
    sources = "; ".join(dict.fromkeys(film.source for films in used for film in films))
    return f"Surface films, inner and outer face: {'; '.join(words)}. Source: {sources}. " if words else ""


def _notes(model: Model, check: PlanCheck, system: UnitSystem) -> list[str]:
    """Assumptions with their sources, the most telling first."""
    job = check.takeoff.job
    fill = fill_of(job, FramingFacts("", False))
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
    air = job.thermal.air_layers.replace("_", " ")
    notes.append(f"{films_words(check, system)}Air layers: {air} unless the model calls them ventilated.")
    notes.append(
        f"Framing is what stands in the walls (modelled, or laid out by rule), each cavity counts with its own depth. "
        f"Installation grade {grade_of(job)}. Areas are those of the stud layer, openings deducted. Walls alone: no "
        "windows, doors, roofs or floors, and no thermal bridges where walls meet them or each other."
    )
    if any(part.heat.steel for part in check.envelope.parts):
        notes.append("Of steel studs the framing fraction counts the metal only; their U-values follow stud spacing.")
    reasons = Counter(part.heat.reason for part in check.envelope.parts if part.governing is None)
    notes += [
        f"No U-value for {plural(count, 'length')} of wall: {cut(reason, 320)}" for reason, count in reasons.items()
    ]
    return notes
