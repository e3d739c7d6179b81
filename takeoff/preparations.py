"""What is done before the netting goes up: hand-filled and sealed places, blockers, eave baffles, boxes, ceilings.

The fill plan knows the first two. The rest follows from what a wall meets: sides that no member closes, the eaves of
the roof, boxes in its bays, rooms lower than its bays. All of it is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.solids import bounds, silhouette
from takeoff.building import Model
from takeoff.eaves import Eave, RoofSurfaces, eaves_of, roof_surfaces, tops_at
from takeoff.fill import CavityFill, FillPlan
from takeoff.fill_order import Preparation, PreparationKind, plan_preparations
from takeoff.finding import Finding, Severity
from takeoff.framing.role_words import is_service
from takeoff.job_sections import Preparations
from takeoff.model import Cavity, LayerTakeoff, Member, MemberRole, Method, StudLayer, WallTakeoff
from takeoff.wall_faults import WALL_FAULTS, fault_text
from takeoff.wall_rules import matches

UNDER_PLATES = 0.25
"""m; a bay that ends so close under the top of its wall has nothing but plates over it."""
LARGEST_BOX = 0.6
"""m; an obstruction no larger than this in elevation that comes to the fill face is a box for wiring or the like."""
UNSAID = ("", "IfcBuildingElementProxy", "IfcDiscreteAccessory")
"""Classes that do not say what an element is."""
AT_FACE = 0.02
"""m from the fill face."""
NARROWEST_BAFFLE = 0.05
"""m; a baffle over less of a bay is that of the next bay."""


@dataclass(frozen=True, slots=True, eq=False)
class Meets:
    """What the walls of a model meet. room_tops: m, world z of the highest point, by storey and room."""

    roofs: RoofSurfaces
    room_tops: dict[tuple[str, str], float]
    settings: Preparations


@dataclass(frozen=True, slots=True, eq=False)
class _Bay:
    """One cavity that is filled, with its plan and its stud layer."""

    cavity: Cavity
    fill: CavityFill
    taken: LayerTakeoff

    @property
    def layer(self) -> StudLayer:
        return self.taken.frame.layer

    def item(self, kind: PreparationKind, reason: str, length: float = 0.0, area: float = 0.0) -> Preparation:
        """Something to do here. length: m. area: m2."""
        cavity = self.cavity
        return Preparation(
            kind, cavity.storey, cavity.room, self.layer.key, reason, cavity.cavity_id, length=length, area=area
        )


def meets_of(model: Model, settings: Preparations) -> Meets:
    """What a model says about what its walls meet."""
    tops: dict[tuple[str, str], float] = {}
    for space in model.spaces:
        if space.solids:
            key = (space.storey, space.label)
            top = max(float(mesh.vertices[:, 2].max()) for mesh in space.solids)
            tops[key] = max(top, tops.get(key, top))
    return Meets(roof_surfaces(model.roofs), tops, settings)


def prepared(
    results: Sequence[WallTakeoff], plan: FillPlan, meets: Meets
) -> tuple[tuple[Preparation, ...], tuple[Finding, ...]]:
    """Everything that is done before the netting, in the order of the cavities, and findings about walls for which what
    they meet could not be found: these keep what the plan alone asks for."""
    fills = {fill.cavity_id: fill for fill in plan.cavities}
    own: dict[str, list[Preparation]] = {}
    for item in plan_preparations(plan):
        own.setdefault(item.cavity_id, []).append(item)
    items: list[Preparation] = []
    findings: list[Finding] = []
    for wall in results:
        extra: dict[str, list[Preparation]] = {}
        try:
            for item in [each for taken in wall.layers for each in _met(wall, taken, fills, meets)]:
                extra.setdefault(item.cavity_id, []).append(item)
        except WALL_FAULTS as fault:
            findings.append(_not_found(wall, fault))
        for name in [cavity.cavity_id for taken in wall.layers for cavity in taken.cavities]:
            items += own.get(name, ())
            items += extra.get(name, ())
    return tuple(items), tuple(findings)


def _not_found(wall: WallTakeoff, fault: BaseException) -> Finding:
    return Finding(
        "preparations-not-found", Severity.WARNING,
        f"{fault_text('Which baffles, blockers and boxes it needs could not be found', fault)}, and look on site.",
        wall.wall.wall_id, wall.wall.wall_id, wall.wall.ifc_class, wall.wall.name,
    )  # fmt: skip


def _met(wall: WallTakeoff, taken: LayerTakeoff, fills: dict[str, CavityFill], meets: Meets) -> Iterator[Preparation]:
    """What follows from what one stud layer meets."""
    bays = [
        _Bay(cavity, fill, taken)
        for cavity in taken.cavities
        if (fill := fills.get(cavity.cavity_id)) is not None and fill.method not in (Method.NONE, Method.SEAL)
    ]
    if not bays:
        return
    yield from _blockers(bays)
    yield from _baffles(bays, _eaves(wall, taken.frame.layer, meets))
    yield from _boxes(bays)
    yield from _ceilings(bays, meets)


def _elevations(bays: Sequence[_Bay]) -> NDArray[np.float64]:
    """Boxes of bays in elevation: (n, 4) float64, m, x_min, z_min, x_max, z_max."""
    return shapely.bounds(np.array([bay.cavity.outline for bay in bays], dtype=object)).reshape(-1, 4)


# ---------------------------------------------------------------- blockers


def _blockers(bays: Sequence[_Bay]) -> Iterator[Preparation]:
    """Where blown fibre would run out of a bay. Batts stay where they are put."""
    open_sides = bays[0].taken.open_sides
    blown = {bay.cavity.cavity_id: bay for bay in bays if bay.fill.method is Method.BLOW} if open_sides else {}
    for side in open_sides:
        bay = blown.get(side.cavity_id)
        if bay is None:
            continue
        where = "to an opening, where no member closes it," if side.side == "opening" else f"at its {side.side}"
        reason = f"open {where} over {side.length:.3f} m"
        yield bay.item(PreparationKind.BLOCKER, reason, side.length, side.area)


# ---------------------------------------------------------------- eaves


def _eaves(wall: WallTakeoff, layer: StudLayer, meets: Meets) -> tuple[Eave, ...]:
    """Stretches of a stud layer that meet a vented eave: by the job file, else by the roofs of the model."""
    settings = meets.settings
    if not settings.vented_eaves or not wall.wall.external:
        return ()
    named = any(matches(pattern, wall.wall.storey) for pattern in settings.eave_storeys) or any(
        matches(pattern, wall.wall.type_name) for pattern in settings.eave_wall_types
    )
    if named:
        low, _, high, _ = silhouette(layer.outline).bounds
        return (Eave(low, high, "job file"),)
    return eaves_of(layer, meets.roofs)


def _baffles(bays: Sequence[_Bay], eaves: Sequence[Eave]) -> Iterator[Preparation]:
    """One over each bay that ends under the plates of a wall that meets an eave."""
    if not eaves:
        return
    boxes = _elevations(bays)
    tops = tops_at(silhouette(bays[0].layer.outline), 0.5 * (boxes[:, 0] + boxes[:, 2]))
    for bay, (low, _, high, z_max), top in zip(bays, boxes.tolist(), tops.tolist(), strict=True):
        if not z_max >= top - UNDER_PLATES:
            continue
        for eave in eaves:
            length = min(high, eave.high) - max(low, eave.low)
            if length >= NARROWEST_BAFFLE:
                yield bay.item(
                    PreparationKind.EAVE_BAFFLE,
                    f"the wall meets an eave ({eave.words}): keep its air path open above the plate",
                    length,
                )
                break


# ---------------------------------------------------------------- boxes, ceilings


def _boxes(bays: Sequence[_Bay]) -> Iterator[Preparation]:
    """Boxes at the fill face: fibre must not get into them, and the place behind them is missed from the front."""
    boxes = {
        member.member_id: member
        for member in bays[0].taken.frame.members
        if member.role is MemberRole.OBSTRUCTION and is_box(member)
    }
    for bay in bays if boxes else ():
        for name in bay.cavity.obstructions:
            if name in boxes:
                reason = f"mask the front of {_called(boxes[name])}, fill behind it, cut the netting tight round it"
                yield bay.item(PreparationKind.BOX, reason)


def is_box(member: Member) -> bool:
    """Whether an obstruction of another trade is small and comes to the fill face, as boxes for wiring do."""
    if not (is_service(member.element_class, member.element_name) or member.element_class in UNSAID):
        return False
    low, high = bounds(member.solid)
    return bool(low[1] <= AT_FACE and max(high[0] - low[0], high[2] - low[2]) <= LARGEST_BOX)


def _called(member: Member) -> str:
    return member.element_name or member.element_class.removeprefix("Ifc") or member.member_id


def _ceilings(bays: Sequence[_Bay], meets: Meets) -> Iterator[Preparation]:
    """Bays that go on above the ceiling of their room."""
    told = [(bay, meets.room_tops.get((bay.cavity.storey, bay.cavity.room))) for bay in bays]
    known = [(bay, top) for bay, top in told if top is not None]
    if not known:
        return
    boxes = _elevations([bay for bay, _ in known])
    middles = 0.5 * (boxes[:, 0] + boxes[:, 2])
    axes = known[0][0].layer.axes
    feet, heads = (
        axes.to_world(np.column_stack([middles, np.zeros(len(known)), boxes[:, side]]))[:, 2] for side in (1, 3)
    )
    tops = np.array([top for _, top in known])
    for row in np.flatnonzero((feet < tops) & (tops <= heads - meets.settings.ceiling_drop)).tolist():
        drop = float(heads[row] - tops[row])
        reason = f"the room ends {drop:.3f} m below the top of the bay: fill above before its ceiling hangs"
        yield known[row][0].item(PreparationKind.CEILING, reason, float(boxes[row, 2] - boxes[row, 0]))
