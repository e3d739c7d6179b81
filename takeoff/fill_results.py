"""The fill plan of a whole takeoff, made once, and cavities that say of their filling what the plan says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from takeoff.fill import FillPlan, fill_place, joined_plans, plan_layer
from takeoff.hose import HoseSettings
from takeoff.model import LayerTakeoff, WallTakeoff
from takeoff.wall_faults import WALL_FAULTS, failed, fault_text


def with_fill(results: Sequence[WallTakeoff], hose: HoseSettings) -> tuple[tuple[WallTakeoff, ...], FillPlan]:
    """The results with the plan's method, reason and findings in them, and the plan itself, in their order.

    The plan is where it is decided how a cavity is filled: from here on no table says anything else. A wall whose plan
    fails is reported as failed, and the others go on.
    """
    planned: list[WallTakeoff] = []
    plans: list[FillPlan] = []
    for result in results:
        try:
            own = [plan_layer(layer.cavities, fill_place(result.wall, layer), hose) for layer in result.layers]
            layers = tuple(_told(layer, plan) for layer, plan in zip(result.layers, own, strict=True))
        except WALL_FAULTS as fault:
            planned.append(failed(result.wall, fault_text("its holes could not be placed", fault)))
            continue
        plans += own
        planned.append(replace(result, layers=layers) if layers else result)
    return tuple(planned), joined_plans(plans, hose)


def _told(layer: LayerTakeoff, plan: FillPlan) -> LayerTakeoff:
    cavities = tuple(
        replace(cavity, method=fill.method, reason=fill.reason)
        for cavity, fill in zip(layer.cavities, plan.cavities, strict=True)
    )
    return replace(layer, cavities=cavities, findings=(*layer.findings, *plan.findings))
