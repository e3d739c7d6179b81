"""Crew sheets: one PDF with a cover and a sheet for every stud layer with work, and each elevation as a file.

The drawings are our own primitives written as SVG; typst lays out the pages. Texts reach it as JSON, never as source,
so that no name in a model can act as markup.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from reports.crew_cover import CoverFacts, cover_texts, sheet_order, wall_name
from reports.crew_layers import LayerPlan, layer_plans
from reports.crew_pages import HEAD, PAPERS, Layout, Page, PaperName, lay_out, lines_height, pages
from reports.crew_plan import PlanView, storey_plan, turn_of
from reports.crew_rows import (
    SheetFacts,
    before_netting,
    cavity_table,
    closing_words,
    netting_cells,
    netting_words,
    room_words,
    sheet_facts_line,
    where,
)
from reports.drawing import Drawing
from reports.drawing_dxf import has_dxf, to_dxf
from reports.drawing_svg import to_svg
from reports.drawing_text import FONT_FOLDER, is_covered
from reports.elevation_shapes import wall_shapes
from reports.elevations import ElevationSize, elevation
from takeoff.density import sampling_plan
from takeoff.errors import TakeoffError
from takeoff.fill import FillPlan
from takeoff.fill_order import Step, order_work
from takeoff.model import Cavity
from takeoff.netting_lines import netting_lines
from takeoff.result import Takeoff
from takeoff.shares import in_shares
from takeoff.truck_load import density_table, fastening_of, job_masses, truck_load

TEMPLATE = Path(__file__).parent / "data" / "crew_sheets.typ"
PDF_NAME = "crew_sheets.pdf"
ELEVATIONS = "elevations"
PLAN_HEIGHT = 105.0
"""mm, most of a page that the plan of one storey takes."""


class CrewSheetError(TakeoffError):
    """The sheets could not be made."""


@dataclass(frozen=True, slots=True, eq=False)
class CrewWork:
    """A takeoff with everything that the sheets need of its fill."""

    takeoff: Takeoff
    plan: FillPlan
    steps: tuple[Step, ...]
    plans: Mapping[str, LayerPlan]
    sheets: Mapping[str, int]
    """Sheet number by key of the stud layer, in order of work."""
    cover: CoverFacts
    facts: SheetFacts


def crew_work(takeoff: Takeoff) -> CrewWork:
    """Plans the fill of a takeoff with the hose and fibre of its job, and numbers the sheets in order of work."""
    results, job = takeoff.results, takeoff.job
    plan = takeoff.fill
    steps = order_work(plan, results, takeoff.preparations)
    plans = layer_plans(plan, results, takeoff.preparations)
    sheets = sheet_order(steps, plans)
    cavities: list[Cavity] = [cavity for wall in results for layer in wall.layers for cavity in layer.cavities]
    masses = job_masses(plan, cavities, job)
    cores = sampling_plan(plan, cavities, job.fibre.name, table=density_table(job))
    cover = CoverFacts(
        takeoff, plans, sheets, steps, truck_load(plan, results, job, preparations=takeoff.preparations), masses, cores
    )
    checked = {core.cavity_id: core for core in cores}
    facts = SheetFacts(job.report.units, masses, checked, takeoff.preparations, plan.hose.ladder_reach)
    return CrewWork(takeoff, plan, steps, plans, sheets, cover, facts)


# ---------------------------------------------------------------- what is drawn and written


def sheet_layout(work: CrewWork, key: str, paper: PaperName) -> Layout:
    """The sheet of one stud layer laid out: page, elevation at its scale, table in blocks."""
    plan = work.plans[key]
    title = f"Sheet {work.sheets[key]}: {wall_name(plan)}, {where(plan)}"
    before = before_netting(plan, work.facts)
    netted = 14.0 if plan.holes else 0.0
    wall = wall_shapes(plan)

    def draw(page: Page, scale: float) -> Drawing | None:
        size = ElevationSize(page.width, scale)
        if 1000.0 * wall.length / scale > size.room or 1000.0 * wall.height / scale > 0.72 * page.height - HEAD:
            return None
        return elevation(wall, size, work.facts.system, title)

    def lists(page: Page) -> float:
        rooms = room_words(plan)
        first = lines_height(before, page.width - 6.0) + 6.0 if before else 0.0
        return first + netted + (lines_height([rooms], page.width) if rooms else 0.0)

    return lay_out(paper, draw, lists, cavity_table(plan, work.facts))


def sheet_texts(work: CrewWork, key: str, layout: Layout) -> dict[str, object]:
    """One sheet as the template takes it."""
    plan, system = work.plans[key], work.facts.system
    lines = netting_lines(plan.layer) if plan.holes else None
    return {
        "number": str(work.sheets[key]),
        "wall": wall_name(plan),
        "where": where(plan),
        "facts": sheet_facts_line(plan, work.facts),
        "id": key,
        "landscape": layout.page.landscape,
        "svg": to_svg(layout.drawing),
        "width": layout.drawing.width,
        "before": before_netting(plan, work.facts),
        "netting": netting_cells(lines, system) if lines else [],
        "netting_words": netting_words(fastening_of(plan.layer, lines, work.takeoff.job), work.takeoff.job)
        if lines
        else "",
        "rooms": room_words(plan),
        "closing": closing_words(plan),
        "columns": layout.page.columns,
        "blocks": [
            {"new_page": block.new_page, "columns": block.columns, "row_height": block.row_height}
            for block in layout.blocks
        ],
    }


def storey_drawings(work: CrewWork, paper: PaperName) -> list[Drawing]:
    """A plan of every storey that has a sheet, lowest first."""
    storeys: dict[str, list[LayerPlan]] = {}
    for plan in work.plans.values():
        storeys.setdefault(plan.wall.wall.storey, []).append(plan)
    room = pages(paper)[0].width, PLAN_HEIGHT
    view = PlanView(room, turn_of(list(work.plans.values())), work.facts.system, work.takeoff.true_north)
    return [
        storey_plan(plans, work.sheets, view, storey or "no storey")
        for storey, plans in storeys.items()
        if any(plan.key in work.sheets for plan in plans)
    ]


def elevation_files(work: CrewWork, drawings: Mapping[str, Drawing], processes: int = 1) -> dict[str, bytes]:
    """Elevations of all stud layers by file name: SVG, and DXF where its library is installed.

    drawings: those of the sheets by key; walls with nothing to fill are drawn here, upright A4 wide. processes: among
    how many the work is shared out.
    """
    keys = list(work.plans)
    unfilled = [key for key in keys if key not in drawings]
    numbers = {key: f"unfilled-{number:03d}" for number, key in enumerate(unfilled, start=1)}
    numbers |= {key: f"{number:03d}" for key, number in work.sheets.items()}

    def written(index: int) -> dict[str, bytes]:
        plan = work.plans[keys[index]]
        drawing = drawings.get(plan.key) or _plain_elevation(work, plan)
        name = f"{numbers[plan.key]}-{_slug(wall_name(plan))}"
        files = {f"{name}.svg": to_svg(drawing).encode("utf-8", "replace")}
        return {**files, f"{name}.dxf": to_dxf(drawing)} if has_dxf() else files

    return dict(sorted(item for files in in_shares(written, len(keys), processes) for item in files.items()))


def _plain_elevation(work: CrewWork, plan: LayerPlan) -> Drawing:
    page = pages("a4")[0]
    wall = wall_shapes(plan)
    size = ElevationSize.fitting(wall, page.width, 0.5 * page.height)
    return elevation(wall, size, work.facts.system, f"{wall_name(plan)}, {where(plan)}: nothing to fill")


def _slug(name: str) -> str:
    """Letters, digits and hyphens, so that the name is one of a file everywhere."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40].rstrip("-") or "wall"


def crew_sheet_files(takeoff: Takeoff, paper: PaperName = "a4", processes: int = 1) -> dict[str, bytes]:
    """The sheets and elevations of a takeoff, by path within a folder. Same takeoff, same bytes.

    processes: among how many the drawing is shared out. Raises CrewSheetError where the paper is unknown or the page
    layout program is missing or fails.
    """
    paper = _known_paper(paper)
    work = crew_work(takeoff)
    keys = list(work.sheets)
    laid_out = in_shares(lambda number: sheet_layout(work, keys[number], paper), len(keys), processes)
    layouts = dict(zip(keys, laid_out, strict=True))
    data = {
        "project": takeoff.project_name or takeoff.model_name,
        "model": takeoff.model_name,
        "paper": PAPERS[paper],
        "cover": cover_texts(work.cover),
        "plans": [
            {"storey": each.title, "svg": to_svg(each), "width": each.width} for each in storey_drawings(work, paper)
        ],
        "sheets": [sheet_texts(work, key, layout) for key, layout in layouts.items()],
    }
    drawings = {key: layout.drawing for key, layout in layouts.items()}
    elevations = {f"{ELEVATIONS}/{name}": file for name, file in elevation_files(work, drawings, processes).items()}
    return {PDF_NAME: _pdf(data), **elevations}


def _known_paper(paper: str) -> PaperName:
    for known in PAPERS:
        if paper.lower() == known:
            return known
    raise CrewSheetError(f"paper {paper!r} is unknown: write one of {', '.join(PAPERS)}")


def _pdf(data: Mapping[str, object]) -> bytes:
    try:
        import typst
    except ImportError as error:
        raise CrewSheetError("crew sheets need the package typst: install it with 'pip install typst'") from error
    text = json.dumps(data, ensure_ascii=False)
    compiled = partial(
        typst.compile,
        str(TEMPLATE),
        format="pdf",
        font_paths=[str(FONT_FOLDER)],
        # Fonts of the machine serve only for scripts that ours does not have: else the same bytes everywhere.
        ignore_system_fonts=is_covered(text),
    )
    try:
        made = compiled(sys_inputs={"data": text})
    except typst.TypstError as error:
        raise CrewSheetError(f"the crew sheets could not be laid out: {' '.join(str(error).split())[:200]}") from error
    if not isinstance(made, bytes):
        raise CrewSheetError("the crew sheets could not be laid out: the page layout program gave no document")
    return made
