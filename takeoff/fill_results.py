"""The fill plan of a whole takeoff, made once, and cavities that say of their filling what the plan says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from takeoff.fill import CavityFill, FillPlan, HandFill, Hole, joined_plans, plan_layer
from takeoff.fill_place import fill_place
from takeoff.hose import HoseSettings
from takeoff.model import LayerTakeoff, WallTakeoff
from takeoff.records import with_values
from takeoff.wall_faults import WALL_FAULTS, failed, fault_text


@dataclass(frozen=True, slots=True, eq=False)
class PlannedWall:
    """A wall's result with its plan told in it, and the plans of its stud layers."""

    result: WallTakeoff
    plans: tuple[FillPlan, ...] = ()


def planned(result: WallTakeoff, hose: HoseSettings, floors: Sequence[float] = ()) -> PlannedWall:
    """The result with the plan's method, reason and findings in it, and the plan of each of its stud layers.

    floors: m, elevations of all storeys.

    The plan is where it is decided how a cavity is filled: from here on no table says anything else. A wall whose plan
    fails is reported as failed.
    """
    try:
        own = tuple(plan_layer(layer.cavities, fill_place(result.wall, layer, floors), hose) for layer in result.layers)
        layers = tuple(_told(layer, plan) for layer, plan in zip(result.layers, own, strict=True))
    except WALL_FAULTS as fault:
        return PlannedWall(failed(result.wall, fault_text("its holes could not be placed", fault)))
    return PlannedWall(replace(result, layers=layers), own) if layers else PlannedWall(result)


def plan_of(walls: Sequence[PlannedWall], hose: HoseSettings) -> FillPlan:
    """The plans of all walls as one, in their order."""
    return joined_plans([plan for wall in walls for plan in wall.plans], hose)


def plans_by_walls(plan: FillPlan, groups: Sequence[Sequence[WallTakeoff]]) -> list[FillPlan]:
    """The cavities, holes and hand fills of a plan, apart for each group of walls; rows and findings stay behind."""
    group_of = {
        cavity.cavity_id: number
        for number, group in enumerate(groups)
        for result in group
        for layer in result.layers
        for cavity in layer.cavities
    }
    made: list[tuple[list[CavityFill], list[Hole], list[HandFill]]] = [([], [], []) for _ in groups]
    for kind, pieces in enumerate((plan.cavities, plan.holes, plan.hand_fills)):
        for piece in pieces:
            made[group_of[piece.cavity_id]][kind].append(piece)  # type: ignore[arg-type]
    return [FillPlan(plan.hose, tuple(a), tuple(b), tuple(c), (), ()) for a, b, c in made]


def _told(layer: LayerTakeoff, plan: FillPlan) -> LayerTakeoff:
    methods, reasons = [fill.method for fill in plan.cavities], [fill.reason for fill in plan.cavities]
    cavities = with_values(layer.cavities, method=methods, reason=reasons)
    return replace(layer, cavities=cavities, findings=(*layer.findings, *plan.findings))
