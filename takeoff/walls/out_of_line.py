"""A frame that stands turned in its wall's body: the frame then says where the wall runs.

The bays lie between the faces of the studs. Were they measured between the faces of a body that runs at another angle,
a wedge before and behind the whole frame would join them all.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from geometry.frames import Axes
from takeoff.building import ModelWall
from takeoff.finding import Finding, Severity
from takeoff.walls.measured import Measured, Site, frame_solids, measured_in
from takeoff.walls.slots import FEWEST_MEMBERS
from takeoff.walls.wall_axes import raw_axes

MOST_TURNED = np.radians(3.0)
"""Parts turned further than this in their wall are not its frame drawn out of line; they are left as they are."""
_PLAIN = 100
"""Faces; a body with more is no plain member."""
_STRAYS = 0.5
"""Share of the sliver depth by which a frame may stray over its length: gaps up to that are closed anyway."""


def along_its_frame(measured: Measured, site: Site) -> tuple[Measured, tuple[Finding, ...]]:
    """The wall measured along its own modelled frame where that stands a little turned in the body, with a finding.

    The body then counts no more: the outline is that of the frame, as in a wall that has no body.
    """
    wall = measured.wall
    if not wall.body or measured.rule.read_frame is False:
        return measured, ()
    axes = _frame_axes(wall)
    if axes is None:
        return measured, ()
    sine = abs(float(np.dot(axes.directions[1], measured.axes.directions[0])))
    length = float(measured.box[1, 0] - measured.box[0, 0])
    if sine > np.sin(MOST_TURNED) or sine * length <= _STRAYS * site.job.tolerances.sliver_depth:
        return measured, ()
    told = _told(wall, float(np.degrees(np.arcsin(sine))))
    return measured_in(axes, replace(wall, body=()), measured.rule, site), (told,)


def _frame_axes(wall: ModelWall) -> Axes | None:
    """Axes of a wall's own members, None where they are too few for a frame; round bodies say nothing."""
    solids = [mesh for mesh in frame_solids(wall.parts) if len(mesh.faces) <= _PLAIN]
    if len(solids) < FEWEST_MEMBERS:
        return None
    return raw_axes(solids, wall.placement, wall.layers.direction if wall.layers is not None else None)


def _told(wall: ModelWall, degrees: float) -> Finding:
    return Finding(
        "frame-out-of-line", Severity.WARNING,
        f"Its modelled frame stands {degrees:.2g} degrees turned in its body; the wall was measured along the frame, "
        "and its area is that of the frame. Have both drawn in one line.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, measured=degrees, unit="deg",
    )  # fmt: skip
