"""From a framed stud layer to its cavities, slivers and gaps, and the balance of its volumes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.cylinders import Developed
from geometry.tolerances import Tolerances
from geometry.voids import Void, Voids, find_voids
from geometry.widths import inscribed_diameters
from takeoff.cavity_kinds import Bounding, FillLimits, bounding_of, kinds_of, measured, method_of
from takeoff.finding import Finding, Severity
from takeoff.model import Balance, Cavity, CavityKind, Frame, LayerTakeoff, Method
from takeoff.obstructions import NO_OBSTRUCTIONS, Obstructions, holes_of, obstructions_in

BALANCED = 1e-6
"""Largest residual of the volume balance, relative to the gross volume, that passes without a finding."""
_LISTED_GAP = 0.000199
"""m; a sliver thinner than this is rounding between members that touch: it is counted, but no bead can go there."""


@dataclass(frozen=True, slots=True, eq=False)
class CavityPlace:
    """What a stud layer's cavities need to know of the wall around them.

    room_of: world points (n, 3) m beside the fill face -> name of the room at each.
    """

    storey: str
    limits: FillLimits
    room_of: Callable[[NDArray[np.float64]], Sequence[str]]


def take_off_layer(frame: Frame, place: CavityPlace, tolerances: Tolerances) -> LayerTakeoff:
    """Cavities of one stud layer, sliced exactly, with its volume balance."""
    layer = frame.layer
    holes = holes_of(frame)
    solids = [member.solid for member in frame.members]
    stretch = layer.axes.stretch if isinstance(layer.axes, Developed) else None
    found = find_voids(layer.outline, holes, solids, (0.0, layer.depth), tolerances, stretch=stretch)
    bounding = bounding_of(frame.members, frame.openings)
    cavities = (
        *_cavities(frame, found, bounding, place, tolerances),
        *_slivers(frame, found, place),
        *_gaps(frame, place),
    )
    balance = Balance(found.gross, found.holes, found.solids, found.void_volume, found.sliver_volume)
    return LayerTakeoff(
        frame=frame,
        cavities=cavities,
        balance=balance,
        framing_area=found.solids / layer.depth,
        opening_area=found.holes / layer.depth,
        gross_area=found.gross / layer.depth,
        findings=_findings(frame, found, balance),
    )


def _cavities(
    frame: Frame, found: Voids, bounding: Bounding, place: CavityPlace, tolerances: Tolerances
) -> list[Cavity]:
    measures = measured(_numbered(found.voids))
    kinds = kinds_of(measures, bounding, place.limits)
    rooms = _rooms(frame, measures.voids, place)
    touched = obstructions_in(frame, found.looks, measures.voids, tolerances)
    centres = _in_world(frame, measures.voids)
    rows = zip(measures.voids, measures.widths.tolist(), kinds, centres, rooms, touched, strict=True)
    return [
        _record(frame, void, f"c{number:02d}", width, (kind, *method_of(kind, width, place.limits)), centre,
                (place.storey, room), obstructions)
        for number, (void, width, kind, centre, room, obstructions) in enumerate(rows, 1)
    ]  # fmt: skip


def _slivers(frame: Frame, found: Voids, place: CavityPlace) -> list[Cavity]:
    listed = [void for void in _numbered(found.slivers) if _gap_width(void) >= _LISTED_GAP]
    widths = inscribed_diameters([void.outline for void in listed])
    rooms = _rooms(frame, [*listed, *found.voids] if listed else [], place)
    method, reason = method_of(CavityKind.SLIVER, 0.0, place.limits)
    centres = _in_world(frame, listed)
    rows = zip(listed, widths.tolist(), centres, rooms[: len(listed)], strict=True)
    return [
        _record(frame, void, f"s{number:02d}", width, (CavityKind.SLIVER, method, _gap_text(void, reason)), centre,
                (place.storey, room), NO_OBSTRUCTIONS)
        for number, (void, width, centre, room) in enumerate(rows, 1)
    ]  # fmt: skip


def _in_world(frame: Frame, voids: Sequence[Void]) -> list[tuple[float, float, float]]:
    """Centroids of voids in the world, m."""
    if not voids:
        return []
    points = frame.layer.axes.to_world(np.array([void.centroid for void in voids]))
    return [(x, y, z) for x, y, z in points.tolist()]


def _gap_width(void: Void) -> float:
    """Width of a sliver, m: the smallest of its mean sides."""
    return min(_gap_sides(void))


def _gap_sides(void: Void) -> tuple[float, float, float]:
    """Longest side in elevation, mean side across that, and mean depth, m."""
    x_min, z_min, x_max, z_max = void.box
    length = max(x_max - x_min, z_max - z_min)
    area = float(void.outline.area)
    if area <= 0.0 or length <= 0.0:
        return 0.0, 0.0, 0.0
    return length, area / length, void.volume / area


def _gap_text(void: Void, reason: str) -> str:
    sides = _gap_sides(void)
    return f"gap of {min(sides) * 1000:.1f} mm over {max(sides) * 1000:.0f} mm: {reason}"


def _gaps(frame: Frame, place: CavityPlace) -> list[Cavity]:
    """Openings that are only gaps in the frame, listed so that nobody takes them for forgotten bays."""
    known = {opening.opening_id for opening in frame.layer.openings}
    gaps = [opening for opening in frame.openings if opening.opening_id not in known and not opening.outline.is_empty]
    widths = inscribed_diameters([opening.outline for opening in gaps])
    layer = frame.layer
    made: list[Cavity] = []
    for number, opening in enumerate(gaps):
        centre = opening.outline.centroid
        middle = layer.axes.to_world([[centre.x, layer.depth / 2.0, centre.y]])[0]
        method, reason = method_of(CavityKind.OPENING_GAP, 0.0, place.limits)
        words = opening.evidence if opening.beyond_frame else f"{reason}: {opening.evidence}"
        made.append(
            Cavity(
                f"{layer.key}/g{number + 1:02d}", layer.wall_id, layer.key, place.storey, _first(layer.rooms),
                CavityKind.OPENING_GAP, method, words, opening.outline, 0.0, layer.depth,
                float(opening.outline.area), float(opening.outline.area) * layer.depth, float(widths[number]),
                (float(middle[0]), float(middle[1]), float(middle[2])),
            )
        )  # fmt: skip
    return made


def _numbered(voids: Sequence[Void]) -> list[Void]:
    """Left to right, then bottom to top; places within a millimetre count as equal, so rounding changes no number."""

    def place(void: Void) -> tuple[float, float, float]:
        return round(void.box[0], 3), round(void.box[1], 3), round(void.y_min, 3)

    return sorted(voids, key=place)


def _rooms(frame: Frame, voids: Sequence[Void], place: CavityPlace) -> list[str]:
    layer = frame.layer
    if len(layer.rooms) <= 1 or not voids:
        return [_first(layer.rooms)] * len(voids)
    in_front = min((wall_layer.y_min for wall_layer in layer.layers), default=0.0)
    points = np.array([void.centroid for void in voids])
    points[:, 1] = in_front - 0.3
    found = place.room_of(layer.axes.to_world(points))
    return _nearest_named(found, points[:, [0, 2]]) or [_first(layer.rooms)] * len(voids)


def _nearest_named(found: Sequence[str], places: NDArray[np.float64]) -> list[str]:
    """Names (n,), those without one taking that of the nearest void that has one: a pocket in a corner lies before
    another wall, not before a room. places: (n, 2) m, x and z. Empty where none has a name.
    """
    named = np.flatnonzero([bool(name) for name in found])
    if not len(named):
        return []
    away = np.hypot(*(places[:, None] - places[None, named]).transpose(2, 0, 1))
    nearest = named[np.argmin(np.round(away, 6), axis=1)]
    return [name or found[int(other)] for name, other in zip(found, nearest, strict=True)]


def _first(names: Sequence[str]) -> str:
    return names[0] if names else ""


def _record(
    frame: Frame,
    void: Void,
    name: str,
    width: float,
    judged: tuple[CavityKind, Method, str],
    centre: tuple[float, float, float],
    place: tuple[str, str],
    obstructions: Obstructions,
) -> Cavity:
    """centre: in the world, m. place: storey and room."""
    layer = frame.layer
    (storey, room), (kind, method, reason) = place, judged
    return Cavity(
        f"{layer.key}/{name}", layer.wall_id, layer.key, storey, room, kind, method, reason, void.outline,
        void.y_min, void.y_max, float(void.outline.area), void.volume, width, centre, void.front,
        obstructions.ids, obstructions.volumes,
    )  # fmt: skip


def _findings(frame: Frame, found: Voids, balance: Balance) -> tuple[Finding, ...]:
    made: list[Finding] = []
    layer = frame.layer
    if balance.residual > BALANCED:
        made.append(
            Finding(
                "volumes-do-not-balance", Severity.ERROR,
                "Openings, members, cavities and slivers do not add up to the stud layer; do not sign for this wall "
                "before its body and members have been checked in the model.",
                layer.wall_id, measured=balance.residual, limit=BALANCED, unit="of the gross volume",
            )
        )  # fmt: skip
    if not found.looks.exact:
        made.append(
            Finding(
                "sliced-by-quadrature", Severity.INFO,
                "A finely faceted body was sliced at evenly spread depths, so volumes are close but not exact.",
                layer.wall_id,
            )
        )  # fmt: skip
    return tuple(made)
