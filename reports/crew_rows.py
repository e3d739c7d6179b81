"""What one crew sheet says besides its drawing, as texts ready for the template."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reports.crew_layers import LayerPlan, cavity_number
from reports.crew_pages import Row
from reports.crew_reasons import grouped, number_list
from reports.summary import plural
from takeoff.density import CavityMass, Core
from takeoff.fill import Pass
from takeoff.fill_order import Preparation, PreparationKind
from takeoff.framing.non_members import is_framing_of_another
from takeoff.job import Job
from takeoff.model import Cavity, MemberRole, Method, Source
from takeoff.netting_lines import NettingLines
from takeoff.preparations import is_box
from takeoff.truck_load import Fastening
from takeoff.units import UnitSystem, format_area, format_length, format_mass, format_volume

BEFORE = {
    PreparationKind.BEFORE_SHEATHING: ("Before sheathing, fill", ""),
    PreparationKind.EAVE_BAFFLE: ("Set eave baffles", " over"),
    PreparationKind.BLOCKER: ("Set blockers", " at"),
    PreparationKind.CEILING: ("Mind the ceiling", " at"),
    PreparationKind.BOX: ("Mind the boxes", " in"),
    PreparationKind.HAND_FILL: ("Batt by hand", ""),
    PreparationKind.SEAL: ("Seal", ""),
}
"""What is done, and what stands before the numbers of the cavities; in the order in which it is done."""
OF_PARTS = (PreparationKind.BEFORE_SHEATHING, PreparationKind.HAND_FILL, PreparationKind.SEAL)
"""What may be done to a part of a cavity only."""
LOOK = (
    "Look for what no model shows: a vented eave (set baffles), a cavity open to another space or a soffit (set "
    "blockers), wiring, boxes, leaks."
)

TABLE_WORDS = {
    Method.BLOW: "blow",
    Method.BATT: "by hand",
    Method.SEAL: "seal",
    Method.BEFORE_SHEATHING: "hidden",
    Method.NONE: "nothing",
}
"""As the legend has them, short."""


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """What the rows of a sheet are made of besides its layer."""

    system: UnitSystem
    masses: Mapping[str, CavityMass]
    cores: Mapping[str, Core]
    """Cavities that are to be checked, by id."""
    preparations: Sequence[Preparation]
    ladder_reach: float
    """m above the floor"""


def shown(text: str) -> str:
    """Areas and volumes with raised digits, as the template's font has them."""
    return text.replace("m3", "m³").replace("ft3", "ft³").replace("m2", "m²").replace("ft2", "ft²")


# ---------------------------------------------------------------- before the netting


def before_netting(plan: LayerPlan, facts: SheetFacts) -> list[str]:
    """What has to be done first, a line each: blockers, baffles, hand-filled and sealed places, things in the way."""
    lines: list[str] = []
    here = [item for item in facts.preparations if item.layer_key == plan.key]
    for kind, (words, at) in BEFORE.items():
        items = [item for item in here if item.kind is kind]
        named = [(item.cavity_id, _reason(item, plan)) for item in items if item.cavity_id]
        lines += [f"{words}{at} {numbers}: {reason}" for numbers, reason in grouped(named, facts.system)]
        lines += [f"{words}: {item.reason}" for item in items if not item.cavity_id]
    lines += _in_the_way(plan)
    high = [hole.height for hole in plan.holes if hole.height > facts.ladder_reach + 1e-9]
    if high:
        top, reach = format_length(max(high), facts.system), format_length(facts.ladder_reach, facts.system)
        lines.append(
            f"Bring a scaffold or lift: {plural(len(high), 'hole')} up to {top} above the floor, more than the {reach} "
            "that a ladder or stilts reach"
        )
    if plan.holes:
        lines.append(LOOK)
    return [shown(line) for line in lines]


def _reason(item: Preparation, plan: LayerPlan) -> str:
    """The reason, and that only a part is meant where the rest of the cavity is blown."""
    fill = plan.fills.get(item.cavity_id)
    part = fill is not None and fill.n_holes > 0 and item.kind in OF_PARTS
    return f"{item.reason} (crossed part)" if part else item.reason


def _in_the_way(plan: LayerPlan) -> list[str]:
    """Obstructions with the cavities that they stand in; boxes at the face are told among the preparations, and framing
    of a neighbouring wall, such as a plate that laps over this one, closes its gap and needs no fill around it."""
    names = {
        member.member_id: member.element_name or member.element_class.removeprefix("Ifc") or member.member_id
        for member in plan.layer.frame.members
        if member.role is MemberRole.OBSTRUCTION
    }
    layer = plan.layer.frame.layer
    framing = {part.global_id for part in layer.parts if is_framing_of_another(part, layer.wall_id)}
    aside = {m.member_id for m in plan.layer.frame.members if is_box(m) or m.element_id in framing}
    touched: dict[str, list[str]] = {}
    for cavity in plan.cavities:
        for obstruction in cavity.obstructions:
            if obstruction not in aside:
                touched.setdefault(names.get(obstruction, obstruction), []).append(cavity_number(cavity.cavity_id))
    return [f"Check, protect and fill around in {number_list(at)}: {name}" for name, at in touched.items()]


# ---------------------------------------------------------------- netting


def netting_cells(lines: NettingLines, system: UnitSystem) -> list[tuple[str, str]]:
    """Words and value of the netting's area and lines."""

    def length(metres: float) -> str:
        return format_length(metres, system, decimal=True)

    return [
        ("netting area", shown(format_area(lines.area, system))),
        ("top plate", length(lines.top_plate)),
        ("bottom plate", length(lines.bottom_plate)),
        ("ends", length(lines.ends)),
        ("around openings", length(lines.openings)),
        (plural(lines.n_stud_lines, "stud line"), length(lines.stud_lines)),
        ("all lines", length(lines.total)),
    ]


def netting_words(held: Fastening, job: Job) -> str:
    """How the netting of one stud layer is fastened, the one way that holds for it, and how many staples."""
    system, netting = job.report.units, job.netting
    number = plural(held.staples, "staple")
    if held.glued_length:
        every = format_length(netting.glued_staple_spacing, system)
        line = format_length(held.glued_length, system, decimal=True)
        way = f"Glue along all lines, {line}; staple the top plate about every {every}, {number}."
        if netting.fastening != "glue":
            way = (
                f"Steel studs: glue along all lines, {line}, never staple them; hold the top edge about every {every}, "
                f"{number} where the top plate takes them."
            )
    else:
        way = f"Staple along all lines about every {format_length(netting.staple_spacing, system)}, {number}."
    return f"{way} Common practice; the instructions of the netting go first."


# ---------------------------------------------------------------- cavities


def cavity_table(plan: LayerPlan, facts: SheetFacts) -> list[Row]:
    """Rows of the table, by number."""
    return [_cavity_row(cavity, plan, facts) for cavity in plan.cavities]


def room_words(plan: LayerPlan) -> str:
    """Which cavities belong to which room, where there is more than one."""
    rooms: dict[str, list[str]] = {}
    for cavity in plan.cavities:
        rooms.setdefault(cavity.room or "no named room", []).append(cavity_number(cavity.cavity_id))
    if len(rooms) < 2:
        return ""
    return "; ".join(f"{room}: {number_list(numbers)}" for room, numbers in rooms.items())


def _cavity_row(cavity: Cavity, plan: LayerPlan, facts: SheetFacts) -> Row:
    system = facts.system
    x0, z0, x1, z1 = cavity.outline.bounds
    fill = plan.fills.get(cavity.cavity_id)
    mass = facts.masses.get(cavity.cavity_id)
    method = fill.method if fill is not None else cavity.method
    words = TABLE_WORDS[method]
    if fill is not None and fill.n_holes and fill.hand_volume > 0.0:
        words += " + hand"
    if cavity.cavity_id in facts.cores:
        words += ", weigh"
    return {
        "tick": "" if method is Method.NONE else "yes",
        "number": cavity_number(cavity.cavity_id),
        "width": format_length(x1 - x0, system),
        "height": format_length(z1 - z0, system),
        "depth": format_length(cavity.y_max - cavity.y_min, system),
        "volume": shown(format_volume(cavity.volume, system)),
        "mass": format_mass(mass.mass, system) if mass else "",
        "holes": str(fill.n_holes) if fill is not None and fill.n_holes else "",
        "method": words,
    }


# ---------------------------------------------------------------- head


def sheet_facts_line(plan: LayerPlan, facts: SheetFacts) -> str:
    """What kind of wall it is, where its frame is from, and what goes into it."""
    layer = plan.layer.frame.layer
    frame = plan.layer.frame
    origin = (
        "frame from the model"
        if frame.source is Source.MODELLED
        else f"frame laid out by rule ({frame.rule}): check on site"
    )
    blown = [fill for fill in plan.fills.values() if fill.n_holes]
    volume = sum(fill.blown_volume for fill in blown)
    mass = sum(facts.masses[fill.cavity_id].mass for fill in blown)
    lower = sum(hole.fill_pass is Pass.LOWER for hole in plan.holes)
    pieces = [f"Stud depth {format_length(layer.depth, facts.system)}", origin]
    if blown:
        holes = f"{lower} lower and {plural(len(plan.holes) - lower, 'upper hole')}"
        pieces.append(
            f"{plural(len(blown), 'cavity')} to blow, {shown(format_volume(volume, facts.system))}, "
            f"{format_mass(mass, facts.system)}, {holes}"
        )
    else:
        pieces.append("nothing to blow")
    return "; ".join(pieces)


def closing_words(plan: LayerPlan) -> list[str]:
    """What is ticked when the sheet is done."""
    passes = {hole.fill_pass for hole in plan.holes}
    words = ["hand work done"] if plan.hand_fills else []
    words += [f"{each} pass" for each in Pass if each in passes]
    return [*words, "density checked", "holes closed"] if plan.holes else words


def where(plan: LayerPlan) -> str:
    """Storey and rooms of a sheet."""
    rooms = dict.fromkeys(cavity.room for cavity in plan.cavities if cavity.room)
    names = ", ".join(rooms) or ", ".join(plan.layer.frame.layer.rooms)
    return ", ".join(each for each in (plan.wall.wall.storey, names) if each)
