"""The result of one takeoff: frozen records, with tables and pandas frames made from them on demand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import TYPE_CHECKING

from takeoff.building import Model
from takeoff.columns import frame
from takeoff.fill import FillPlan
from takeoff.fill_order import Preparation
from takeoff.fill_results import PlannedWall, plan_of, plans_by_walls
from takeoff.finding import Finding
from takeoff.finding_places import located
from takeoff.hole_tables import HAND_FILLS, HOLES, hand_fill_rows
from takeoff.job import Assumption, Job, hose_settings
from takeoff.model import WallTakeoff
from takeoff.piece_tables import CAVITIES, MEMBERS, OPENINGS, cavity_rows, member_rows, opening_rows
from takeoff.preparation_tables import PREPARATIONS
from takeoff.preparations import meets_of, prepared
from takeoff.schedule_basis import Basis, BasisSources, schedule_basis
from takeoff.tables import FINDINGS, FilledTable, filled_tables
from takeoff.wall_tables import BUILD_UP, STUD_LAYERS, WALLS, build_up_rows, layer_rows

if TYPE_CHECKING:
    import pandas

    from takeoff.price_book import PriceBook

Progress = Callable[[str, int, int], None]
"""Called as the work goes on: name of the step, how many walls are done, how many there are (0 if not known yet)."""


@dataclass(frozen=True, slots=True, eq=False)
class Takeoff:
    """Everything that came out of one model and one job file.

    The frames are made anew each time they are asked for; columns and units are those of the schemas in
    `takeoff.tables`, which the CSV files follow too.
    """

    model_name: str
    """File name of the model, without its folder."""
    project_name: str
    schema: str
    """IFC schema of the model file."""
    length_unit: str
    """As the model file names it."""
    length_unit_m: float
    """m"""
    results: tuple[WallTakeoff, ...]
    """One for each wall of the model, by storey elevation, then as in the model file."""
    findings: tuple[Finding, ...]
    """All: the model's first, then each wall's."""
    assumptions: tuple[Assumption, ...]
    job: Job
    fill: FillPlan
    """What is filled how and where the holes go, by the hose of the job file; cavities say the same."""
    preparations: tuple[Preparation, ...] = ()
    """What is done before the netting goes up, in the order of the cavities."""
    true_north: tuple[float, float] | None = None
    """World xy direction of true north; None where the model does not say."""

    @property
    def walls(self) -> pandas.DataFrame:
        """One row per wall of the model (walls.csv)."""
        return frame(WALLS, self.results)

    @property
    def cavities(self) -> pandas.DataFrame:
        """One row per cavity, sliver and opening gap (cavities.csv)."""
        return frame(CAVITIES, cavity_rows(self.results))

    @property
    def members(self) -> pandas.DataFrame:
        """One row per member or obstruction (members.csv)."""
        return frame(MEMBERS, member_rows(self.results))

    @property
    def openings(self) -> pandas.DataFrame:
        """One row per opening of a stud layer (openings.csv)."""
        return frame(OPENINGS, opening_rows(self.results))

    @property
    def stud_layers(self) -> pandas.DataFrame:
        """One row per stud layer (stud_layers.csv)."""
        return frame(STUD_LAYERS, layer_rows(self.results))

    @property
    def build_up(self) -> pandas.DataFrame:
        """One row per material layer of a framed wall (build_up.csv)."""
        return frame(BUILD_UP, build_up_rows(self.results))

    @property
    def findings_table(self) -> pandas.DataFrame:
        """One row per finding (findings.csv)."""
        return frame(FINDINGS, self.findings)

    @property
    def holes(self) -> pandas.DataFrame:
        """One row per hole in the netting (holes.csv)."""
        return frame(HOLES, self.fill.holes)

    @property
    def hand_fills(self) -> pandas.DataFrame:
        """One row per cavity, or part of one, that is not blown (hand_fills.csv)."""
        return frame(HAND_FILLS, hand_fill_rows(self.fill.hand_fills))

    @property
    def preparations_table(self) -> pandas.DataFrame:
        """One row per thing to do before the netting (preparations.csv)."""
        return frame(PREPARATIONS, self.preparations)

    def schedule(self, book: PriceBook | None = None) -> pandas.DataFrame:
        """One row per material to buy (schedule.csv); packages are those of a price book, unknown without one."""
        # Only here: a takeoff loads neither price book nor labour, which cost it 0.05 s.
        from takeoff.labour_days import work_plan
        from takeoff.schedule_tables import SCHEDULE, LineRow

        lines = work_plan(self.schedule_basis(), self.job, book).schedule.lines
        return frame(SCHEDULE, [LineRow(line, self.job.report.units) for line in lines])

    def schedule_basis(self) -> Basis:
        """Plain rows from which materials, labour and price follow: what `takeoff.pricing` takes."""
        sources = BasisSources(
            self.model_name, self.project_name, self.results, self.findings, self.fill, self.preparations
        )
        return schedule_basis(sources)

    def parts(self, walls: int) -> list[Takeoff]:
        """The takeoff cut into parts of so many walls each, in order, every part with its own share of the fill plan
        and the preparations.

        Findings stay with the whole. A large model can so be written part by part.
        """
        stops = range(0, len(self.results), walls)
        parts = [self.results[first : first + walls] for first in stops]
        before: dict[str, list[Preparation]] = {}
        for item in self.preparations:
            before.setdefault(item.layer_key, []).append(item)
        return [
            replace(
                self,
                results=part,
                findings=(),
                fill=plan,
                preparations=tuple(
                    item for wall in part for layer in wall.layers for item in before.get(layer.frame.layer.key, ())
                ),
            )
            for part, plan in zip(parts, plans_by_walls(self.fill, parts), strict=True)
        ]

    def tables(self) -> dict[str, FilledTable]:
        """Every table by name, its cells as files hold them; made without pandas."""
        return filled_tables(self.results, self.findings, self.fill, self.preparations)


def gathered(model: Model, walls: Sequence[PlannedWall], job: Job, assumptions: Sequence[Assumption]) -> Takeoff:
    """The takeoff of a model from its walls' results: sorts them and gathers every finding once."""
    ordered = in_order(walls)
    results = tuple(wall.result for wall in ordered)
    plan = plan_of(ordered, hose_settings(job))
    preparations, told = prepared(results, plan, meets_of(model, job.preparations))
    return Takeoff(
        model_name=PurePath(model.path).name,
        project_name=model.project_name,
        schema=model.schema,
        length_unit=model.length_unit,
        length_unit_m=model.length_unit_m,
        results=results,
        findings=located((*all_findings(model.findings, results), *told), model, results),
        assumptions=tuple(assumptions),
        job=job,
        fill=plan,
        preparations=preparations,
        true_north=model.true_north if model.true_north_stated else None,
    )


def in_order(walls: Sequence[PlannedWall]) -> tuple[PlannedWall, ...]:
    """Walls by storey elevation, those without one last, else in the order given (that of the model file)."""

    def rank(planned: PlannedWall) -> tuple[bool, float]:
        elevation = planned.result.wall.storey_elevation
        return elevation is None, elevation or 0.0

    return tuple(sorted(walls, key=rank))


def all_findings(model_findings: Sequence[Finding], results: Sequence[WallTakeoff]) -> tuple[Finding, ...]:
    """Findings of the model, then wall by wall of the reading, the wall, its frames and its layers; each once."""
    found = dict.fromkeys(model_findings)
    for result in results:
        found.update(dict.fromkeys(result.wall.findings))
        found.update(dict.fromkeys(result.findings))
        for layer in result.layers:
            found.update(dict.fromkeys(layer.frame.findings))
            found.update(dict.fromkeys(layer.findings))
    return tuple(found)
