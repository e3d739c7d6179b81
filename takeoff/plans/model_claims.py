"""What the model itself declares of its walls: quantity sets, U-values, IsExternal; held against what was found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely

from geometry.solids import moved, silhouette, volume
from takeoff.building import DeclaredQuantity, Model, ModelWall
from takeoff.envelope.walls import Envelope, WallPart
from takeoff.finding import Finding, Severity
from takeoff.job import Job
from takeoff.model import Status, WallTakeoff
from takeoff.plans.claimed_u import causes_of_u, how_u_came_about
from takeoff.plans.comparison import Agreement, Comparison, compared, slip_set_right, unit_slip
from takeoff.units import UnitSystem, format_area, format_volume
from takeoff.wall_tables import opening_area_once
from takeoff.walls.wall_axes import raw_axes

AREAS = ("GrossSideArea", "NetSideArea")
LENGTHS = ("Length", "Height")
CLAIM_U = "Pset_WallCommon.ThermalTransmittance"
CLAIM_EXTERNAL = "Pset_WallCommon.IsExternal"
HIGHEST_U = 10.0
"""W/(m2 K); a sheet of steel between two films of air lets less through (ISO 6946 films: 1/0.17 = 5.9)."""
IMPLAUSIBLE = "transmittance-implausible"
AGAINST_ROOMS = "external-against-rooms"


@dataclass(frozen=True, slots=True, eq=False)
class Claims:
    """What came of everything that the model declares of its walls."""

    comparisons: tuple[Comparison, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """A wall's own sizes by the names of the quantity sets, SI, and its thickness in m."""

    values: Mapping[str, float]
    thickness: float


def model_claims(model: Model, results: Sequence[WallTakeoff], envelope: Envelope, job: Job) -> Claims:
    """Every figure and word that the model carries for a wall against what was measured and worked out."""
    sources = {wall.global_id: wall for wall in model.walls}
    by_wall = envelope.by_wall()
    rows: list[Comparison] = []
    findings: list[Finding] = []
    slipped: dict[str, list[tuple[WallTakeoff, Comparison]]] = {}
    for result in results:
        source = sources.get(result.wall.wall_id)
        if source is None:
            continue
        for row in _quantities(result, source, job):
            rows.append(row)
            slip = _slip(row)
            if slip:
                slipped.setdefault(slip, []).append((result, row))
            elif row.agreement is Agreement.DIFFERS:
                findings.append(_differs(result, row))
        made, said = _transmittance(result, source, by_wall.get(source.global_id, ()), job)
        rows += made
        findings += said
        rows += _external(result, source, has_rooms=bool(model.spaces))
    findings += [_slip_finding(words, found) for words, found in slipped.items()]
    return Claims(tuple(rows), tuple(findings))


# ---------------------------------------------------------------- quantity sets


def _quantities(result: WallTakeoff, source: ModelWall, job: Job) -> Iterator[Comparison]:
    """Side areas, length, height and gross volume of a wall that was measured."""
    wall = result.wall
    if wall.gross_area <= 0.0 or result.status is Status.FAILED:
        return
    measured = _measured(result, source)
    for quantity in source.quantities:
        found = measured.values.get(quantity.name)
        if found is None:
            continue
        tolerance = _tolerance(quantity, wall.height, measured.thickness, job)
        agreement = compared(quantity.value, found, tolerance)
        reason = _cause(quantity, found, measured, result, job) if agreement is Agreement.DIFFERS else ""
        yield Comparison(
            f"quantity set {quantity.name}", None, _SUBJECTS[quantity.name], wall.name or wall.wall_id,
            quantity.value, found, tolerance, quantity.unit, agreement, reason, (wall.wall_id,), (wall.name,),
        )  # fmt: skip


def _cause(quantity: DeclaredQuantity, found: float, measured: _Measured, result: WallTakeoff, job: Job) -> str:
    """What a figure that differs may have been taken for; empty where nothing is seen.

    Behind a slip of the unit there may be a second cause: the figure that has been set right is held against the wall
    once more.
    """
    slip = unit_slip(quantity.value, found, quantity.unit)
    right = slip_set_right(quantity.value, found, quantity.unit)
    if right is None:
        return _taken_for(quantity, found, measured)
    again = replace(quantity, value=right)
    if compared(right, found, _tolerance(again, result.wall.height, measured.thickness, job)) is Agreement.AGREES:
        return f"{SLIP}{slip}"
    why = _taken_for(again, found, measured) or "that still differs"
    return f"{SLIP}{slip}{_BEHIND}{_in_words(right, quantity.unit, job.report.units)}: {why}"


def _in_words(value: float, unit: str, system: UnitSystem) -> str:
    return format_volume(value, system) if unit == "m3" else format_area(value, system)


def _taken_for(quantity: DeclaredQuantity, found: float, measured: _Measured) -> str:
    """Another figure of the wall that this one is; empty where it is none."""
    other = {"GrossSideArea": "NetSideArea", "NetSideArea": "GrossSideArea"}.get(quantity.name, "")
    mistaken = measured.values.get(other)
    if mistaken is not None and abs(quantity.value - mistaken) <= _SAME * mistaken:
        return f"that is the {_SUBJECTS[other]}"
    net = measured.values.get("NetSideArea")
    if quantity.name == "GrossVolume" and net is not None:
        without = found * net / measured.values["GrossSideArea"]
        if abs(quantity.value - without) <= _SAME * without:
            return "that is the volume of the wall, openings deducted"
    return ""


SLIP = "as if "
"""How the reason of a comparison begins where a slip of the unit explains it."""
_BEHIND = "; set right it is "
"""What parts a slip of the unit from what else is wrong with the figure."""
_SAME = 0.005
"""Relative; one figure is taken for another where they agree so far."""
_SUBJECTS: Mapping[str, str] = {
    "GrossSideArea": "wall area, openings not deducted",
    "NetSideArea": "wall area, openings deducted",
    "Length": "length of the wall",
    "Height": "height of the wall",
    "GrossVolume": "volume of the wall, openings not deducted",
}


def _measured(result: WallTakeoff, source: ModelWall) -> _Measured:
    wall = result.wall
    values = {"GrossSideArea": wall.gross_area, "Length": wall.length, "Height": wall.height}
    openings = opening_area_once(result) if result.layers else _opening_area(source)
    if openings is not None:
        values["NetSideArea"] = wall.gross_area - openings
    solid = sum(volume(mesh) for mesh in source.body)
    if solid > 0.0:
        values["GrossVolume"] = solid
    thickness = sum(layer.thickness for layer in source.layers.layers) if source.layers is not None else 0.0
    return _Measured(values, thickness or solid / wall.gross_area)


def _opening_area(source: ModelWall) -> float | None:
    """m2; elevation of the openings of a wall that was not taken off; None where its sides cannot be told."""
    axes = raw_axes(source.body, source.placement, None) if source.body else None
    if axes is None:
        return None
    local = [moved(mesh, axes) for mesh in source.body]
    wall = shapely.union_all([silhouette(mesh) for mesh in local])
    holes = [silhouette(moved(mesh, axes)) for opening in source.openings for mesh in opening.solids]
    return float(shapely.union_all(holes).intersection(wall).area) if holes else 0.0


def _tolerance(quantity: DeclaredQuantity, height: float, thickness: float, job: Job) -> float:
    """Greatest difference that agrees: the job's share, and what the two ends of a wall may add or take.

    Figures are measured along the axis, or along one of the faces: at a corner each end gains or loses half a
    thickness, and a length from corner to corner a whole one.
    """
    limits = job.plan_check
    ends = thickness
    if quantity.name in AREAS:
        return max(limits.area_share * quantity.value, limits.least_area, ends * height)
    if quantity.name in LENGTHS:
        return max(limits.value_share * quantity.value, 2.0 * ends if quantity.name == "Length" else 0.0)
    return max(limits.value_share * quantity.value, ends * height * thickness)


def _slip(row: Comparison) -> str:
    return row.reason.partition(_BEHIND)[0] if row.reason.startswith(SLIP) else ""


def _differs(result: WallTakeoff, row: Comparison) -> Finding:
    wall = result.wall
    name = row.source.removeprefix("quantity set ")
    cause = row.reason or "it may be of an older state, or of a part of the wall"
    return Finding(
        "quantity-disagrees", Severity.WARNING,
        f"The quantity set's {name} is not what the wall's shape gives ({cause}). Take the measured one, and have the "
        "quantities written anew.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, row.found, row.declared, row.unit,
    )  # fmt: skip


def _slip_finding(words: str, found: Sequence[tuple[WallTakeoff, Comparison]]) -> Finding:
    result, row = found[0]
    wall = result.wall
    count = len({each.wall.wall_id for each, _ in found})
    return Finding(
        "quantity-in-another-unit", Severity.WARNING,
        f"Figures in the quantity sets of {count} wall{'s' if count > 1 else ''} look {words}: do not use them, and "
        "have the unit set right in the program that exported the model.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, row.found, row.declared, row.unit,
    )  # fmt: skip


# ---------------------------------------------------------------- U-value and IsExternal


def _transmittance(
    result: WallTakeoff, source: ModelWall, all_parts: Sequence[WallPart], job: Job
) -> tuple[list[Comparison], list[Finding]]:
    declared = source.thermal_transmittance
    if declared is None:
        return [], []
    wall = result.wall
    parts = [part for part in all_parts if part.governing is not None]
    area = sum(part.net for part in parts)
    found = sum(part.net * part.governing.u for part in parts if part.governing) / area if area > 0.0 else None
    tolerance = job.plan_check.value_share * declared
    causes: list[str] = []
    if declared <= 0.0:
        agreement, reason = Agreement.NOT_COMPARED, "the model has no figure in it (0)"
    elif declared > HIGHEST_U:
        agreement, reason = Agreement.DIFFERS, "no wall lets so much through: check the unit in the model"
    elif found is None:
        agreement, reason = Agreement.NOT_COMPARED, result.reason or "no U-value was worked out"
    else:
        agreement = compared(declared, found, tolerance)
        causes = causes_of_u(declared, found, parts)
        reason = "; ".join(causes)
        if agreement is Agreement.DIFFERS and not causes:
            reason = how_u_came_about(declared, found, parts, job.report.units)
    row = Comparison(
        CLAIM_U, None, "U-value of the whole wall", wall.name or wall.wall_id, declared, found, tolerance,
        "W/(m2 K)", agreement, reason, (wall.wall_id,), (wall.name,),
    )  # fmt: skip
    if agreement is not Agreement.DIFFERS:
        return [row], []
    if found is None or declared > HIGHEST_U:
        said = Finding(
            IMPLAUSIBLE, Severity.WARNING,
            f"The model states a U-value that no wall has. {CLAIM_U} is in another unit than it says, or something "
            "else; it was not compared. Have it set right in the model.",
            wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, declared, HIGHEST_U, "W/(m2 K)",
        )  # fmt: skip
        return [row], [said]
    better = "better" if declared < found else "worse"
    said = Finding(
        "transmittance-disagrees", Severity.WARNING,
        f"The model states a {better} U-value for this wall than its layers, its real framing and its fill give"
        f"{f' ({reason})' if causes else ''}. Have the figure in the model or the build-up corrected.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, found, declared, "W/(m2 K)",
    )  # fmt: skip
    return [row], [said]


def _external(result: WallTakeoff, source: ModelWall, *, has_rooms: bool) -> Iterator[Comparison]:
    if source.external is None or not result.layers:
        return
    wall = result.wall
    against = any(finding.code == AGAINST_ROOMS for finding in wall.findings)
    stated = "an outside wall" if source.external else "an inside wall"
    if not has_rooms:
        agreement, reason = Agreement.NOT_COMPARED, f"stated: {stated}; the model has no rooms to tell by"
    elif against:
        agreement, reason = Agreement.DIFFERS, f"stated: {stated}; the rooms beside it speak against that"
    else:
        agreement, reason = Agreement.AGREES, f"stated: {stated}"
    yield Comparison(
        CLAIM_EXTERNAL, None, "outside or inside", wall.name or wall.wall_id, None, None, None, "", agreement, reason,
        (wall.wall_id,), (wall.name,),
    )  # fmt: skip
