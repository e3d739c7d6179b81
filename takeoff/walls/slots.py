"""Where across a wall its rows of studs lie: by the job file, the layers, and the members that stand there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely import Polygon

from geometry.cylinders import Developed
from geometry.frames import LocalAxes
from geometry.solids import Mesh, depth_range
from takeoff.building import ModelOpening, ModelWall
from takeoff.finding import Finding, Severity
from takeoff.framing.frame_depth import depth_of_frame
from takeoff.framing.frame_parts import parts_of_frame
from takeoff.model import Layer, LayerRole
from takeoff.wall_rules import WallRule
from takeoff.walls.layer_places import LayerPlaces
from takeoff.walls.measured import Measured

FEWEST_MEMBERS = 3
"""A frame has at least two uprights and something across them."""
_BOARD = 0.03
"""m; rows of members no farther apart than this may have a board between them that nobody modelled (common practice,
no published source)."""
_SAME_DEPTH = 0.002
"""m; studs and their layer are one depth within this: models round both to a millimetre."""


@dataclass(frozen=True, slots=True)
class Slot:
    """The range of depth that one layer of studs takes, in raw axes, m, and its number among the layers (or None).

    outline: in raw (x, z), m, of a part of the frame that has a depth of its own; None where it is the whole wall's.
    """

    low: float
    high: float
    number: int | None
    outline: Polygon | None = None


def slots_of(measured: Measured, places: LayerPlaces, framing: list[Mesh]) -> tuple[list[Slot], list[Finding]]:
    """Depth ranges of the stud layers, in raw axes: by the job file, the layers, and the members that stand there."""
    rule = measured.rule
    numbers = places.stud_numbers
    if rule.stud_depth is not None:
        slot = _stated_slot(measured, places, rule)
        reach = slot.high - slot.low
        return [slot], [] if reach > rule.stud_depth - _SAME_DEPTH else [
            _clipped(measured.wall, rule.stud_depth, reach)
        ]
    if not framing:
        return [Slot(places.layers[n].y_min, places.layers[n].y_max, n) for n in numbers], []
    if not numbers:
        # Nothing says which layer the studs are in: the members do, and any layers lie before or behind them.
        slots = _framed(measured, framing)
        told = [*_parts_told(measured.wall, slots), *_rows_told(measured.wall, slots, framing)]
        return [replace(slot, number=_layer_at(places, (slot.low + slot.high) / 2.0)) for slot in slots], told
    slots, findings = [], []
    for number in numbers:
        layer = places.layers[number]
        here = [mesh for mesh in framing if _centre_in(mesh, layer)]
        if len(here) < FEWEST_MEMBERS:
            slots.append(Slot(layer.y_min, layer.y_max, number))
            continue
        framed = [replace(slot, number=number) for slot in _framed(measured, here)]
        for depth in dict.fromkeys(slot.high - slot.low for slot in framed):
            if abs(depth - layer.thickness) > _SAME_DEPTH:
                findings.append(_studs_not_as_layer(measured.wall, depth, layer.thickness))
        findings += _parts_told(measured.wall, framed)
        slots += framed
    return slots, findings


def _framed(measured: Measured, framing: list[Mesh]) -> list[Slot]:
    """Where members stand; one slot for each part of the frame that has a depth of its own.

    A body says itself how deep the wall is behind a shallow frame, so it has no such parts.
    """
    if not measured.body and not isinstance(measured.axes, Developed):
        parts = parts_of_frame(framing)
        if parts:
            return [Slot(part.low, part.high, None, part.outline) for part in parts]
    return [Slot(*depth_of_frame(framing), None)]


def _rows_told(wall: ModelWall, slots: Sequence[Slot], framing: Sequence[Mesh]) -> list[Finding]:
    """A finding where a stud layer holds rows of members that nothing joins across it: nobody says what parts them."""
    found: list[Finding] = []
    for slot in slots:
        ranges = sorted(depth_range(mesh) for mesh in framing)
        inside = [(low, high) for low, high in ranges if high > slot.low and low < slot.high]
        reached, widest = slot.low, 0.0
        for low, high in inside:
            widest = max(widest, low - reached)
            reached = max(reached, high)
        if widest > _SAME_DEPTH:
            found.append(
                Finding(
                    "rows-taken-as-one", Severity.WARNING if widest <= _BOARD else Severity.INFO,
                    f"{wall.name or wall.global_id} has rows of members {widest:.3f} m apart across the wall, and no "
                    "layer says where its studs are: they were taken for one cavity "
                    f"{slot.high - slot.low:.3f} m deep, open between them. If a board parts them, give the wall its "
                    "layers.",
                    wall.global_id, wall.global_id, wall.ifc_class, wall.name, measured=widest, unit="m",
                )
            )  # fmt: skip
    return found


def _stated_slot(measured: Measured, places: LayerPlaces, rule: WallRule) -> Slot:
    """A stud layer as deep as the job file says, as if it were filled from the low side; see `from_fill_side`."""
    low, high = measured.box[:, 1].tolist()
    depth = min(rule.stud_depth or 0.0, high - low)
    number = next(iter(places.stud_numbers), None)
    start = low + (rule.stud_offset or 0.0)
    if rule.stud_offset is None and number is not None:
        start = places.layers[number].y_min
    start = min(start, high - depth)
    return Slot(start, start + depth, number)


def from_fill_side(slot: Slot, side: int, measured: Measured, places: LayerPlaces) -> Slot:
    """A slot that the job file states is measured from the side that is filled from."""
    rule = measured.rule
    if rule.stud_depth is None or side == 0:
        return slot
    low, high = measured.box[:, 1].tolist()
    end = high - (rule.stud_offset or 0.0)
    if rule.stud_offset is None and places.stud_numbers:
        end = places.layers[places.stud_numbers[-1]].y_max
    depth = slot.high - slot.low
    end = max(end, low + depth)
    return Slot(end - depth, end, slot.number)


def openings_by_slot(
    openings: Sequence[ModelOpening], axes: LocalAxes, slots: Sequence[Slot]
) -> list[tuple[ModelOpening, ...]]:
    """The openings (world axes) that concern each slot: all, but for a part of a frame only those that lie in it.

    One that lies in no part goes to the first, which tells it.
    """
    shares: list[list[ModelOpening]] = [[] for _ in slots]
    if all(slot.outline is None for slot in slots):
        return [tuple(openings) for _ in slots]
    for opening in openings:
        place = _place_of(opening, axes)
        here = [slot.outline is None or slot.outline.intersection(place).area > 0.0 for slot in slots]
        for number, (share, lies) in enumerate(zip(shares, here, strict=True)):
            if lies or (number == 0 and not any(here)):
                share.append(opening)
    return [tuple(share) for share in shares]


def _place_of(opening: ModelOpening, axes: LocalAxes) -> Polygon:
    """The box around an opening in (x, z) of the axes, m; empty where it has no shape."""
    if not opening.solids:
        return Polygon()
    points = axes.to_local(np.concatenate([solid.vertices for solid in opening.solids]))
    (x_min, _, z_min), (x_max, _, z_max) = points.min(axis=0), points.max(axis=0)
    return shapely.box(x_min, z_min, x_max, z_max)


def _layer_at(places: LayerPlaces, y: float) -> int | None:
    return next((n for n, layer in enumerate(places.layers) if layer.y_min <= y <= layer.y_max), None)


def _centre_in(mesh: Mesh, layer: Layer) -> bool:
    low, high = depth_range(mesh)
    return layer.y_min - 0.001 <= (low + high) / 2.0 <= layer.y_max + 0.001


def spaces_between(wall: ModelWall, slots: Sequence[Slot], places: LayerPlaces) -> list[Finding]:
    """A finding for each space between two rows of studs that holds nothing but air: fibre may be meant to fill it."""
    found: list[Finding] = []
    for near, far in pairwise(sorted(slots, key=lambda slot: slot.low)):
        if near.number is None or far.number is None or near.outline is not None or far.outline is not None:
            continue
        between = places.layers[near.number + 1 : far.number]
        width = sum(layer.thickness for layer in between)
        if width > 0.0 and all(layer.role is LayerRole.AIR for layer in between):
            found.append(_space_between(wall, width, far.high - near.low))
    return found


def _parts_told(wall: ModelWall, slots: Sequence[Slot]) -> list[Finding]:
    """A finding where the frame of a wall was parted by its depths."""
    if len(slots) < 2:
        return []
    depths = [slot.high - slot.low for slot in slots]
    listed = ", ".join(f"{depth * 1000:.0f}" for depth in depths)
    return [
        Finding(
            "frame-of-several-depths", Severity.INFO,
            f"The frame has {len(slots)} parts beside or above each other, {listed} mm deep: each is a stud layer of "
            "its own, and nothing is counted behind the shallower studs.",
            wall.global_id, wall.global_id, wall.ifc_class, wall.name, min(depths), max(depths), "m",
        )
    ]  # fmt: skip


def _space_between(wall: ModelWall, width: float, depth: float) -> Finding:
    return Finding(
        "space-between-studs", Severity.WARNING,
        f"Between two rows of its studs lie {width * 1000:.0f} mm of air that are not counted. If fibre fills them "
        f"too, state stud_depth = '{depth * 1000:.0f} mm' and framing = 'double-stud' for this wall in the job file.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, width, None, "m",
    )  # fmt: skip


def _clipped(wall: ModelWall, stated: float, reach: float) -> Finding:
    return Finding(
        "stud-depth-beyond-wall", Severity.WARNING,
        f"The job file states studs {stated * 1000:.0f} mm deep, but the wall's body is only {reach * 1000:.0f} mm "
        "thick; that much was taken. Mend the stud_depth of this wall in the job file.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, stated, reach, "m",
    )  # fmt: skip


def _studs_not_as_layer(wall: ModelWall, studs: float, layer: float) -> Finding:
    return Finding(
        "studs-not-as-deep-as-layer", Severity.INFO,
        f"The members in the model are {studs * 1000:.1f} mm deep, their layer is {layer * 1000:.1f} mm; the members "
        "were followed.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, studs, layer, "m",
    )  # fmt: skip
