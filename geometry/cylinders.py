"""Bent assemblies rolled out flat: local axes that run along the arc of an upright cylinder.

A point at radius r and angle a about the cylinder's axis has x = R a, y = the radial distance from a face, z = height.
Lengths along x are true at the radius R only. A small volume dx dy dz there stands for dx dy dz r(y) / R in the world
(cylindrical coordinates: r dr da dz); `Developed.stretch` gives that factor.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.solids import Mesh

_MOST_SPLITS = 12
_LEVEL = 1e-9
"""m; a triangle whose corners differ less in height lies level."""
_SAME_RADIUS = 1e-6
"""m; corners of one round face agree within this after tessellation and turning."""


@dataclass(frozen=True, slots=True, eq=False)
class Developed:
    """Axes of a bent assembly, rolled out flat.

    centre: (3,) float64, m, world: the point of the cylinder's axis at local z = 0.
    start: (3,) float64, unit, world, level: from the axis towards x = 0.
    radius: m, at which x is the true arc length. face: m, the radius at which y = 0.
    outward: True where y grows away from the axis. middle: rad, the angle (positive along x) about which points are
        placed: one lies at most half a turn to either side of it.
    The cylinder stands upright: local z is world z. Seen against y, x runs from left to right, as in flat axes.
    """

    centre: NDArray[np.float64]
    start: NDArray[np.float64]
    radius: float
    face: float
    outward: bool
    middle: float

    def __post_init__(self) -> None:
        centre = np.array(self.centre, dtype=np.float64).reshape(3)
        start = np.array(self.start, dtype=np.float64).reshape(3)
        if abs(float(start @ start) - 1.0) > 1e-9 or abs(float(start[2])) > 1e-9:
            raise ValueError("the start of developed axes must be a level unit direction")
        if self.radius <= 0.0 or self.face <= 0.0:
            raise ValueError("the radii of developed axes must be positive")
        centre.flags.writeable = False
        start.flags.writeable = False
        object.__setattr__(self, "centre", centre)
        object.__setattr__(self, "start", start)

    @property
    def _sign(self) -> float:
        return 1.0 if self.outward else -1.0

    @property
    def origin(self) -> NDArray[np.float64]:
        """(3,) float64, m, world. Position of the local zero."""
        return self.centre + self.face * self.start

    @property
    def directions(self) -> NDArray[np.float64]:
        """(3, 3) float64. Row i is the world direction of local axis i at the local zero."""
        return self.directions_at(0.0)

    def directions_at(self, x: float) -> NDArray[np.float64]:
        """(3, 3) float64. Row i is the world direction of local axis i at a place along the arc, m."""
        angle = x / self.radius
        inward_or_out = self._sign * (np.cos(angle) * self.start + np.sin(angle) * self._along)
        up = np.array([0.0, 0.0, 1.0])
        return np.stack([np.cross(inward_or_out, up), inward_or_out, up])

    @property
    def _along(self) -> NDArray[np.float64]:
        """(3,) unit, world: the way that x runs at x = 0."""
        x, y, _ = self.start
        return self._sign * np.array([y, -x, 0.0])

    def to_local(self, points: ArrayLike) -> NDArray[np.float64]:
        """World points (n, 3) in m to local points (n, 3) in m."""
        offset = np.asarray(points, dtype=np.float64) - self.centre
        ahead, aside = offset @ self.start, offset @ self._along
        angle = np.arctan2(aside, ahead)
        angle = np.remainder(angle - self.middle + np.pi, 2.0 * np.pi) - np.pi + self.middle
        depth = self._sign * (np.hypot(ahead, aside) - self.face)
        return np.stack([self.radius * angle, depth, offset[:, 2]], axis=1)

    def to_world(self, points: ArrayLike) -> NDArray[np.float64]:
        """Local points (n, 3) in m to world points (n, 3) in m."""
        x, y, z = np.asarray(points, dtype=np.float64).reshape(-1, 3).T
        angle, reach = x / self.radius, self.face + self._sign * y
        flat = (reach * np.cos(angle))[:, None] * self.start + (reach * np.sin(angle))[:, None] * self._along
        flat[:, 2] += z
        return flat + self.centre

    def stretch(self, depths: ArrayLike) -> NDArray[np.float64]:
        """Arc length in the world per unit of x at depths y (n,), m: (n,) float64, dimensionless."""
        return (self.face + self._sign * np.asarray(depths, dtype=np.float64)) / self.radius

    def shifted(self, offset: ArrayLike) -> Developed:
        """The same cylinder with the zero moved by a local offset (3,), m."""
        dx, dy, dz = np.asarray(offset, dtype=np.float64).tolist()
        angle = dx / self.radius
        start = np.cos(angle) * self.start + np.sin(angle) * self._along
        return replace(
            self,
            centre=self.centre + np.array([0.0, 0.0, dz]),
            start=start / np.linalg.norm(start),
            face=self.face + self._sign * dy,
            middle=self.middle - angle,
        )

    def turned_about(self) -> Developed:
        """The same place seen from the other side: x and y reversed, z kept."""
        return replace(self, outward=not self.outward, middle=-self.middle)

    def true_at(self, depth: float) -> Developed:
        """The same axes with x as the true arc length at a depth, m."""
        return replace(self, radius=self.face + self._sign * depth)


def refined(mesh: Mesh, axes: Developed, chord: float, *, arc_chord: float = 0.0) -> Mesh:
    """The same solid with its edges halved until, rolled out, none bends away from straight by more than `chord`, m.

    Flat faces become bent when they are developed; this gives them the corners to do so. An edge whose ends have one
    radius and whose middle lies at most `arc_chord`, m, inside the arc between them stands for that arc: it needs no
    corner, and where it gets one this lies on the arc.
    """

    def arcs(ends: NDArray[np.float64]) -> NDArray[np.bool_]:
        local, middle = _ends_and_middles(ends, axes)
        level = np.abs(local[:, 0, 1] - local[:, 1, 1]) <= _SAME_RADIUS
        return level & (np.abs(middle[:, 1] - local[:, 0, 1]) <= arc_chord)

    def bends(ends: NDArray[np.float64]) -> NDArray[np.bool_]:
        local, middle = _ends_and_middles(ends, axes)
        return np.linalg.norm(middle - local.mean(axis=1), axis=1) > chord

    def halves(ends: NDArray[np.float64]) -> NDArray[np.float64]:
        local, _ = _ends_and_middles(ends, axes)
        return np.where(arcs(ends)[:, None], axes.to_world(local.mean(axis=1)), ends.mean(axis=1))

    # Edges within level faces cannot make them uneven: alone they are no cause to divide anything.
    ends = mesh.vertices[_edges(_not_level(mesh))[0]]
    if not (bends(ends) & ~arcs(ends)).any():
        return mesh
    return divided(mesh, bends, halves)


def divided(
    mesh: Mesh,
    too_long: Callable[[NDArray[np.float64]], NDArray[np.bool_]],
    halves: Callable[[NDArray[np.float64]], NDArray[np.float64]] = lambda ends: ends.mean(axis=1),
) -> Mesh:
    """The same solid with its edges halved again and again where `too_long` says so of their ends (e, 2, 3), m.

    halves: ends (e, 2, 3) -> new corners (e, 3), m. Edges that two triangles share are halved for both, so that a
    closed mesh stays closed.
    """
    vertices, faces = mesh.vertices, mesh.faces
    for _ in range(_MOST_SPLITS):
        edges, edge_of = _edges(faces)
        ends = vertices[edges]
        cut = np.flatnonzero(too_long(ends))
        if len(cut) == 0:
            break
        middles = np.full(len(edges), -1)
        middles[cut] = len(vertices) + np.arange(len(cut))
        vertices = np.concatenate([vertices, halves(ends[cut])])
        faces = _split(faces, middles[edge_of])
    return Mesh(vertices, faces)


def _ends_and_middles(ends: NDArray[np.float64], axes: Developed) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Ends (e, 2, 3) and middles (e, 3) of world edges (e, 2, 3) in rolled-out axes, m."""
    return axes.to_local(ends.reshape(-1, 3)).reshape(-1, 2, 3), axes.to_local(ends.mean(axis=1))


def _not_level(mesh: Mesh) -> NDArray[np.int64]:
    """Triangles that do not lie level: (m, 3)."""
    return mesh.faces[np.ptp(mesh.vertices[mesh.faces][:, :, 2], axis=1) > _LEVEL]


def _edges(faces: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Distinct edges (e, 2) of triangles (m, 3); and which each triangle has, (m, 3): edge i runs from i to i + 1."""
    pairs = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    edges, edge_of = np.unique(pairs, axis=0, return_inverse=True)
    return edges, edge_of.reshape(-1, 3)


def _split(faces: NDArray[np.int64], middles: NDArray[np.int64]) -> NDArray[np.int64]:
    """Triangles (m, 3) parted at the new corners on their edges: middles (m, 3), -1 where edge i to i + 1 has none."""
    count = (middles >= 0).sum(axis=1)
    made = [faces[count == 0]]
    # Turned so that one cut edge is the first, two cut edges are the first two.
    first = np.where(count == 1, np.argmax(middles >= 0, axis=1), (np.argmin(middles >= 0, axis=1) + 1) % 3)
    turn = (first[:, None] + np.arange(3)) % 3
    corners, cuts = np.take_along_axis(faces, turn, axis=1), np.take_along_axis(middles, turn, axis=1)
    a, b, c = corners[count == 1].T
    ab = cuts[count == 1, 0]
    made += [np.stack([a, ab, c], axis=1), np.stack([ab, b, c], axis=1)]
    a, b, c = corners[count == 2].T
    ab, bc, _ = cuts[count == 2].T
    made += [np.stack(each, axis=1) for each in ([a, ab, c], [ab, bc, c], [ab, b, bc])]
    a, b, c = faces[count == 3].T
    ab, bc, ca = middles[count == 3].T
    made += [np.stack(each, axis=1) for each in ([a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca])]
    return np.concatenate(made)
