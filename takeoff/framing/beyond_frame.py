"""Parts of a wall's body that lie outside its modelled frame: over the top plate, past the last stud, below the sole.

A body often runs on to the slab above, or to the outer corner of the building, while the frame stops before. What lies
beyond the frame's outline and is closed off from its bays by a member is no stud bay: it is listed with its area and
volume, counts with the openings in the volume balance, and nobody pays for filling it. A part that is open to one bay
only and keeps between its sides is the rest of that bay and stays with it. A part that is open to several bays, or runs
on past the one that it is open to, lies where a plate is missing in the model; it joins nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import MultiPolygon, Polygon

from geometry.solids import areal, polygons_of
from geometry.tolerances import DEFAULT_TOLERANCES, Tolerances
from geometry.voids import wide_parts
from takeoff.finding import Finding, Severity
from takeoff.model import Opening

BEYOND = "outside the modelled frame"
"""How the evidence of such a region begins."""
NOTABLE = 0.05
"""m2. A smaller region is told as an information, a larger one as a warning (5 mm over the head of a 10 m wall)."""
_BESIDE = 0.1
"""m; the rest of a bay may reach over the studs beside it (a double stud or a post, cut off lower), no farther."""
_NEXT = 1e-4
"""m; what lies nearer than this to a bay, along more than a sliver's width, is open to it."""


def regions_beyond(
    outline: Polygon | MultiPolygon,
    wall: Polygon | MultiPolygon,
    taken: shapely.Geometry,
    openings: Sequence[Opening],
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> tuple[Opening, ...]:
    """Regions of a wall outside the outline of its frame, as openings with ids 'outside1', 'outside2', ... from left to
    right, then from bottom to top; all in (x, z), m.

    outline: of the frame as far as it lies in the wall. wall: elevation of the stud layer. taken: union of the members'
    silhouettes. openings: all that are known; those through the wall take nothing twice. Strips narrower than a sliver
    are left to the slicer.
    """
    if wall.area - shapely.intersection(outline, wall).area <= tolerances.least_area:
        return ()
    cut = [opening.outline for opening in openings if opening.solid is None and not opening.outline.is_empty]
    rest = areal(shapely.difference(shapely.difference(wall, outline), shapely.union_all(cut)))
    pieces = [piece for piece in wide_parts(rest, tolerances)[0] if piece.area > tolerances.least_area]
    bays = polygons_of(shapely.difference(outline, shapely.union_all([taken, *cut])))
    outside = [
        (piece, len(open_to))
        for piece in pieces
        if not _is_rest_of_bay(piece, open_to := _bays_beside(piece, bays, tolerances))
    ]
    outside.sort(key=lambda one: (round(one[0].bounds[0], 3), round(one[0].bounds[1], 3)))
    return tuple(
        Opening(f"outside{number}", piece, "", "", _evidence(piece, outline, count), beyond_frame=True)
        for number, (piece, count) in enumerate(outside, start=1)
    )


def _bays_beside(piece: Polygon, bays: Sequence[Polygon], tolerances: Tolerances) -> list[Polygon]:
    """The bays of the frame that a region is open to."""
    if not bays:
        return []
    reach = shapely.buffer(piece, _NEXT, join_style="mitre")
    shared = shapely.area(shapely.intersection(bays, reach))
    return [bay for bay, area in zip(bays, shared.tolist(), strict=True) if area > tolerances.closing_width * _NEXT]


def _is_rest_of_bay(piece: Polygon, open_to: Sequence[Polygon]) -> bool:
    """Whether a region is open to one bay and keeps within its width or its height."""
    if len(open_to) != 1:
        return False
    left, low, right, high = piece.bounds
    x_min, z_min, x_max, z_max = shapely.buffer(open_to[0], _BESIDE, join_style="mitre").bounds
    return (left >= x_min and right <= x_max) or (low >= z_min and high <= z_max)


def _evidence(piece: Polygon, outline: Polygon | MultiPolygon, count: int) -> str:
    """Where a region lies to the frame, and what parts it from the bays."""
    x_min, z_min, x_max, z_max = outline.bounds
    left, low, right, high = piece.bounds
    sides = [
        (low >= z_max - (z_max - z_min) / 2.0 and right > x_min and left < x_max, "above it"),
        (high <= z_min + (z_max - z_min) / 2.0 and right > x_min and left < x_max, "below it"),
        (right <= x_min + _NEXT, "before its first member"),
        (left >= x_max - _NEXT, "past its last member"),
    ]
    place = next((words for fits, words in sides if fits), "beside it")
    missing = f", where no plate closes {count} bay{'' if count == 1 else 's'}" if count else ""
    return f"{BEYOND}, {place}{missing}"


def beyond_findings(regions: Sequence[Opening], depth: float) -> list[Finding]:
    """One finding for each region, with its area and its volume. depth: of the stud layer, m."""
    findings: list[Finding] = []
    for region in regions:
        area = float(region.outline.area)
        x_min, z_min, x_max, z_max = region.outline.bounds
        findings.append(
            Finding(
                "outside-frame",
                Severity.WARNING if area > NOTABLE else Severity.INFO,
                f"{area:.3f} m2 ({area * depth:.4f} m3) of the stud layer, from {x_min:.3f} to {x_max:.3f} m along and "
                f"{z_min:.3f} to {z_max:.3f} m up, lies {region.evidence}: it is no stud bay and not counted as one. "
                "Model the members that stand there, or correct the wall's body.",
                element_id=region.opening_id,
                measured=area,
                unit="m2",
            )
        )
    return findings
