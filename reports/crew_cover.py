"""The cover of the crew sheets: order of work, load list, cautions, plans, list of sheets, density check."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reports.cautions import CAUTIONS, FIRST
from reports.crew_layers import LayerPlan, cavity_number, height_words
from reports.crew_reasons import number_list
from reports.crew_rows import shown, where
from reports.summary import plural
from takeoff.density import CavityMass, Core
from takeoff.fill import Pass
from takeoff.fill_order import Step, Task
from takeoff.job import Job
from takeoff.model import Status
from takeoff.result import Takeoff
from takeoff.truck_load import TruckLoad
from takeoff.units import (
    UnitSystem,
    format_area,
    format_density,
    format_length,
    format_mass,
    format_small_mass,
    format_volume,
)

WEAR = (
    "Closed goggles; particle mask or respirator that fits; gloves, long sleeves and a cap against fibre.",
    "Hearing protection at the blowing machine; its guards on, plug pulled before anyone reaches into it.",
    "Ladder or stilts in good order; a second person where holes stand over stairs or openings.",
    "Eye wash, first aid kit and fire extinguisher at hand; fibre swept up as the work goes on.",
)
"""Common practice, no published source."""

STOP = (
    "Stop and ask before you cover: open wiring splices, damaged cable, leaks, wet framing, mould, a smell of gas.",
    "Never fill against a flue or a light that is not rated for it; leave ventilation paths and weep holes open.",
)
"""Common practice, no published source."""


@dataclass(frozen=True, slots=True, eq=False)
class CoverFacts:
    """What the cover is made of. sheets: number by key of the stud layer, in order of work."""

    takeoff: Takeoff
    plans: Mapping[str, LayerPlan]
    sheets: Mapping[str, int]
    steps: Sequence[Step]
    load: TruckLoad
    masses: Mapping[str, CavityMass]
    cores: Sequence[Core]

    @property
    def system(self) -> UnitSystem:
        """Units of the report."""
        return self.takeoff.job.report.units


def cover_texts(facts: CoverFacts) -> dict[str, object]:
    """Everything on the cover but the plans, as texts for the template."""
    return {
        "first": FIRST,
        "wear": list(WEAR),
        "cautions": [*CAUTIONS, *STOP],
        "job": job_lines(facts.takeoff.job, facts.system),
        "order": order_rows(facts),
        "load": load_rows(facts.load, facts.system),
        "batts": batt_rows(facts.load, facts.system),
        "sheets": sheet_rows(facts),
        "cores": core_rows(facts),
        "missing": missing_lines(facts),
    }


def job_lines(job: Job, system: UnitSystem) -> list[str]:
    """Hose and fibre that the sheets were made for."""
    hose = job.hose
    reach = hose.short if hose.kind == "short" else hose.long
    density = format_density(job.fibre.density, system)
    return [
        shown(f"Fibre: {job.fibre.name}, design density {density}; go by the chart on the bag where it differs."),
        f"Hose: {hose.kind}, {format_length(hose.outside_diameter, system)} outside, put "
        f"{format_length(reach.insertion, system)} down into the cavity from each hole.",
        f"Holes higher than {format_length(hose.standing_reach, system)} above the floor: from a ladder or stilts.",
    ]


# ---------------------------------------------------------------- order of work


def order_rows(facts: CoverFacts) -> list[dict[str, str]]:
    """A row for what is done before sheathing on each storey, and a row for each release of rooms."""
    rows: list[dict[str, str]] = []
    releases: dict[int, list[Step]] = {}
    for step in facts.steps:
        if step.release == 0:
            rows.append(_before_row(step, facts))
        else:
            releases.setdefault(step.release, []).append(step)
    return [*rows, *(_release_row(number, steps, facts) for number, steps in releases.items())]


def _before_row(step: Step, facts: CoverFacts) -> dict[str, str]:
    places = plural(len(step.preparations), "place")
    return _order_row(
        "0", step.storey, step.rooms, _sheets(step.layer_keys, facts), f"{places} before sheathing", "", ""
    )


def _release_row(number: int, steps: Sequence[Step], facts: CoverFacts) -> dict[str, str]:
    keys = dict.fromkeys(key for step in steps for key in step.layer_keys)
    before = sum(len(step.preparations) for step in steps)
    lower, upper = (
        sum(len(step.holes) for step in steps if step.task is task) for task in (Task.LOWER_PASS, Task.UPPER_PASS)
    )
    first = plural(before, "place") if before else ""
    return _order_row(
        str(number), steps[0].storey, steps[0].rooms, _sheets(keys, facts), first, str(lower or ""), str(upper or "")
    )


def _order_row(
    number: str, storey: str, rooms: Sequence[str], sheets: str, before: str, lower: str, upper: str
) -> dict[str, str]:
    return {
        "number": number,
        "storey": storey,
        "rooms": ", ".join(room or "no named room" for room in rooms),
        "sheets": sheets,
        "before": before,
        "lower": lower,
        "upper": upper,
    }


def _sheets(keys: Sequence[str] | Mapping[str, None], facts: CoverFacts) -> str:
    return number_list(str(facts.sheets[key]) for key in keys if key in facts.sheets)


def sheet_order(steps: Sequence[Step], plans: Mapping[str, LayerPlan]) -> dict[str, int]:
    """Sheet numbers from 1 by key of the stud layer: as the work goes on, then what is only done before sheathing."""
    later = [key for step in steps if step.release for key in step.layer_keys]
    first = [key for step in steps if not step.release for key in step.layer_keys]
    rest = [key for key, plan in plans.items() if plan.has_work]
    return {key: number for number, key in enumerate(dict.fromkeys([*later, *first, *rest]), start=1)}


# ---------------------------------------------------------------- load, sheets, check


def load_rows(load: TruckLoad, system: UnitSystem) -> list[tuple[str, str]]:
    """Words and value of the load list."""

    def length(metres: float) -> str:
        return format_length(metres, system, decimal=True)

    held = load.fastening
    rows = [
        ("netting", format_area(load.netting_area, system)),
        ("fibre, in place", format_volume(load.fibre_volume, system)),
        ("fibre, mass", format_mass(load.fibre_mass, system)),
        ("staples", f"{held.staples} along {length(held.stapled_length + held.glued_top_plate)}"),
        *([("glue line of netting", length(held.glued_length))] if held.glued_length else []),
    ]
    if not load.netting_area:
        rows = [("nothing is blown", "no netting, no fibre")]
    if load.baffles.number:
        rows.append(("eave baffles", f"{plural(load.baffles.number, 'piece')}, {length(load.baffles.length)} of wall"))
    if load.blockers.number:
        pieces, area = plural(load.blockers.number, "piece"), format_area(load.blockers.area, system)
        rows.append(("blockers", f"{pieces}, {length(load.blockers.length)}, {area}"))
    return [(words, shown(value)) for words, value in rows]


def batt_rows(load: TruckLoad, system: UnitSystem) -> list[tuple[str, ...]]:
    """Batts by depth and width: pieces, length of all, longest."""
    return [
        (
            format_length(batts.depth, system),
            format_length(batts.width, system),
            str(batts.pieces),
            format_length(batts.length, system, decimal=True),
            format_length(batts.longest, system, decimal=True),
        )
        for batts in sorted(load.batts, key=lambda each: (-each.depth, -each.width))
    ]


def sheet_rows(facts: CoverFacts) -> list[dict[str, str]]:
    """The list of sheets."""
    rows: list[dict[str, str]] = []
    for key, number in facts.sheets.items():
        plan = facts.plans[key]
        blown = [fill for fill in plan.fills.values() if fill.n_holes]
        lower = sum(hole.fill_pass is Pass.LOWER for hole in plan.holes)
        rows.append(
            {
                "number": str(number),
                "wall": wall_name(plan),
                "where": where(plan),
                "cavities": str(len(blown) or ""),
                "hand": str(len(plan.hand_fills) or ""),
                "lower": str(lower or ""),
                "upper": str(len(plan.holes) - lower or ""),
                "mass": format_mass(sum(facts.masses[fill.cavity_id].mass for fill in blown), facts.system)
                if blown
                else "",
            }
        )
    return rows


def wall_name(plan: LayerPlan) -> str:
    """Name of the wall, with the number of its stud layer where it has more than one."""
    wall = plan.wall.wall
    name = wall.name or wall.type_name or wall.wall_id
    if len(plan.wall.layers) < 2:
        return name
    number = [layer.frame.layer.key for layer in plan.wall.layers].index(plan.key) + 1
    return f"{name}, stud layer {number}"


def core_rows(facts: CoverFacts) -> list[dict[str, str]]:
    """Where density is to be checked, and what each core should weigh, by sheet."""
    system = facts.system
    rows: list[tuple[int, dict[str, str]]] = []
    for core in facts.cores:
        plan = facts.plans[core.layer_key]
        sheet = facts.sheets.get(core.layer_key, 0)
        height = core.z - (plan.floor or 0.0)
        rows.append(
            (
                sheet,
                {
                    "sheet": str(sheet),
                    "cavity": cavity_number(core.cavity_id),
                    "height": height_words(height, system),
                    "diameter": format_length(core.diameter, system),
                    "depth": format_length(core.depth, system),
                    "mass": format_small_mass(core.mass, system),
                    "limits": f"{format_small_mass(core.least, system)} to {format_small_mass(core.most, system)}",
                },
            )
        )
    return [row for _, row in sorted(rows, key=lambda entry: entry[0])]


def missing_lines(facts: CoverFacts) -> list[str]:
    """Walls that have no sheet: framed but not filled, left out, failed."""
    unfilled = [wall_name(plan) for key, plan in facts.plans.items() if key not in facts.sheets]
    left = [row for row in facts.takeoff.results if row.status is Status.LEFT_OUT]
    failed = [row for row in facts.takeoff.results if row.status is Status.FAILED]
    lines: list[str] = []
    if unfilled:
        lines.append(
            f"{plural(len(unfilled), 'framed wall')} with nothing to fill (empty on the plans): {_few(unfilled)}."
        )
    if left:
        many = "is no framed wall" if len(left) == 1 else "are no framed walls"
        lines.append(f"{plural(len(left), 'wall')} that {many}; walls.csv gives the reason for each.")
    lines += [f"Could not be read: {row.wall.name or row.wall.wall_id}: {row.reason}." for row in failed]
    return lines


def _few(names: Sequence[str]) -> str:
    each = list(dict.fromkeys(names))
    return ", ".join(each[:12]) + (f" and {len(each) - 12} more" if len(each) > 12 else "")
