"""Rough openings: the rectangles that are framed for the holes of a wall, clipped to it and merged where they meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from geometry.solids import polygons_of
from takeoff.finding import Finding, Severity
from takeoff.framing.pieces import LEAST_AREA, Outline, extents, rectangle
from takeoff.model import Opening

_SLIVER = 0.005
"""m; what sticks into the wall less than this is no opening to be framed (our rule)."""
_TOUCHING = 0.001
"""m; holes nearer than this are one rough opening: nothing can stand between them (our rule)."""


@dataclass(frozen=True, slots=True, eq=False)
class RoughOpening:
    """A rectangle in elevation that kings and jacks stand beside, m.

    holes: (n, 4) float64, x_min, z_min, x_max, z_max of each single hole in it (one, unless holes met).
    doors: (n,) bool, whether the hole is filled by a door.
    """

    x_min: float
    z_min: float
    x_max: float
    z_max: float
    holes: NDArray[np.float64]
    doors: NDArray[np.bool_]
    opening_id: str
    name: str

    @property
    def width(self) -> float:
        """m"""
        return self.x_max - self.x_min


def rough_openings(
    part: Polygon, openings: Sequence[Opening], least: float = 0.0
) -> tuple[list[RoughOpening], list[Outline], list[Finding]]:
    """Rough openings of one wall outline, left to right; any shape is framed as its bounding rectangle.

    Also what of openings is too thin to be framed, and the unfilled holes smaller than `least` (m) both ways: members
    keep out of them all the same.
    """
    boxes: list[NDArray[np.float64]] = []
    owners: list[Opening] = []
    slivers: list[Outline] = []
    shapely.prepare(part)
    for opening in openings:
        if opening.solid is not None:
            continue
        inside = shapely.covers(part, opening.outline)
        for shape in polygons_of(opening.outline if inside else shapely.intersection(opening.outline, part)):
            box = extents([shape])[0]
            drilled = not opening.filling_class and max(box[2] - box[0], box[3] - box[1]) < least - 1e-6
            if min(box[2] - box[0], box[3] - box[1]) > _SLIVER and not drilled:
                boxes.append(box)
                owners.append(opening)
            elif shape.area > LEAST_AREA:
                slivers.append(rectangle(*box))
    if not boxes:
        return [], slivers, []
    roughs, findings = _merged(np.array(boxes), owners)
    return roughs, slivers, findings


def _merged(boxes: NDArray[np.float64], owners: list[Opening]) -> tuple[list[RoughOpening], list[Finding]]:
    group = _groups(boxes)
    found: list[RoughOpening] = []
    findings: list[Finding] = []
    for number in np.unique(group):
        members = np.flatnonzero(group == number)
        holes = boxes[members]
        first = owners[members[0]]
        low, high = holes.min(axis=0), holes.max(axis=0)
        doors = np.array(["door" in owners[index].filling_class.lower() for index in members])
        found.append(
            RoughOpening(
                float(low[0]),
                float(low[1]),
                float(high[2]),
                float(high[3]),
                holes,
                doors,
                first.opening_id,
                first.filling_name or first.filling_class,
            )
        )
        names = sorted({owners[index].opening_id for index in members})
        if len(names) > 1:
            findings.append(
                Finding(
                    "openings-merged",
                    Severity.INFO,
                    f"{len(names)} openings overlap or touch and are framed as one; part them in the model if a stud "
                    "stands between them.",
                    element_id=first.opening_id,
                )
            )
    found.sort(key=lambda rough: (rough.x_min, rough.z_min, rough.x_max))
    return found, findings


def _groups(boxes: NDArray[np.float64]) -> NDArray[np.int64]:
    """A group number for each box (n, 4), so that the bounding boxes of two groups never meet. (n,) int64."""
    group = np.arange(len(boxes))
    while True:
        numbers = np.unique(group)
        low = np.array([boxes[group == number, :2].min(axis=0) for number in numbers]) - 0.5 * _TOUCHING
        high = np.array([boxes[group == number, 2:].max(axis=0) for number in numbers]) + 0.5 * _TOUCHING
        meets = (low[:, None] < high[None]).all(axis=2) & (low[None] < high[:, None]).all(axis=2)
        target = numbers[np.argmax(meets, axis=1)]
        if (target == numbers).all():
            return group
        group = target[np.searchsorted(numbers, group)]


def _shared_area(outline: BaseGeometry, hole: BaseGeometry) -> float:
    """m2 of a hole that lie in the outline."""
    if shapely.covers(outline, hole):
        return float(shapely.area(hole))
    return float(shapely.area(shapely.intersection(hole, outline)))


def findings_of_outline(outline: Polygon | shapely.MultiPolygon, openings: Sequence[Opening]) -> list[Finding]:
    """Openings that lie outside the wall, stick out of it, or are recesses that no stud is moved for."""
    findings: list[Finding] = []
    for opening in openings:
        total = opening.outline.area
        inside = _shared_area(outline, opening.outline)
        if opening.solid is not None and inside > LEAST_AREA:
            findings.append(
                Finding(
                    "recess-not-framed",
                    Severity.INFO,
                    "A recess takes part of the depth; the laid-out frame has no members of its own around it.",
                    element_id=opening.opening_id,
                )
            )
            continue
        if inside <= LEAST_AREA:
            code, text = "opening-outside-wall", "The opening lies outside the stud layer and is not framed"
        elif inside < total * (1.0 - 1e-3):
            code, text = (
                "opening-clipped",
                "The opening sticks out of the stud layer and is framed as far as it lies in it",
            )
        else:
            continue
        findings.append(
            Finding(
                code,
                Severity.WARNING,
                f"{text}; check its place in the model.",
                element_id=opening.opening_id,
                measured=float(inside),
                limit=float(total),
                unit="m2",
            )
        )
    return findings
