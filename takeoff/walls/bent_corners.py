"""A bent wall put together from its straight lengths; at square corners one runs through, as framers build them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from geometry.solids import Mesh, Prism, areal, depth_range, silhouette, volume, without_idle_points
from takeoff.finding import Finding, Severity
from takeoff.model import StudLayer, Wall
from takeoff.walls.faceted import Joint, Parted
from takeoff.walls.stud_layers import with_zero_moved

_SAME_VOLUME = 1e-9
"""Relative; square corners are made only where they leave the volume as it is."""
_SNAP = 1e-6
"""m; corners on one face of the studs agree within this."""


def put_together(walls: Sequence[Wall], bent: Parted) -> Wall:
    """One wall of the model from its straight lengths, in their order."""
    outside = next((wall for wall in walls if wall.external), walls[0])
    filled = next((wall for wall in walls if wall.insulated), walls[0])
    taken = next((wall for wall in walls if wall.stud_layers), walls[0])
    layers = tuple(layer for own in with_square_corners(walls, bent.joints) for layer in own)
    findings = tuple(dict.fromkeys(finding for wall in walls for finding in wall.findings))
    note = (_parted(taken, len(walls)),) if layers else ()
    return replace(
        taken,
        external=outside.external,
        external_reason=outside.external_reason,
        insulated=filled.insulated,
        insulated_reason=filled.insulated_reason,
        length=bent.length,
        height=max(wall.height for wall in walls),
        gross_area=sum(wall.gross_area for wall in walls),
        stud_layers=layers,
        findings=(*findings, *note),
    )


def with_square_corners(walls: Sequence[Wall], joints: Sequence[Joint]) -> list[tuple[StudLayer, ...]]:
    """The stud layers of each length. Where all corners are square, one length runs through and the other butts.

    That is how such a corner is framed; parted along its bisector it would hold two wedges that no stud fits. Corners
    at other angles stay mitred, and so do all where a top cut aslant would make the volume another.
    """
    given = [wall.stud_layers for wall in walls]
    counts = {len(layers) for layers in given}
    if counts == {0} or len(counts) != 1 or not joints or not all(joint.square for joint in joints):
        return given
    made = [
        tuple(_squared(layer, number, joints) for layer in layers) if layers else layers
        for number, layers in enumerate(given)
    ]
    before, after = (sum(volume(layer.outline) for own in part for layer in own) for part in (given, made))
    return made if abs(after - before) <= _SAME_VOLUME * before else given


def _squared(layer: StudLayer, number: int, joints: Sequence[Joint]) -> StudLayer:
    """A stud layer as a prism: as long as its longest depth where it runs through, as its shortest where it butts."""
    outline = layer.outline
    if not isinstance(outline, Mesh):
        return layer
    whole = silhouette(outline)
    left, foot, right, top = whole.bounds
    middle = 0.5 * (left + right)
    x, y = outline.vertices[:, 0], outline.vertices[:, 1]
    faces = [x[np.abs(y - depth) <= _SNAP] for depth in depth_range(outline)]
    start, stop = max(float(face.min()) for face in faces), min(float(face.max()) for face in faces)
    for joint in joints:
        if joint.first == number:
            at = float(layer.axes.to_local([[*joint.place, float(layer.axes.origin[2])]])[0, 0])
            start, stop = (left, stop) if at < middle else (start, right)
    shape = areal(shapely.intersection(whole, shapely.box(start, foot, stop, top)))
    squared = replace(layer, outline=Prism(without_idle_points(shape), 0.0, layer.depth))
    return with_zero_moved(squared, shape.bounds[0], shape.bounds[1])


def _parted(wall: Wall, lengths: int) -> Finding:
    return Finding(
        "bent-wall-parted", Severity.INFO,
        f"The wall is bent in plan: each of its {lengths} straight lengths is a stud layer of its own, and they are "
        "parted at their corners.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, float(lengths), None, "",
    )  # fmt: skip
