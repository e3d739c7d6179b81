"""Which way a wall's depth runs, from its own faces; the placement and the layers only break ties."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from geometry.frames import Axes, across_each, axes_from_directions
from geometry.solids import Mesh

_UP = np.array([0.0, 0.0, 1.0])
_STEEPEST = 0.75
"""A face whose normal rises more than this (about 49 degrees) is a top or a bottom, never the side of a wall."""
_SAME_WAY = 1.0 - 1e-7
"""Cosine above which two normals are one direction (0.026 degrees)."""
_ALIGNED = np.cos(np.radians(3.0))
_ACROSS = 0.5
"""Cosine; a layer direction farther than 60 degrees from the depth does not say which way the layers run."""
_LEAST_SHARE = 0.15
"""A direction counts where its faces have at least this share of the best direction's area."""


def side_directions(meshes: Sequence[Mesh]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Distinct directions of the upright faces, opposite faces together: unit (n, 3) float64 and their areas (n,) m2.

    Ordered by area, largest first.
    """
    corners = np.concatenate([mesh.vertices[mesh.faces] for mesh in meshes])
    normals = across_each(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    doubled = np.sqrt((normals * normals).sum(axis=1))
    usable = (doubled > 1e-10) & (np.abs(normals[:, 2]) <= _STEEPEST * doubled)
    areas = doubled[usable] / 2.0
    normals = normals[usable] / doubled[usable][:, None]
    directions: list[NDArray[np.float64]] = []
    sums: list[float] = []
    left = np.ones(len(areas), dtype=bool)
    for first in np.argsort(-areas, kind="stable"):
        if not left[first]:
            continue
        same = left & (np.abs(normals @ normals[first]) > _SAME_WAY)
        directions.append(normals[first])
        sums.append(float(areas[same].sum()))
        left &= ~same
    order = np.argsort(-np.array(sums), kind="stable") if sums else np.empty(0, dtype=np.int64)
    return np.array(directions).reshape(-1, 3)[order], np.array(sums)[order]


def depth_direction(
    meshes: Sequence[Mesh], placement: NDArray[np.float64], layer_direction: NDArray[np.float64] | None
) -> NDArray[np.float64] | None:
    """Unit direction (3,) across the wall, or None where no upright face says one.

    meshes: the wall's body, or its parts where it has none, in world axes, m. The direction of the layers decides where
    faces lie across it; else the direction in which the whole is thinnest. A direction within rounding of the
    placement's own axis is taken as that axis exactly.
    """
    directions, areas = side_directions(meshes)
    if len(directions) == 0:
        return None
    directions = directions[areas >= _LEAST_SHARE * areas[0]]
    chosen = None
    if layer_direction is not None:
        along = np.abs(directions @ layer_direction)
        if along.max() > _ALIGNED:
            chosen = directions[int(np.argmax(along))]
    if chosen is None:
        points = np.concatenate([mesh.vertices for mesh in meshes])
        points = points - points.mean(axis=0)
        chosen = directions[int(np.argmin(np.ptp(points @ directions.T, axis=0)))]
    return _snapped(chosen, placement)


def _snapped(direction: NDArray[np.float64], placement: NDArray[np.float64]) -> NDArray[np.float64]:
    # Normals come from differences of large coordinates; the placement's axes are written out in the file.
    for axis in (placement[:3, 1], placement[:3, 0]):
        length = float(np.linalg.norm(axis))
        if length > 0.0 and abs(float(direction @ axis)) / length > 1.0 - 1e-11:
            return axis / length * np.sign(direction @ axis)
    return direction


def raw_axes(
    meshes: Sequence[Mesh], placement: NDArray[np.float64], layer_direction: NDArray[np.float64] | None
) -> Axes | None:
    """Axes of a wall before it is known from which side it is filled, y along the layers' direction where it is known.

    The zero lies at the lowest x, y, z of the meshes. None where no depth direction can be told.
    """
    direction = depth_direction(meshes, placement, layer_direction)
    if direction is None:
        return None
    along = 0.0 if layer_direction is None else float(direction @ layer_direction)
    if abs(along) < _ACROSS:
        # Layers stacked along the wall or upwards are a slip of the model: its y is across, as for every wall.
        along = float(direction @ placement[:3, 1])
    if along < 0.0:
        direction = -direction
    points = np.concatenate([mesh.vertices for mesh in meshes])
    axes = axes_from_directions(points[0], direction, _UP)
    return axes.shifted(axes.to_local(points).min(axis=0))
