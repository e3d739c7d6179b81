"""Flaws of a modelled frame that the estimator should know of, each as a finding."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from takeoff.building import ModelPart
from takeoff.finding import Finding, Severity
from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.member_shapes import Shapes
from takeoff.model import Opening, StudLayer

INTRUSION = 0.025
"""m. A member may reach this far into an opening (packing, a door frame drawn too large) without crossing it."""
WHOLE = 0.98
"""Share of the wall's elevation from which on a frame counts as complete."""
MOST_NAMED = 3


def member_finding(code: str, severity: Severity, message: str, part: ModelPart, member_id: str) -> Finding:
    """A finding about one solid; the message starts with what the element is called."""
    called = f"{part.ifc_class or 'Element'} {member_id}" + (f" '{part.name}'" if part.name else "")
    return Finding(
        code,
        severity,
        f"{called} {message}",
        element_id=part.global_id,
        element_class=part.ifc_class,
        element_name=part.name,
    )


def crossing_findings(
    shapes: Shapes, ids: Sequence[str], openings: Sequence[Opening], settings: FrameSettings
) -> list[Finding]:
    """One finding for each opening that members of the frame cross.

    shapes: members that are framing. ids: (n,) member ids.
    """
    findings: list[Finding] = []
    for opening in openings:
        core = shapely.buffer(opening.outline, -INTRUSION, join_style="mitre")
        if opening.solid is not None or core.is_empty or len(shapes) == 0:
            continue
        area = shapely.area(shapely.intersection(shapes.silhouettes, core))
        rows = np.flatnonzero(area > settings.touch**2).tolist()
        if rows:
            share = float(area[rows].sum()) / core.area
            findings.append(
                Finding(
                    "member-crosses-opening",
                    Severity.WARNING,
                    f"The opening {opening.opening_id} does not coincide with a gap in the frame: "
                    f"{_listed([ids[row] for row in rows])} cross{'es' if len(rows) == 1 else ''} it; the opening was "
                    "kept and the members were not cut. Move the opening or the members.",
                    element_id=opening.opening_id,
                    element_class=opening.filling_class,
                    element_name=opening.filling_name,
                    measured=share,
                )
            )
    return findings


def incomplete_finding(
    frame: Polygon | MultiPolygon, wall: Polygon | MultiPolygon, settings: FrameSettings
) -> list[Finding]:
    """A finding where the frame covers only part of the wall's elevation, with the share and where it is missing."""
    if wall.area <= 0.0:
        return []
    share = shapely.intersection(frame, wall).area / wall.area
    if share >= WHOLE:
        return []
    bare = shapely.buffer(shapely.difference(wall, frame), -settings.touch / 2.0)
    x_min, z_min, x_max, z_max = bare.bounds if not bare.is_empty else wall.bounds
    return [
        Finding(
            "frame-incomplete",
            Severity.WARNING,
            f"The modelled members frame only {share:.0%} of the wall's elevation; the rest, between {x_min:.2f} and "
            f"{x_max:.2f} m along and {z_min:.2f} and {z_max:.2f} m up, has none (outside-frame tells each part). "
            "Model the missing members or correct the wall's body.",
            measured=share,
            limit=WHOLE,
        )
    ]


def depth_findings(
    shapes: Shapes, parts: Sequence[ModelPart], ids: Sequence[str], layer: StudLayer, settings: FrameSettings
) -> list[Finding]:
    """One finding for all members that stick out of the stud layer, with the longest way out, and one for those of
    which the greater part lies outside: plates and studs of a wall that meets this one.

    Parts of other walls are left to their own finding: they say nothing of the depth of this layer.
    """
    out = np.maximum(-shapes.low[:, 1], shapes.high[:, 1] - layer.depth)
    own = np.array([part.wall_id in ("", layer.wall_id) for part in parts], dtype=bool)
    inside = np.minimum(shapes.high[:, 1], layer.depth) - np.maximum(shapes.low[:, 1], 0.0)
    passing = inside < 0.5 * (shapes.high[:, 1] - shapes.low[:, 1])
    rows = np.flatnonzero(own & (out > max(0.005, settings.outside)))
    return [
        _depth_finding([row for row in rows.tolist() if passing[row] == through], out, parts, ids, through=through)
        for through in (False, True)
        if (passing[rows] == through).any()
    ]


def _depth_finding(
    rows: Sequence[int], out: NDArray[np.float64], parts: Sequence[ModelPart], ids: Sequence[str], *, through: bool
) -> Finding:
    worst = max(rows, key=lambda row: float(out[row]))
    named = _listed([f"{ids[row]} '{parts[row].name}'" if parts[row].name else ids[row] for row in rows])
    s = "s" if len(rows) == 1 else ""
    if through:
        message = (
            f"{named} reach{'es' if s else ''} into the stud layer from outside it, as members of a wall that meets it "
            f"do; what lies inside it is counted, here and in that wall. Have {'it' if s else 'them'} end where the "
            "walls meet, if they should."
        )
    else:
        message = (
            f"{named} stick{s} out of the stud layer by up to {out[worst]:.3f} m; only what lies inside it is counted. "
            "Check the depth of the stud layer."
        )
    return Finding(
        "member-beyond-stud-layer",
        Severity.INFO,
        message,
        element_id=parts[worst].global_id,
        element_class=parts[worst].ifc_class,
        element_name=parts[worst].name,
        measured=float(out[worst]),
        limit=0.0,
        unit="m",
    )


def shared_part_findings(parts: Sequence[ModelPart], wall_id: str) -> list[Finding]:
    """A finding for each element that belongs to another wall and reaches into this one."""
    seen: dict[str, ModelPart] = {}
    for part in parts:
        if part.wall_id and part.wall_id != wall_id:
            seen.setdefault(part.global_id, part)
    return [
        member_finding(
            "part-of-another-wall",
            Severity.INFO,
            f"belongs to wall {part.wall_id} and reaches into this one; it is counted in the depth of both.",
            part,
            part.global_id,
        )
        for part in seen.values()
    ]


def _listed(names: Sequence[str]) -> str:
    """Up to MOST_NAMED names and how many more."""
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
