"""From cavities to what the crew does: how each is filled and why, where each hole goes, what is done by hand.

Holes serve what they reach in a straight line inside the cavity (`geometry.reach`, `takeoff.hose`): a step, a rake or a
brace throws a shadow. The fewest holes that reach a cavity are taken, in rows of one height along a wall where that
costs no hole; studs at the fill face part a cavity into bays that have holes of their own. What no hole reaches is
filled by hand and listed with its volume.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import HAIR, areal, without_idle_points
from takeoff.fill_methods import decide_methods
from takeoff.fill_place import FillPlace, fill_place
from takeoff.finding import Finding, Severity
from takeoff.front_bays import place_holes_by_bays
from takeoff.hole_positions import HoleRule, Placement, has_room, unreached
from takeoff.hole_rows import RowWish
from takeoff.hose import SHORT_HOSE, HoseSettings
from takeoff.model import Cavity, Method, WallTakeoff
from takeoff.plurals import plural

SMALLEST_PART = 1e-3
"""m2; an unreached part below a hand's breadth square (about 3 cm x 3 cm) is not listed by itself."""


class Pass(StrEnum):
    """Lower holes are filled first, then those above them or out of standing reach."""

    LOWER = "lower"
    UPPER = "upper"


@dataclass(frozen=True, slots=True, eq=False)
class Hole:
    """One hole in the netting."""

    cavity_id: str
    number: int
    """From 1 in its cavity, bottom to top, then left to right: also the order of filling."""
    fill_pass: Pass
    x: float
    """m, wall axes"""
    z: float
    """m, wall axes"""
    height: float
    """m above the floor"""
    ladder: bool
    """Above standing reach: from a ladder or stilts."""
    world: tuple[float, float, float]
    """m"""
    diameter: float
    """m"""
    cut: float
    """m; length of the slit"""
    reached: Polygon | MultiPolygon
    """What it reaches of the cavity, wall axes (x, z), m. Reaches of neighbouring holes overlap."""
    reached_area: float
    """m2"""


@dataclass(frozen=True, slots=True, eq=False)
class HandFill:
    """A cavity, or the part of one that no hole reaches, that is not blown."""

    cavity_id: str
    method: Method
    """batt, seal or before_sheathing"""
    reason: str
    outline: Polygon | MultiPolygon
    """Wall axes (x, z), m."""
    area: float
    """m2"""
    volume: float
    """m3; of a part: the cavity's volume by its share of the area."""
    whole: bool
    """True for a whole cavity."""


@dataclass(frozen=True, slots=True)
class CavityFill:
    """How one cavity is filled."""

    cavity_id: str
    wall_id: str
    layer_key: str
    storey: str
    room: str
    method: Method
    reason: str
    n_holes: int
    reached_share: float
    """Part of the elevation that the holes reach, 0 to 1."""
    fewest_proved: bool
    """False where a smaller number of holes could not be ruled out."""
    blown_volume: float
    """m3"""
    hand_volume: float
    """m3; by hand, before sheathing or sealed"""


@dataclass(frozen=True, slots=True)
class Row:
    """Holes of one stud layer at one height."""

    layer_key: str
    z: float
    """m, wall axes"""
    height: float
    """m above the floor"""
    n_holes: int


@dataclass(frozen=True, slots=True, eq=False)
class FillPlan:
    """What is filled how, and where the holes go."""

    hose: HoseSettings
    cavities: tuple[CavityFill, ...]
    holes: tuple[Hole, ...]
    hand_fills: tuple[HandFill, ...]
    rows: tuple[Row, ...]
    findings: tuple[Finding, ...] = ()


def plan_fill(walls: Sequence[WallTakeoff], hose: HoseSettings = SHORT_HOSE) -> FillPlan:
    """The fill plan of all walls, in their order. Walls without a stud layer add nothing."""
    return joined_plans(
        [plan_layer(layer.cavities, fill_place(wall.wall, layer), hose) for wall in walls for layer in wall.layers],
        hose,
    )


def joined_plans(plans: Sequence[FillPlan], hose: HoseSettings) -> FillPlan:
    """The plans of several stud layers as one."""
    return FillPlan(
        hose,
        tuple(cavity for plan in plans for cavity in plan.cavities),
        tuple(hole for plan in plans for hole in plan.holes),
        tuple(part for plan in plans for part in plan.hand_fills),
        tuple(row for plan in plans for row in plan.rows),
        tuple(finding for plan in plans for finding in plan.findings),
    )


def plan_layer(cavities: Sequence[Cavity], place: FillPlace, hose: HoseSettings = SHORT_HOSE) -> FillPlan:
    """The fill plan of the cavities of one stud layer."""
    cavities = _not_behind(cavities, place.before)
    decided = decide_methods(cavities, place, hose)
    blown = [index for index, (method, _) in enumerate(decided) if method is Method.BLOW]
    placed: dict[int, Placement] = {}
    if blown:
        rule = HoleRule(hose.reach, hose.clearance, hose.share, _wish(place, hose))
        outlines, fronts = [cavities[index].outline for index in blown], [cavities[index].front for index in blown]
        close = [shape for depth, shape in place.behind if depth < hose.outside_diameter]
        close = areal(shapely.union_all(close)) if close else Polygon()
        placed = dict(zip(blown, place_holes_by_bays(outlines, fronts, rule, close), strict=True))
    fills: list[CavityFill] = []
    by_hand: list[HandFill] = []
    for index, cavity in enumerate(cavities):
        method, reason = decided[index]
        placement = placed.get(index)
        if placement is not None and not len(placement.points):
            method, reason, placement = Method.BATT, "no place was found for a hole", None
        parts = _by_hand(cavity, method, reason, placement, hose)
        by_hand.extend(parts)
        fills.append(_cavity_fill(cavity, method, reason, placement, parts))
    holes = _holes(cavities, placed, place, hose)
    findings = (*_findings(fills, by_hand, cavities, place, hose), *_out_of_reach(holes, place, hose))
    return FillPlan(hose, tuple(fills), holes, tuple(by_hand), _rows(holes, place), findings)


def _not_behind(cavities: Sequence[Cavity], before: Polygon | MultiPolygon) -> Sequence[Cavity]:
    """Cavities without the part of their front that members stand before."""
    if before.is_empty or not cavities:
        return cavities
    shapely.prepare(before)
    fronts = np.array([cavity.front for cavity in cavities], dtype=object)
    covered = shapely.intersects(before, fronts)
    return [
        replace(cavity, front=_less(cavity.front, before)) if hit else cavity
        for cavity, hit in zip(cavities, covered.tolist(), strict=True)
    ]


def _less(front: Polygon | MultiPolygon, before: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    """A front less what stands before it, without the hairs that two edges on one line leave."""
    return without_idle_points(areal(shapely.difference(front, before)), HAIR)


def _wish(place: FillPlace, hose: HoseSettings) -> RowWish:
    return RowWish(hose.comfortable_height + place.floor, hose.standing_reach + place.floor)


# ---------------------------------------------------------------- records of the result


def _by_hand(
    cavity: Cavity, method: Method, reason: str, placement: Placement | None, hose: HoseSettings
) -> list[HandFill]:
    """The cavity itself where it is not blown, else the parts that its holes do not reach."""
    if method is Method.NONE:
        return []
    if placement is None:
        return [HandFill(cavity.cavity_id, method, reason, cavity.outline, cavity.area, cavity.volume, True)]
    if placement.share >= hose.share:
        return []
    parts = shapely.get_parts(unreached(cavity.outline, placement))
    parts = parts[shapely.area(parts) >= SMALLEST_PART]
    if not len(parts):
        return []
    open_share = shapely.area(shapely.intersection(parts, cavity.front)) / shapely.area(parts)
    thin = ~has_room(parts, 0.5 * hose.hand_width)
    found: list[HandFill] = []
    for part, share, sliver in zip(parts, open_share, thin, strict=True):
        part_method, why = _part_method(float(share), bool(sliver), hose)
        volume = cavity.volume * part.area / cavity.outline.area
        found.append(HandFill(cavity.cavity_id, part_method, why, part, part.area, volume, False))
    return found


def _part_method(open_share: float, sliver: bool, hose: HoseSettings) -> tuple[Method, str]:
    if sliver:
        return Method.SEAL, f"no hole reaches this part, and it is narrower than {hose.hand_width:.3f} m"
    if open_share < hose.hand_front:
        return Method.BEFORE_SHEATHING, "no hole reaches this part, and it is not open on the fill side"
    return Method.BATT, "no hole reaches this part"


def _cavity_fill(
    cavity: Cavity, method: Method, reason: str, placement: Placement | None, parts: Sequence[HandFill]
) -> CavityFill:
    by_hand = min(sum(part.volume for part in parts), cavity.volume)
    blown = placement is not None
    return CavityFill(
        cavity_id=cavity.cavity_id,
        wall_id=cavity.wall_id,
        layer_key=cavity.layer_key,
        storey=cavity.storey,
        room=cavity.room,
        method=method,
        reason=reason,
        n_holes=len(placement.points) if blown else 0,
        reached_share=placement.share if blown else 0.0,
        fewest_proved=len(placement.points) == placement.lower_bound if blown else True,
        blown_volume=cavity.volume - by_hand if blown else 0.0,
        hand_volume=by_hand,
    )


def _lowest_beside(placement: Placement) -> NDArray[np.float64]:
    """Height, m, of the lowest hole in the bay of each hole: (n,)."""
    z = placement.points[:, 1]
    bays = np.array(placement.bays or [0] * len(z), dtype=np.intp)
    return np.array([z[bays == bay].min() for bay in bays.tolist()])


def _holes(
    cavities: Sequence[Cavity], placed: dict[int, Placement], place: FillPlace, hose: HoseSettings
) -> tuple[Hole, ...]:
    """The holes of every cavity in order."""
    if not placed:
        return ()
    order = sorted(placed)
    counts = [len(placed[index].points) for index in order]
    points = np.concatenate([placed[index].points for index in order])
    number = np.concatenate([np.arange(1, count + 1) for count in counts])
    lowest = np.concatenate([_lowest_beside(placed[index]) for index in order])
    world = place.axes.to_world(np.column_stack([points[:, 0], np.zeros(len(points)), points[:, 1]]))
    height = points[:, 1] - place.floor
    ladder = height > hose.standing_reach + 1e-9
    upper = ladder | (points[:, 1] - lowest > hose.throw_up + 1e-9)
    reaches = [shape for index in order for shape in placed[index].reaches]
    names = [cavities[index].cavity_id for index, count in zip(order, counts, strict=True) for _ in range(count)]
    columns = (number, *points.T, height, ladder, upper, shapely.area(np.array(reaches, dtype=object)))
    return tuple(
        Hole(
            cavity_id=name,
            number=number,
            fill_pass=Pass.UPPER if upper else Pass.LOWER,
            x=x,
            z=z,
            height=height,
            ladder=ladder,
            world=(*spot,),
            diameter=hose.outside_diameter,
            cut=hose.cut,
            reached=reached,
            reached_area=area,
        )
        for name, spot, reached, number, x, z, height, ladder, upper, area in zip(
            names, world.tolist(), reaches, *(column.tolist() for column in columns), strict=True
        )
    )


def _rows(holes: Sequence[Hole], place: FillPlace) -> tuple[Row, ...]:
    counts = Counter(round(hole.z, 6) for hole in holes)
    return tuple(Row(place.layer_key, z, z - place.floor, counts[z]) for z in sorted(counts))


ADVICE = {
    Method.BATT: "fill {} by hand before the netting goes up, unless a longer hose reaches it",
    Method.BEFORE_SHEATHING: "fill {} before the wall is sheathed, since it is not open on the fill side",
    Method.SEAL: "seal {}, which is too narrow to fill",
}
"""What is done with a part that no hole reaches, by its method in hand_fills.csv."""


def _what_to_do(parts: Sequence[HandFill]) -> str:
    """The advice for the parts of one cavity, by method; with volumes where there are several methods."""
    volumes = {method: sum(part.volume for part in parts if part.method is method) for method in ADVICE}
    there = {method: volume for method, volume in volumes.items() if volume > 0.0}
    if len(there) == 1:
        return ADVICE[next(iter(there))].format("that part")
    return "; ".join(ADVICE[method].format(f"{volume:.4f} m3") for method, volume in there.items())


def _findings(
    fills: Sequence[CavityFill],
    parts: Sequence[HandFill],
    cavities: Sequence[Cavity],
    place: FillPlace,
    hose: HoseSettings,
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    shallow = [
        cavity.y_max - cavity.y_min
        for cavity, fill in zip(cavities, fills, strict=True)
        if fill.method is Method.BLOW and cavity.y_max - cavity.y_min < hose.outside_diameter - 1e-9
    ]
    if shallow:
        found.append(
            Finding(
                "hose-thicker-than-cavity",
                Severity.INFO,
                f"{plural(len(shallow), 'blown cavity')} of stud layer {place.layer_key} "
                f"{'is' if len(shallow) == 1 else 'are'} shallower than the hose; flatten it, hold it at the "
                "hole, or name a thinner hose in the job file.",
                wall_id=place.wall_id,
                measured=min(shallow),
                limit=hose.outside_diameter,
                unit="m",
            )
        )
    for fill in fills:
        if fill.method is Method.BLOW and fill.hand_volume > 0.0:
            found.append(
                Finding(
                    "cavity-not-reached-by-holes",
                    Severity.WARNING,
                    f"No hole reaches {fill.hand_volume:.4f} m3 of cavity {fill.cavity_id}: "
                    f"{_what_to_do([part for part in parts if part.cavity_id == fill.cavity_id])}.",
                    wall_id=place.wall_id,
                    measured=fill.reached_share,
                    limit=hose.share,
                    unit="",
                )
            )
        if not fill.fewest_proved:
            found.append(
                Finding(
                    "fewest-holes-not-proved",
                    Severity.INFO,
                    f"Cavity {fill.cavity_id} has {plural(fill.n_holes, 'hole')}, and whether fewer would do took too "
                    "long to try; look at its shape before the netting is cut.",
                    wall_id=place.wall_id,
                )
            )
    return tuple(found)


def _out_of_reach(holes: Sequence[Hole], place: FillPlace, hose: HoseSettings) -> tuple[Finding, ...]:
    """Holes that nobody reaches from the room: above a ladder's reach, or below the floor."""
    found: list[Finding] = []
    high = [hole.height for hole in holes if hole.height > hose.ladder_reach + 1e-9]
    if high:
        found.append(
            Finding(
                "hole-beyond-ladder-reach",
                Severity.WARNING,
                f"{plural(len(high), 'hole')} of stud layer {place.layer_key}, up to {max(high):.2f} m above the "
                "floor, cannot be reached from a ladder or stilts; plan a scaffold or a lift, or raise "
                "ladder_reach in the job file.",
                wall_id=place.wall_id,
                measured=max(high),
                limit=hose.ladder_reach,
                unit="m",
            )
        )
    low = [hole.height for hole in holes if hole.height < -1e-9]
    if low:
        storey = f"storey '{place.storey}'" if place.storey else "the nearest storey"
        found.append(
            Finding(
                "hole-below-floor",
                Severity.WARNING,
                f"{plural(len(low), 'hole')} of stud layer {place.layer_key}, up to {-min(low):.2f} m below the "
                f"floor of {storey}, cannot be reached from there; fill there from the storey below before its "
                "ceiling hangs, or have the wall end at the floor in the model.",
                wall_id=place.wall_id,
                measured=min(low),
                limit=0.0,
                unit="m",
            )
        )
    return tuple(found)
